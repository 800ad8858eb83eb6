"""Fields of edge elements: their size at points of cells, integrals of currents over walls."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from geometries.arrays import Array, ComplexArray, Numbers
from solver.fem.edge_space import EdgeSpace, cofactor_matrices

#: Pieces along a hexahedron's side; a tetrahedron is shown by its corners.
_PIECES = 6
#: The six tetrahedra of a cube whose vertex m is at (m & 1, m >> 1 & 1, m >> 2).
_CUBE = np.array(
    [[0, 1, 3, 7], [0, 1, 5, 7], [0, 2, 3, 7], [0, 2, 6, 7], [0, 4, 5, 7], [0, 4, 6, 7]]
)
#: Numbers of eight bytes in flight.
_BATCH = 8_000_000


def sampled(
    space: EdgeSpace, unknowns: ComplexArray, pieces: int = _PIECES
) -> tuple[Array, Numbers, Array]:
    """Size of a field on tetrahedra.

    Parameters
    ----------
    space : EdgeSpace
    unknowns : (n_dofs,) complex array
        Walls included.
    pieces : int
        Into which a hexahedron's side is cut.

    Returns
    -------
    (3, n) array, (4, t) array of int, (n,) array
        Points [m], tetrahedra, and the size of the field at the points.
    """
    grid, cut = pieces_of_cells(space, pieces)
    points, real = space.electric_field(unknowns.real, grid)
    _, imaginary = space.electric_field(unknowns.imag, grid)
    size = np.sqrt((real**2 + imaginary**2).sum(axis=0))
    first = np.arange(points.shape[1]) * grid.shape[1]
    cells = (cut[:, None, :] + first[None, :, None]).reshape(4, -1)
    return points.reshape(3, -1), cells, size.ravel()


def pieces_of_cells(space: EdgeSpace, pieces: int = _PIECES) -> tuple[Array, Numbers]:
    """Points (3, q) of the reference cell and the tetrahedra (4, t) between them.

    A hexahedron's side is cut into so many pieces; a tetrahedron stays as it is.
    """
    if space.mesh.t.shape[0] == 8:
        line = np.arange(pieces + 1) / pieces
        grid = np.stack([c.ravel() for c in np.meshgrid(line, line, line, indexing="ij")])
        return grid, _cut_cube(pieces)
    return np.vstack([np.zeros(3), np.eye(3)]).T, np.arange(4)[:, None]


def _cut_cube(pieces: int) -> Numbers:
    """Tetrahedra (4, n) on a regular grid of a cube, points numbered with the last axis fastest."""
    number = np.arange((pieces + 1) ** 3).reshape([pieces + 1] * 3)
    ends = (slice(None, -1), slice(1, None))
    corners = np.stack(
        [number[ends[m & 1], ends[m >> 1 & 1], ends[m >> 2]].ravel() for m in range(8)]
    )
    return np.concatenate([corners[tetrahedron] for tetrahedron in _CUBE], axis=1)


def largest_fields(
    space: EdgeSpace, unknowns: ComplexArray, grid: Array, cells: NDArray[np.integer]
) -> Array:
    """Largest field (n, c) in some cells of fields given by their unknowns.

    Parameters
    ----------
    space : EdgeSpace
    unknowns : (n_dofs, n) complex array
    grid : (3, q) array
        Points of the reference cell at which the field is read.
    cells : (c,) array of int
    """
    table = space.element.values(grid).reshape(space.element.size, -1)
    found = np.empty((unknowns.shape[1], len(cells)))
    step = max(1, 4_000_000 // (table.shape[1] * (unknowns.shape[1] + 3)))
    for first in range(0, len(cells), step):
        here = cells[first : first + step]
        _, jacobians = space.located(grid, here)
        cofactors = cofactor_matrices(jacobians)
        dual = cofactors / np.einsum("icq,icq->cq", jacobians[:, 0], cofactors[:, 0])
        local = space.coefficients(unknowns, here).transpose(0, 2, 1)
        both = (local.real @ table) + 1j * (local.imag @ table)
        covariant = both.reshape(len(here), unknowns.shape[1], 3, -1)
        field = np.einsum("iacq,cfaq->ifcq", dual, covariant, optimize=True)
        found[:, first : first + step] = largest_of_ellipse(field).max(axis=2)
    return found


def largest_of_ellipse(field: ComplexArray) -> Array:
    """Largest size during a period of a complex vector field (components, ...)."""
    square = (np.abs(field) ** 2).sum(axis=0)
    return np.asarray(np.sqrt(0.5 * (square + np.abs((field**2).sum(axis=0)))))


def regular_points(count: int, dimension: int, simplex: bool) -> Array:
    """Regular points of the reference cell, its boundary among them, (dimension, n)."""
    line = np.linspace(0.0, 1.0, count)
    points = np.stack([c.ravel() for c in np.meshgrid(*[line] * dimension, indexing="ij")])
    return points[:, points.sum(axis=0) <= 1 + 1e-12] if simplex else points


def wall_current_matrix(
    space: EdgeSpace, fields: Array, facets: NDArray[np.integer] | None = None
) -> Array:
    """Integrals of (n x curl u_r) . (n x curl u_s) over walls.

    Parameters
    ----------
    space : EdgeSpace
    fields : (n_dofs, r) array
        Unknowns of the electric fields u, walls included.
    facets : (f,) array of int, optional
        By default the metal of the space.

    Returns
    -------
    (r, r) array
        Symmetric. The curl of a field that has no tangential part on a wall is tangential
        there, so its square is the whole square.
    """
    facets = space.metal_facets if facets is None else facets
    all_cells, faces = space.facet_cells(facets)
    st, weights = space.face_rule(space.order + 2)
    count = fields.shape[1]
    total = np.zeros((count, count))
    for face in np.unique(faces):
        X, tangents = space.face_points(face, st)
        table = space.element.curls(X).reshape(space.element.size, -1)
        cells = all_cells[faces == face]
        step = max(1, _BATCH // (count * max(table.shape)))
        for first in range(0, len(cells), step):
            here = cells[first : first + step]
            _, jacobians = space.located(X, here)
            first_side, second_side = (
                np.einsum("iacq,a->icq", jacobians, tangents[:, n]) for n in (0, 1)
            )
            area = np.linalg.norm(np.cross(first_side, second_side, axis=0), axis=0) * weights
            determinants = np.einsum(
                "icq,icq->cq", jacobians[:, 0], cofactor_matrices(jacobians)[:, 0]
            )
            local = space.coefficients(fields, here).transpose(0, 2, 1)
            reference = (local @ table).reshape(len(here), count, 3, -1)
            scale = jacobians * (np.sqrt(area) / determinants)
            curls = np.einsum("iacq,craq->rciq", scale, reference, optimize=True)
            rows = curls.reshape(count, -1)
            total += rows @ rows.T
    return total
