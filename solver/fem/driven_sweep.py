"""Frequency sweep of a part that few ports drive and that many waves leave.

A snapshot solves for every wave once, and then takes many derivatives of the few solutions that
count: it reaches far, but each costs a factorisation and a solution a wave. So the coarsest space
finds out how few of them suffice, and the finer ones take these.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from typing import Any

import numpy as np
from scipy.sparse import csr_matrix

from geometries.arrays import Array, ComplexArray
from solver.fem.block_pattern import reached_part
from solver.fem.error_bar import largest
from solver.fem.linear_solve import SymmetricSolver
from solver.fem.reduced_model import (
    MOST_SNAPSHOTS,
    Projection,
    Sweep,
    between,
    widened,
)
from solver.fem.snapshots import Driven, loaded_snapshot, new_directions

#: Where the coarsest space is factorised, in parts of the band.
_PLACES = (0.5, 0.25, 0.75)

Respond = Callable[[Any], ComplexArray]


def driven_sweep(
    pencil: tuple[csr_matrix, csr_matrix, Array],
    squared: Array,
    respond: Respond,
    tolerance: float,
    driven: Driven,
    shifts: tuple[float, ...] = (),
) -> Sweep:
    """Add snapshots until the response over the whole band no longer changes.

    Parameters
    ----------
    pencil : csr_matrix, csr_matrix, (n, m) array
        Upper triangles of K and M, and port columns B.
    squared : (f,) array
        The values of q that are asked for, ascending.
    respond : callable
        See `sweep`.
    tolerance : float
        Largest change of the response that ends the sweep.
    driven : Driven
        Which columns drive. The model answers for them alone, and the resonances of the closed
        part are not counted.
    shifts : tuple of float
        Those that sufficed in a coarser space; none for the coarsest.

    Returns
    -------
    Sweep
        Its change is the last snapshot's in the coarsest space, and in others what the last
        derivatives of the last snapshot still change.

    Raises
    ------
    LinearSolveError, ProblemSizeError
    """
    part = reached_part(*pencil)
    if part is not None:
        pencil, whole = part
        found = driven_sweep(pencil, squared, respond, tolerance, driven, shifts)
        return replace(found, model=replace(found.model, basis=whole(found.model.basis)))
    low, high = widened(float(squared[0]), float(squared[-1]))
    waiting = list(shifts) or [low + place * (high - low) for place in _PLACES]
    solver, projection = SymmetricSolver(*pencil[:2]), Projection.empty(*pencil[2].shape)
    columns, scale = pencil[2], np.sqrt(np.abs(pencil[1].diagonal()))

    def grown(projection: Projection, block: Array) -> Projection:
        directions = new_directions(projection.basis, block, scale)
        return projection.extended(solver, columns, directions)

    used: list[float] = []
    models: list[Any] = []
    answers: list[ComplexArray] = []
    change = np.full(len(squared), np.inf)
    while waiting or (change.max() > tolerance and len(used) < MOST_SNAPSHOTS):
        shift = waiting.pop(0) if waiting else between(used, low, high, squared, change)
        first, last = loaded_snapshot(solver, columns, shift, driven)
        earlier = grown(projection, first)
        projection = grown(earlier, last)
        used.append(shift)
        if len(used) == len(shifts):
            models.append(earlier.model())
            answers.append(respond(models[-1]))
        models.append(projection.model())
        answers.append(respond(models[-1]))
        if len(answers) > 1:
            change = largest(answers[-1] - answers[-2])
    enough = tuple(used)
    if not shifts:
        off = [largest(answer - answers[-1]).max() for answer in answers]
        enough = enough[: 1 + next(i for i, each in enumerate(off) if each <= tolerance)]
    return Sweep(models[-1], answers[-1], change, tuple(used), models[-2].bare, enough)
