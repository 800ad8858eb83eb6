"""The matrices of the field equation as a direct solver asks for them: upper, free, sparse.

On hexahedra only few pairs of a cell's functions couple: in a straight guide some in a thousand, in
a twist or a bend some per cent. Leaving out the others, which would hold round-off, makes the
matrices, their factors and their ordering many times cheaper and changes no digit that counts.
"""

from collections.abc import Iterator

import numpy as np
from scipy.sparse import coo_matrix, csr_matrix

from solver.elements.edge_hexahedra import HexNedelec
from solver.fem.block_pattern import upper_parts
from solver.fem.edge_assembly import cell_batches, cell_metrics, curl_and_mass_matrices
from solver.fem.edge_couplings import couplings
from solver.fem.edge_space import EdgeSpace

_EXTRA_POINTS = 2


def edge_pencil(
    space: EdgeSpace, free: np.ndarray | None = None, permittivity: np.ndarray | float = 1.0
) -> tuple[csr_matrix, csr_matrix]:
    """Assemble the upper triangles of the curl-curl and the mass matrix, walls left out.

    Parameters
    ----------
    space : EdgeSpace
        Edge elements on a mesh.
    free : (f,) array of int, optional
        Unknowns that remain, ascending; ``space.free_dofs`` by default.
    permittivity : float or (n_cells,) array
        Relative permittivity of the cells [-].

    Returns
    -------
    csr_matrix, csr_matrix
        K [m] and M [m^3], (f, f), diagonal included, of one pattern.

    Raises
    ------
    MeshingError
        If a cell is inverted or folded.
    """
    free = space.free_dofs if free is None else free
    if not isinstance(space.element, HexNedelec):
        matrices = curl_and_mass_matrices(space, eps_r=permittivity, extra_points=_EXTRA_POINTS)
        return upper_parts(free, *matrices)
    number = np.full(space.n_dofs, -1, dtype=np.int32)
    number[free] = np.arange(len(free), dtype=np.int32)
    entries = _entries(space, number, np.broadcast_to(permittivity, space.n_cells))
    i, j, curl, mass = (np.concatenate(p) for p in zip(*entries, strict=True))
    place, shape = (np.minimum(i, j), np.maximum(i, j)), (len(free), len(free))
    both = coo_matrix((curl + 1j * mass, place), shape=shape).tocsr()
    stiffness = csr_matrix((both.data.real.copy(), both.indices, both.indptr), shape=shape)
    return stiffness, csr_matrix((both.data.imag.copy(), both.indices, both.indptr), shape=shape)


def _entries(
    space: EdgeSpace, number: np.ndarray, permittivity: np.ndarray
) -> Iterator[tuple[np.ndarray, np.ndarray, np.ndarray, np.ndarray]]:
    """Yield unknowns i, j and entries of both matrices for the pairs that couple in a cell."""
    points = space.order + _EXTRA_POINTS
    X, _ = space.cell_rule(points)
    for cells in cell_batches(
        np.arange(space.n_cells), space.element.size**2 // 4 + 40 * X.shape[1]
    ):
        own = number[space.dofs[cells]]
        metrics = cell_metrics(space, X, cells)
        for found in couplings(space.order, *metrics, points, own < 0):
            cell, i, j = found.cell, found.row, found.column
            sign = np.ones(len(cell))
            if space.signs is not None:
                sign = space.signs[cells[cell], i] * space.signs[cells[cell], j]
            weight = sign * permittivity[cells[cell]]
            yield own[cell, i], own[cell, j], sign * found.curl, weight * found.mass
