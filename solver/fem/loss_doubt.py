"""What a discretisation leaves open of the power that walls take, as part of the error bar.

At an edge of 270 degrees of field the wall currents go as r^(-1/3), so that their squares converge
as p^(-2/3) with the order p once the innermost cells are what is left, far slower than S without
loss: what is left is 1.5 p times the last change. It is taken 4 p times, which covers edges of up
to 320 degrees; at parts without edges the last change is next to nothing.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from geometries.arrays import Array, ComplexArray
from solver.fem.level_ladder import LevelResult
from solver.fem.level_problem import LevelProblem
from solver.fem.reduced_model import Sweep

Answer = Callable[[Array], ComplexArray]

#: What a slow tail leaves, over the order and over the last change.
TAIL = 4.0


@dataclass(frozen=True, eq=False)
class LossyAnswer:
    """S with walls that lose power, and what the discretisation leaves open of it.

    Parameters
    ----------
    s : (n, m, m) complex array
    share : (n,) array
        Bound on the error of what the walls change of S.
    whole : (n,) array
        Bound on the error of all of S: about a sharp resonance, which the walls may damp away,
        S without them says nothing.
    """

    s: ComplexArray
    share: Array
    whole: Array


def lossy_answer(
    problem: LevelProblem,
    found: LevelResult,
    with_walls: Callable[[Sweep, int], Answer],
    smooth: bool = False,
) -> Callable[[Array], LossyAnswer]:
    """Give S with walls that lose power, with its bounds, at any frequencies of the band.

    Parameters
    ----------
    problem : LevelProblem
    found : LevelResult
        Lossless, with the sweep of the next lower order.
    with_walls : callable
        Gives, for a sweep and its order, S with walls at frequencies (n,) [Hz].
    smooth : bool
        No edge makes the currents singular: they converge geometrically, at half the rate of S,
        so that four times the last change bounds what is left.

    Returns
    -------
    callable
        Gives a `LossyAnswer` at frequencies (n,) [Hz].

    Raises
    ------
    ValueError
        Without the sweep of the next lower order.
    """
    if found.before is None:
        raise ValueError("the doubt of wall loss needs the sweep of the next lower order")
    slow = TAIL if smooth else TAIL * found.order
    models = (found.before.model, found.last.model)
    levels = (with_walls(found.before, found.order - 1), with_walls(found.last, found.order))

    def at(frequency: Array) -> LossyAnswer:
        squared = problem.squared_at(frequency)
        counted = problem.counted(squared)

        def tail(change: ComplexArray) -> Array:
            moved = np.where(counted, np.abs(change), 0.0)
            return np.asarray(slow * moved.reshape(len(squared), -1).max(axis=1))

        before, last = (level(frequency) for level in levels)
        before_without, last_without = (
            problem.scattering(found.mesh, model.impedance(squared), squared) for model in models
        )
        share = tail((last - last_without) - (before - before_without))
        return LossyAnswer(last, share, tail(last - before))

    return at
