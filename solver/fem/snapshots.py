"""Snapshots of a field problem: solutions at one q and their derivatives, and what they span.

Where few ports drive a part and many waves leave it, solving for every column that lets the field
out would fill the reduced model with vectors that no answer needs. What it needs are solutions of
the loaded part, (K - q M + j B Y B^T) x = B e, for the columns e that drive, and their derivatives
by q: a few vectors, however many waves leave.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.linalg import svd

from geometries.arrays import Array, ComplexArray, Numbers
from solver.fem.linear_solve import SymmetricSolver

#: Derivatives that a snapshot takes along.
_MOMENTS = 3
#: The same of a loaded one: each costs two solutions a driving column.
_LOADED_MOMENTS = 12
#: The last of them, which show how far the others reach.
_LAST_MOMENTS = 2
#: Points on a circle about q, and its radius over q, that give derivatives of admittances.
_ON_CIRCLE, _CIRCLE = 24, 0.05
#: A direction with less of it than this is not there.
_NONE = 1e-10
#: Directions of unit vectors whose singular value is below this depend on the others.
_DEPENDENT = 1e-10


def snapshot(
    solver: SymmetricSolver,
    columns: Array,
    shift: float,
    moving: NDArray[np.bool_] | None,
    *,
    decaying: bool = False,
    only_moving: bool = False,
) -> Array:
    """Solutions for all port columns at one q, and derivatives with respect to q.

    Parameters
    ----------
    solver : SymmetricSolver
        Of K - q M.
    columns : (n, m) array
    shift : float
        The value of q.
    moving : (m,) bool array, optional
        See `sweep`.
    decaying : bool
        Whether the other columns have one, which shows what is missed without.
    only_moving : bool
        Leave the other columns out altogether.

    Returns
    -------
    (n, s) array
        The last derivatives last, one a column that has any.
    """

    def derived(x: Array) -> Array:
        return np.asarray(solver.solve(solver.times_mass(x / np.linalg.norm(x, axis=0))))

    solver.factorise(shift)
    if only_moving and moving is not None:
        columns, moving = columns[:, moving], None
    blocks = [solver.solve(columns)]
    moves = np.ones(columns.shape[1], dtype=bool) if moving is None else moving
    latest = blocks[0] if decaying else blocks[0][:, moves]
    for number in range(_MOMENTS if latest.shape[1] else 0):
        latest = derived(latest)
        if number == 0 and decaying:
            others, latest = latest[:, ~moves], latest[:, moves]
        blocks.append(latest)
    if decaying:
        blocks.insert(-1, others)
    block = np.concatenate(blocks, axis=1)
    if not solver.complex:
        return np.asarray(block)
    parts = np.concatenate([block.real, block.imag], axis=1)
    return np.asarray(parts[:, np.linalg.norm(parts, axis=0) > 0])


@dataclass(frozen=True, eq=False)
class Driven:
    """Which columns drive a part, and what loads all of them.

    Parameters
    ----------
    columns : (d,) int array
    admittance : callable
        Y (n, m) of all columns at complex q (n,), none of them coupled.
    """

    columns: Numbers
    admittance: Callable[[ComplexArray], ComplexArray]

    def derivatives(self, q: float) -> ComplexArray:
        """Taylor coefficients (moments + 1, m) of Y about q, by Cauchy's integral."""
        turn = np.exp(2j * np.pi * np.arange(_ON_CIRCLE) / _ON_CIRCLE)
        y = np.asarray(self.admittance(q * (1 + _CIRCLE * turn)))
        order = np.arange(_LOADED_MOMENTS + 1)[:, None]
        return np.asarray((_CIRCLE * q) ** (-1.0 * order) * (turn**-order @ y) / _ON_CIRCLE)


