"""Resonances of a part closed by electric walls, ports included, and their Q.

Curl-curl equation for E on edge elements. The static solutions, of which there is one for
every potential, are kept out by iterating with ``S K S M``, where ``S = (K - q M)^-1``: it
sends them to zero and a resonance k to ``k^2 / (k^2 - q)^2``. The order rises until three
successive answers agree; their difference is the error bar.
"""

from __future__ import annotations

import time
from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import partial
from typing import Any

import numpy as np
from scipy.linalg import eigh
from scipy.sparse.linalg import ArpackError, LinearOperator, eigsh

from geometries.arrays import Array
from geometries.space_meshes.swept_blocks import SWEPT_PARTS, swept_mesh
from solver.errors import LinearSolveError, UnsupportedPartError
from solver.fem.edge_pencil import edge_pencil
from solver.fem.edge_space import edge_space
from solver.fem.field_samples import wall_current_matrix
from solver.fem.linear_solve import SymmetricSolver
from solver.progress import Progress, ends_early, time_text
from solver.waves.guide_modes import ETA0, SPEED_OF_LIGHT, dominant_cutoff
from solver.waves.guide_power import surface_resistance

#: Orders tried on one mesh, each compared with the one before.
ORDERS = (4, 5, 6, 7, 8)
#: Two resonances closer than this, relative, are one resonance of several fields.
_SAME = 1e-7
_SPARE = 4
#: The time of a space goes about as this power of its order.
_GROWTH = 5.0


@dataclass(frozen=True)
class CavityMode:
    """One resonance of a closed part.

    Parameters
    ----------
    frequency : float
        Resonant frequency without loss [Hz]; walls that lose lower it by a fraction 1/(2 Q).
    error : float
        Bound on the error of the frequency, from the two orders below [Hz].
    multiplicity : int
        Fields that share the frequency within the error; each is listed.
    q_walls : float or None
        Quality factor by the loss in all walls, those that close the ports included.
    """

    frequency: float
    error: float
    multiplicity: int
    q_walls: float | None


@dataclass(frozen=True, eq=False)
class _Level:
    """Squared wavenumbers (count,) [rad^2/m^2] and reciprocal Q over (Rs / eta)."""

    squared: Array
    loss: Array


def cavity_modes(
    part: Any,
    count: int = 6,
    *,
    near: float | None = None,
    conductivity: float | None = None,
    eps_r: float = 1.0,
    accuracy: float = 1e-5,
    orders: Sequence[int] = ORDERS,
    progress: Progress | None = None,
) -> tuple[CavityMode, ...]:
    """Resonances of a part whose ports are closed by electric walls at the reference planes.

    Parameters
    ----------
    part : Straight, Bend, Twist, Taper, Dent or Transition
    count : int
        How many, a resonance of several fields counted as often.
    near : float, optional
        The resonances about this frequency [Hz]; the lowest by default.
    conductivity : float, optional
        Of the walls [S/m]; Q is found only if it is given.
    eps_r : float
        Relative permittivity of a lossless filling [-].
    accuracy : float
        Wanted bound on the relative error of the frequencies.
    orders : sequence of int
        Ascending orders of the elements, at least three.
    progress : callable, optional

    Returns
    -------
    tuple of CavityMode
        In ascending order.

    Raises
    ------
    UnsupportedPartError
        For a part that is not swept.
    LinearSolveError
        When the iteration does not converge.

    Notes
    -----
    Q = (k eta0 / Rs) (K x, x) / integral of |n x curl x|^2 over the walls: stored over lost
    energy, Jackson, "Classical Electrodynamics", 3rd ed., 1999, section 8.8. Fields that share
    a frequency are turned so that their wall losses do not mix.
    """
    if not isinstance(part, SWEPT_PARTS):
        kinds = ", ".join(kind.kind for kind in SWEPT_PARTS)
        raise UnsupportedPartError(
            f"resonances of a {part.kind} are not looked for; they are of: {kinds}"
        )
    index = np.sqrt(eps_r)
    centre = near if near is not None else 1.5 * _lowest_cutoff(part) / index
    highest = 2.0 * centre * index
    opened = swept_mesh(part, wavelength=SPEED_OF_LIGHT / highest, feeds=(0.0, 0.0)).mesh
    mesh = replace(opened, boundaries={})  # what is not named is an electric wall
    shift = (2 * np.pi * index / SPEED_OF_LIGHT) ** 2 * (
        0.999 * near**2 if near is not None else 0.8 * (_lowest_cutoff(part) / index) ** 2
    )
    levels: list[_Level] = []
    spent = 0.0
    try:
        for number, order in enumerate(orders, start=1):
            if progress:
                step = f"resonances, order {order}, step {number} of at most {len(orders)}"
                progress(step + time_text(spent * (order / (order - 1)) ** _GROWTH))
            start = time.perf_counter()
            levels.append(_solved(edge_space(mesh, order), shift, count))
            spent, change = time.perf_counter() - start, _change(levels)
            if len(levels) > 2 and (change <= accuracy * np.sqrt(levels[-1].squared)).all():
                break
    except KeyboardInterrupt:
        # two orders before the last make its bar
        if len(levels) < 3 or not ends_early(progress):
            raise
    level, change = levels[-1], _change(levels)
    scale = SPEED_OF_LIGHT / (2 * np.pi * index)
    found = scale * np.sqrt(level.squared)
    error = scale * change + 1e-12 * found
    same = np.abs(found[:, None] - found) <= np.maximum(error[:, None], error) + _SAME * found
    quality: Sequence[float | None] = [None] * count
    if conductivity is not None:
        quality = (ETA0 / surface_resistance(conductivity, found) / (level.loss * index)).tolist()
    listed = zip(found, error, same.sum(axis=1), quality, strict=True)
    return tuple(CavityMode(float(f), float(e), int(n), q) for f, e, n, q in listed)


