"""The matrices of the field equation as a direct solver asks for them: upper, free, sparse.

On hexahedra the shape functions are products of orthogonal polynomials, so that most pairs of a
cell do not couple: in a straight guide all but a few, in a twist or a bend all but some per cent.
Quadrature leaves round-off in their place. It is cut before the matrices are put together, which
makes them, their factors and their ordering many times cheaper and changes no digit that counts.
"""

from collections.abc import Iterator

import numpy as np
from scipy.sparse import coo_matrix, csr_matrix

from .block_pattern import upper_parts
from .edge_assembly import cell_batches, cell_metrics, curl_and_mass_matrices
from .edge_hexahedra import HexNedelec
from .edge_space import EdgeSpace

#: An entry below this, over the geometric mean of the two diagonal entries, is round-off:
#: quadrature leaves up to 1e-14 at order 8, and couplings that small add up to nothing.
ROUND_OFF = 3e-14
_EXTRA_POINTS = 2

Block = tuple[np.ndarray, np.ndarray]
Blocks = dict[tuple[int, int], Block]
Pairs = dict[tuple[int, int], Block]


def edge_pencil(space: EdgeSpace, free: np.ndarray | None = None) -> tuple[csr_matrix, csr_matrix]:
    """Assemble the upper triangles of the curl-curl and the mass matrix, walls left out.

    Parameters
    ----------
    space : EdgeSpace
        Edge elements on a mesh.
    free : (f,) array of int, optional
        Unknowns that remain, ascending; ``space.free_dofs`` by default.

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
        return upper_parts(free, *curl_and_mass_matrices(space, extra_points=_EXTRA_POINTS))
    number = np.full(space.n_dofs, -1, dtype=np.int32)
    number[free] = np.arange(len(free), dtype=np.int32)
    i, j, curl, mass = (np.concatenate(p) for p in zip(*_couplings(space, number), strict=True))
    place, shape = (np.minimum(i, j), np.maximum(i, j)), (len(free), len(free))
    both = coo_matrix((curl + 1j * mass, place), shape=shape).tocsr()
    stiffness = csr_matrix((both.data.real.copy(), both.indices, both.indptr), shape=shape)
    return stiffness, csr_matrix((both.data.imag.copy(), both.indices, both.indptr), shape=shape)


def _couplings(
    space: EdgeSpace, number: np.ndarray
) -> Iterator[tuple[np.ndarray, np.ndarray, np.ndarray, np.ndarray]]:
    """Yield unknowns i, j and entries of both matrices for the pairs that couple in a cell."""
    element, points = space.element, space.order + _EXTRA_POINTS
    X, _ = space.cell_rule(points)
    pairs = {(a, b): element.pairs(a, b) for a in range(3) for b in range(a, 3)}
    for cells in cell_batches(np.arange(space.n_cells), element.size**2 + 40 * X.shape[1]):
        own = number[space.dofs[cells]]
        blocks = element.component_blocks(*cell_metrics(space, X, cells), points)
        bounds = _bounds(blocks, pairs, own)
        for ab, block in blocks.items():
            cell, at = _likely(block, bounds)
            i, j = (numbers[at] for numbers in pairs[ab])
            curl, mass = (values[cell, at] for values in block)
            kept = np.abs(curl) > bounds[0, cell, i] * bounds[0, cell, j]
            kept |= np.abs(mass) > bounds[1, cell, i] * bounds[1, cell, j]
            kept &= i <= j
            cell, i, j = cell[kept], i[kept], j[kept]
            sign = np.ones(len(i))
            if space.signs is not None:
                sign = space.signs[cells[cell], i] * space.signs[cells[cell], j]
            yield own[cell, i], own[cell, j], sign * curl[kept], sign * mass[kept]


def _bounds(blocks: Blocks, pairs: Pairs, own: np.ndarray) -> np.ndarray:
    """Return for both matrices the roots (2, c, size) of what is round-off, infinite on walls."""
    bounds = np.empty((2, *own.shape))
    for a in range(3):
        i, j = pairs[a, a]
        same = np.flatnonzero(i == j)
        for bound, values in zip(bounds, blocks[a, a], strict=True):
            bound[:, i[same]] = np.sqrt(ROUND_OFF * values[:, same])
    return np.where(own < 0, np.inf, np.maximum(bounds, 1e-150))


def _likely(block: Block, bounds: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Return cells and places of entries above the least bound of their cell: a first sieve."""
    least = bounds.min(axis=2)[:, :, None] ** 2
    cell, at = np.nonzero((np.abs(block[0]) > least[0]) | (np.abs(block[1]) > least[1]))
    return cell, at