def loaded_snapshot(
    solver: SymmetricSolver, columns: Array, shift: float, driven: Driven
) -> tuple[Array, Array]:
    """Real and imaginary parts of the loaded part's solutions at one q, and of derivatives.

    Parameters
    ----------
    solver : SymmetricSolver
        Of K - q M.
    columns : (n, m) array
        Port columns B.
    shift : float
        The q.
    driven : Driven

    Returns
    -------
    (n, v) array, (n, w) array
        All but the last derivatives, and these.

    Raises
    ------
    LinearSolveError

    Notes
    -----
    With X = (K - q M)^-1 B and Z = B^T X, a solution with the right-hand side r + B e is
    (K - q M)^-1 r + X (e - j Y c), where c, the field at the ports, follows from itself.
    """
    solver.factorise(shift)
    each = solver.solve(columns)
    impedance, loads = columns.T @ each, driven.derivatives(shift)
    loaded = np.eye(len(impedance)) + 1j * impedance * loads[0]
    drives = len(driven.columns)
    into = np.zeros((columns.shape[1], drives), dtype=complex)
    into[driven.columns, range(drives)] = 1.0
    x = own = np.zeros((len(columns), drives), dtype=complex)
    ends: list[ComplexArray] = []
    blocks, solved = [], []
    for step in range(len(loads)):
        if step:
            right = solver.times_mass(np.concatenate([x.real, x.imag], axis=1))
            parts = solver.solve(right, checked=False)
            solved.append((parts, right))
            own = parts[:, :drives] + 1j * parts[:, drives:]
            earlier = [-1j * loads[i][:, None] * ends[step - i] for i in range(1, step + 1)]
            into = np.sum(earlier, axis=0)
        ends.append(np.linalg.solve(loaded, _times(columns.T, own) + impedance @ into))
        x = own + _times(each, into - 1j * loads[0][:, None] * ends[-1])
        size = np.linalg.norm(x, axis=0)
        blocks.append(np.concatenate([x.real / size, x.imag / size], axis=1))
    solver.check(*(np.concatenate(each, axis=1) for each in zip(*solved, strict=True)))
    first, last = blocks[:-_LAST_MOMENTS], blocks[-_LAST_MOMENTS:]
    return _there(first), _there(last)


def _there(blocks: Sequence[Array]) -> Array:
    """Vectors side by side, without those that vanish."""
    block = np.concatenate(blocks, axis=1)
    return np.asarray(block[:, np.linalg.norm(block, axis=0) > _NONE])


def _times(real: Array, amplitudes: ComplexArray) -> ComplexArray:
    """Product of real and complex matrices, without a complex copy of the first, the large one."""
    parts = real @ np.concatenate([amplitudes.real, amplitudes.imag], axis=1)
    count = amplitudes.shape[1]
    return np.asarray(parts[:, :count] + 1j * parts[:, count:])


def new_directions(basis: Array, block: Array, scale: Array) -> Array:
    """Directions that a block adds to a basis, the whole orthonormal once scaled.

    Scaling by the diagonal of M keeps small cells from drowning in round-off.

    Parameters
    ----------
    basis : (n, b) array
    block : (n, s) array
    scale : (n,) array
    """
    block = block * scale[:, None]
    block /= np.linalg.norm(block, axis=0)
    scaled = basis * scale[:, None]
    for _ in range(2):
        block = block - scaled @ (scaled.T @ block)
    left, size = _singular(block)
    return np.asarray(left[:, size > _DEPENDENT] / scale[:, None])


def coordinates(basis: Array, block: Array, scale: Array) -> Array:
    """Vectors of a block (n, s), each of unit size, in a basis (n, b) that spans them, (b, s).

    The basis is orthonormal once scaled by (n,), as that of `new_directions`.
    """
    block = block * scale[:, None]
    size = np.maximum(np.linalg.norm(block, axis=0), np.finfo(float).tiny)
    return np.asarray(basis.T @ (scale[:, None] * (block / size)))


def spanned(parts: Sequence[Array]) -> Array:
    """Orthonormal directions (b, r) that vectors span; to those of fewer rows come zeros."""
    rows = len(parts[-1])
    vectors = np.concatenate([np.pad(p, ((0, rows - len(p)), (0, 0))) for p in parts], axis=1)
    left, size = _singular(vectors)
    return np.asarray(left[:, size > _DEPENDENT])


def _singular(block: Array) -> tuple[Array, Array]:
    """Left singular vectors and singular values."""
    try:
        left, size, _ = np.linalg.svd(block, full_matrices=False)
    except np.linalg.LinAlgError:
        # LAPACK's divide and conquer gives up on some blocks of finite numbers; QR does not
        left, size, _ = svd(block, full_matrices=False, lapack_driver="gesvd")
    return left, size
