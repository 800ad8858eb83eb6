"""Fields of a row of condensed pieces: on tetrahedra for a picture, and their largest values."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np

from geometries.arrays import Array, ComplexArray, Numbers
from solver.fem.field_samples import largest_fields, regular_points, sampled
from solver.periodic.chain_space import ChainSpace

#: Points along a cell's side for the picture, and for the largest field.
_PICTURE, _PEAK = 3, 6
#: Moves the points (3, n) of the piece of some number to where it is in the part.
Placed = Callable[[int, Array], Array]


def sampled_row(
    space: ChainSpace, amplitudes: ComplexArray, placed: Placed
) -> tuple[Array, Numbers, Array]:
    """Size of a field of the row.

    Parameters
    ----------
    space : ChainSpace
    amplitudes : (n,) complex array
        Of the row.
    placed : callable
        Takes the number of a piece, from port 1, and points.

    Returns
    -------
    (3, n) array, (4, t) array of int, (n,) array
        See `solver.fem.field_samples.sampled`.
    """
    points, cells, sizes = [], [], []
    count = 0
    for number, (piece, unknowns) in enumerate(space.unknowns_of(amplitudes)):
        there, tetrahedra, size = sampled(piece, unknowns, _PICTURE)
        points.append(placed(number, there))
        cells.append(tetrahedra + count)
        sizes.append(size)
        count += size.size
    return np.hstack(points), np.hstack(cells), np.hstack(sizes)


def largest_in_row(space: ChainSpace, amplitudes: ComplexArray) -> Array:
    """Largest size, over a period, of fields of the row given by amplitudes (n, f), (f,)."""
    grid = regular_points(_PEAK, 3, False)
    found = np.zeros(amplitudes.shape[1])
    for piece, unknowns in space.unknowns_of(amplitudes):
        cells = np.arange(piece.n_cells)
        found = np.maximum(found, largest_fields(piece, unknowns, grid, cells).max(axis=1))
    return found