def _change(levels: Sequence[_Level]) -> Array:
    """Largest change of each wavenumber since the two orders before [rad/m].

    Two, since the functions that one order adds may have the wrong symmetry for a mode.
    """
    wavenumbers = [np.sqrt(level.squared) for level in levels[-3:]]
    return np.max([np.abs(wavenumbers[-1] - k) for k in wavenumbers], axis=0)


def _lowest_cutoff(part: Any) -> float:
    """Lowest first cutoff of the part's two guides [Hz]."""
    return min(dominant_cutoff(guide) for guide in part.guides)


def _solved(space: Any, shift: float, count: int) -> _Level:
    """Resonances about a squared wavenumber in one space."""
    free = space.free_dofs
    stiffness, mass = edge_pencil(space)
    solver = SymmetricSolver(stiffness, mass)
    solver.factorise(shift)

    def operator(apply: Any) -> LinearOperator:
        return LinearOperator(
            stiffness.shape, matvec=lambda x: apply(x.reshape(-1, 1))[:, 0], dtype=float
        )

    def without_static(x: Array) -> Array:
        return solver.solve(solver.product(stiffness, solver.solve(x)))

    start = np.random.default_rng(23).standard_normal((len(free), 1))
    start = solver.solve(solver.product(stiffness, start))
    try:
        _, x = eigsh(
            operator(partial(solver.product, stiffness)),
            count + _SPARE,
            operator(partial(solver.product, mass)),
            0.0,
            OPinv=operator(without_static),
            v0=start[:, 0],
            tol=1e-9,
        )
    except ArpackError as error:
        raise LinearSolveError(f"the resonances could not be found: {error}") from error
    squared, turn = eigh(
        *(x.T @ solver.product(matrix, x) for matrix in (stiffness, mass)),
    )
    about = np.abs(np.sqrt(np.maximum(squared, 0.0)) - np.sqrt(shift))
    kept = np.sort(np.argsort(about, kind="stable")[:count])
    x, squared = x @ turn[:, kept], squared[kept]
    fields = np.zeros((space.n_dofs, count))
    fields[free] = x
    walls = wall_current_matrix(space, fields)
    return _Level(squared, _loss(squared, walls, np.diag(squared)) / np.sqrt(squared))


def _loss(squared: Array, walls: Array, energy: Array) -> Array:
    """Wall integral over stored energy of each field, turned within groups of one frequency."""
    loss = np.empty(len(squared))
    first = 0
    for end in range(1, len(squared) + 1):
        if end < len(squared) and squared[end] - squared[end - 1] <= 2e-5 * squared[end]:
            continue
        group = slice(first, end)
        loss[group] = eigh(walls[group, group], energy[group, group], eigvals_only=True)
        first = end
    return loss
