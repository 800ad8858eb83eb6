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
from numpy.typing import NDArray

from solver.fem.level_search import LevelProblem, LevelResult
from solver.fem.reduced_model import Sweep

Array = NDArray[np.float64]
Answer = Callable[[Array], NDArray[np.complex128]]

#: What a slow tail leaves, over the order and over the last change.
TAIL = 4.0


@dataclass(frozen=True, eq=False)
class LossDoubt:
    """Bounds on the error that the discretisation leaves in S with walls that lose power.

    Parameters
    ----------
    share : callable
        Of what the walls change of S, at frequencies (n,) [Hz].
    whole : callable
        Of all of S: about a sharp resonance, which the walls may damp away, S without them
        says nothing.
    """

    share: Callable[[Array], Array]
    whole: Callable[[Array], Array]


def loss_doubt(
    problem: LevelProblem,
    found: LevelResult,
    lossy_answer: Callable[[Sweep, int], Answer],
) -> LossDoubt:
    """Bound what the discretisation leaves open with walls that lose power.

    Parameters
    ----------
    problem : LevelProblem
    found : LevelResult
        Lossless, with the sweep of the next lower order.
    lossy_answer : callable
        Gives, for a sweep and its order, S with walls at frequencies (n,) [Hz].

    Returns
    -------
    LossDoubt

    Raises
    ------
    ValueError
        Without the sweep of the next lower order.
    """
    if found.before is None:
        raise ValueError("the doubt of wall loss needs the sweep of the next lower order")
    sweeps = ((found.before, found.order - 1), (found.last, found.order))
    lossy = [lossy_answer(sweep, order) for sweep, order in sweeps]

    def tail(squared: Array, change: NDArray[np.complex128]) -> Array:
        moved = np.where(problem.counted(squared), np.abs(change), 0.0)
        return np.asarray(TAIL * found.order * moved.reshape(len(squared), -1).max(axis=1))

    def share(frequency: Array) -> Array:
        squared = problem.squared_at(frequency)
        before, last = (
            answer(frequency)
            - problem.scattering(found.mesh, sweep.model.impedance(squared), squared)
            for answer, (sweep, _) in zip(lossy, sweeps, strict=True)
        )
        return tail(squared, last - before)

    def whole(frequency: Array) -> Array:
        before, last = (answer(frequency) for answer in lossy)
        return tail(problem.squared_at(frequency), last - before)

    return LossDoubt(share, whole)
