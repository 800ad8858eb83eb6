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
from solver.fem.edge_couplings import Couplings, couplings
from solver.fem.edge_space import EdgeSpace

_EXTRA_POINTS = 2
#: Entries of a large piece.
_PIECE = 8_000_000
#: Cells whose metrics differ by less than this part of the largest of a cell are alike.
_ROUND_OFF = 1e-13
#: By so many sums of its metrics, to so many digits, a cell is known again.
_SUMS, _DIGITS = 3, 9


def edge_pencil(
    space: EdgeSpace,
    free: np.ndarray | None = None,
    permittivity: np.ndarray | float = 1.0,
    stretch: np.ndarray | None = None,
    only: np.ndarray | None = None,
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
    stretch : (3, n_cells) complex array, optional
        Of hexahedra: see `SpaceMesh.stretch`.
    only : (c,) array of int, optional
        Of hexahedra without a stretch: the cells that are assembled, ascending; all by default.

    Returns
    -------
    csr_matrix, csr_matrix
        K [m] and M [m^3], (f, f), diagonal included, of one pattern; complex with a stretch.

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
    permittivity = np.broadcast_to(permittivity, space.n_cells)
    shape = (len(free), len(free))
    if stretch is None:
        chosen = np.arange(space.n_cells) if only is None else only
        both = _summed(_entries(space, number, permittivity, chosen), shape, paired=True)[0]
        stiffness = csr_matrix((both.data.real.copy(), both.indices, both.indptr), shape=shape)
        return stiffness, csr_matrix(
            (both.data.imag.copy(), both.indices, both.indptr), shape=shape
        )
    first, second = _summed(_stretched_entries(space, number, permittivity, stretch), shape)
    return first, second


def _summed(
    entries: Iterator[tuple[np.ndarray, np.ndarray, np.ndarray, np.ndarray]],
    shape: tuple[int, int],
    paired: bool = False,
) -> list[csr_matrix]:
    """Upper triangles of the sums of both, or of real ones as the parts of one complex matrix.

    There are tens of millions of entries: they are kept in few large pieces, which the system
    takes back at once when they are let go.
    """
    pieces: list[list[np.ndarray]] = []
    small: list[tuple[np.ndarray, ...]] = []
    for i, j, curl, mass in entries:
        values = (curl + 1j * mass,) if paired else (curl, mass)
        small.append((np.minimum(i, j), np.maximum(i, j), *values))
        if sum(len(each[0]) for each in small) > _PIECE:
            pieces.append([np.concatenate(field) for field in zip(*small, strict=True)])
            small.clear()
    pieces.append([np.concatenate(field) for field in zip(*small, strict=True)])

    def taken() -> np.ndarray:
        return np.concatenate([piece.pop(0) for piece in pieces if piece])

    place = (taken(), taken())
    return [coo_matrix((taken(), place), shape=shape).tocsr() for _ in range(1 if paired else 2)]


def _stretched_entries(
    space: EdgeSpace, number: np.ndarray, permittivity: np.ndarray, stretch: np.ndarray
) -> Iterator[tuple[np.ndarray, np.ndarray, np.ndarray, np.ndarray]]:
    """As `_entries`, with complex coordinates.

    The metric of a cell along the axes is diagonal. One along e is s_e^2/(s_x s_y s_z) times as
    large for curls and s_x s_y s_z/s_e^2 for fields, s being the stretch.
    """
    layers = (stretch != 1.0).any(axis=0)
    yield from _entries(space, number, permittivity, np.flatnonzero(~layers))
    cells = np.flatnonzero(layers)
    for axis in range(3):
        along = np.ones(space.n_cells, dtype=complex)
        along[cells] = stretch[axis, cells] ** 2 / stretch[:, cells].prod(axis=0)
        yield from _entries(space, number, permittivity, cells, (axis, along))


def _entries(
    space: EdgeSpace,
    number: np.ndarray,
    permittivity: np.ndarray,
    chosen: np.ndarray,
    part: tuple[int, np.ndarray] | None = None,
) -> Iterator[tuple[np.ndarray, np.ndarray, np.ndarray, np.ndarray]]:
    """Yield unknowns i, j and entries of both matrices for the pairs that couple in a cell.

    Of a diagonal metric a part along one axis alone may be asked for, with a factor (n_cells,).
    """
    points = space.order + _EXTRA_POINTS
    X, _ = space.cell_rule(points)
    for cells in cell_batches(chosen, space.element.size**2 // 4 + 40 * X.shape[1]):
        own = number[space.dofs[cells]]
        metrics = cell_metrics(space, X, cells)
        if part is not None:
            only = np.zeros((3, 3, 1, 1))
            only[part[0], part[0]] = 1.0
            metrics = (metrics[0] * only, metrics[1] * only)
        kinds, shown = _alike(metrics)
        skip = np.ones((len(shown), own.shape[1]), dtype=bool)
        np.logical_and.at(skip, kinds, own < 0)
        metrics = (metrics[0][:, :, shown], metrics[1][:, :, shown])
        for kind in couplings(space.order, *metrics, points, skip):
            found = _of_all(kind, kinds, own < 0)
            cell, i, j = found.cell, found.row, found.column
            sign = np.ones(len(cell))
            if space.signs is not None:
                sign = space.signs[cells[cell], i] * space.signs[cells[cell], j]
            curl, mass = sign * found.curl, sign * permittivity[cells[cell]] * found.mass
            if part is not None:
                factor = part[1][cells[cell]]
                curl, mass = factor * curl, mass / factor
            yield own[cell, i], own[cell, j], curl, mass


def _alike(metrics: tuple[np.ndarray, np.ndarray]) -> tuple[np.ndarray, np.ndarray]:
    """Kind (n,) of each cell by its metrics (3, 3, n, q), and a cell (k,) that shows each kind.

    Slices of a straight or evenly twisted guide that are equally long are alike, wherever they lie.
    """
    flat = [np.moveaxis(metric, 2, 0).reshape(metric.shape[2], -1) for metric in metrics]
    size = [np.abs(values).max(axis=1) for values in flat]
    weights = np.random.default_rng(0).uniform(0.5, 1.0, (flat[0].shape[1], _SUMS))
    sums = np.concatenate([values @ weights for values in flat] + [np.stack(size, 1)], axis=1)
    digits = _DIGITS - 1 - np.floor(np.log10(np.abs(sums).max(axis=0)))
    _, shown, kinds = np.unique(
        np.round(sums * 10.0**digits), axis=0, return_index=True, return_inverse=True
    )
    kinds = kinds.ravel()
    off = np.zeros(len(kinds), dtype=bool)
    for values, largest in zip(flat, size, strict=True):
        off |= np.abs(values - values[shown[kinds]]).max(axis=1) > _ROUND_OFF * largest
    kinds[off] = len(shown) + np.arange(off.sum())
    shown = np.concatenate([shown, np.flatnonzero(off)])
    return (kinds, shown) if len(shown) < len(kinds) else (np.arange(len(kinds)),) * 2


def _of_all(found: Couplings, kinds: np.ndarray, skip: np.ndarray) -> Couplings:
    """Couplings of all cells (n,) from those of the kinds that they are of.

    Without the shape functions that are left out, (n, size).
    """
    order, count = np.argsort(kinds, kind="stable"), np.bincount(kinds)
    if len(count) == len(kinds):
        return found
    times = count[found.cell]
    entry = np.repeat(np.arange(len(times)), times)
    within = np.arange(len(entry)) - np.repeat(np.cumsum(times) - times, times)
    cell = order[(np.cumsum(count) - count)[found.cell[entry]] + within]
    row, column = found.row[entry], found.column[entry]
    kept = ~(skip[cell, row] | skip[cell, column])
    entry = entry[kept]
    return Couplings(cell[kept], row[kept], column[kept], found.curl[entry], found.mass[entry])
