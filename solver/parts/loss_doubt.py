"""What a discretisation leaves open of the power that walls take, as part of the error bar.

At an edge of 270 degrees of field the wall currents go as r^(-1/3), so that their squares converge
as p^(-2/3) with the order p once the innermost cells are what is left, far slower than S without
loss: what is left is 1.5 p times the last change. It is taken 4 p times, which covers edges of up
to 320 degrees; at parts without edges the last change is next to nothing.
"""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
from numpy.typing import NDArray

from solver.fem.level_search import LevelProblem, LevelResult
from solver.fem.reduced_model import Sweep

Array = NDArray[np.float64]
Answer = Callable[[Array], NDArray[np.complex128]]

#: What a slow tail leaves, over the order and over the last change.
TAIL = 4.0


def loss_doubt(
    problem: LevelProblem,
    found: LevelResult,
    lossy_answer: Callable[[Sweep, int], Answer],
) -> Callable[[Array], Array]:
    """Bound on the error that the discretisation leaves in what the walls change of S.

    Parameters
    ----------
    problem : LevelProblem
    found : LevelResult
        Lossless, with the sweep of the next lower order.
    lossy_answer : callable
        Gives, for a sweep and its order, S with walls at frequencies (n,) [Hz].

    Returns
    -------
    callable
        Gives the bound (n,) at frequencies (n,) [Hz].

    Raises
    ------
    ValueError
        Without the sweep of the next lower order.
    """
    if found.before is None:
        raise ValueError("the doubt of wall loss needs the sweep of the next lower order")
    sweeps = ((found.before, found.order - 1), (found.last, found.order))
    lossy = [lossy_answer(sweep, order) for sweep, order in sweeps]

    def doubt(frequency: Array) -> Array:
        squared = problem.squared_at(frequency)
        before, last = (
            answer(frequency)
            - problem.scattering(found.mesh, sweep.model.impedance(squared), squared)
            for answer, (sweep, _) in zip(lossy, sweeps, strict=True)
        )
        moved = np.where(problem.counted(squared), np.abs(last - before), 0.0)
        return np.asarray(TAIL * found.order * moved.reshape(len(squared), -1).max(axis=1))

    return doubt
