"""Matrices of the field equation on tetrahedra, and the columns of ports on any cells.

For the electric field E, with time factor exp(+jwt), the weak form of

    curl curl E - k^2 eps_r E = 0

has the matrices K of curl u . curl v and M of eps_r u . v, neither of which depends on frequency.
Tetrahedra take one matrix product over reference tensors, straight ones with one set of metrics and
curved ones with one at each quadrature point. `edge_pencil` serves hexahedra too.
"""

from collections.abc import Callable, Iterator
from typing import Any

import numpy as np
from scipy.sparse import csr_matrix

from geometries.errors import MeshingError
from solver.fem.edge_space import EdgeSpace, cofactor_matrices

# Metrics and cell matrices in flight, in numbers of eight bytes.
_BATCH = 2_000_000
_PAIRS = ((0, 0), (1, 1), (2, 2), (0, 1), (0, 2), (1, 2))


def curl_and_mass_matrices(
    space: EdgeSpace,
    *,
    eps_r: float | np.ndarray = 1.0,
    extra_points: int = 2,
) -> tuple[csr_matrix, csr_matrix]:
    """Assemble the curl-curl and the mass matrix of tetrahedra, walls included.

    Parameters
    ----------
    space : EdgeSpace
        Edge elements on tetrahedra.
    eps_r : float or (n_cells,) array
        Relative permittivity of the cells [-], real.
    extra_points : int
        Quadrature points in each direction of curved cells beyond the order.

    Returns
    -------
    csr_matrix, csr_matrix
        K [m] and M [m^3], symmetric (n_dofs, n_dofs), with the same pattern.

    Raises
    ------
    MeshingError
        If a cell is inverted or folded.
    """
    pattern = space.pattern
    data = [np.zeros(len(pattern.indices)) for _ in range(2)]
    weights = np.stack([np.ones(space.n_cells), np.broadcast_to(eps_r, space.n_cells)])
    for cells, curl, mass in _cell_matrices(space, space.order + extra_points):
        for matrices, weight in zip((curl, mass), weights[:, cells], strict=True):
            if space.signs is None:
                matrices *= weight[:, None, None]
            else:
                signs = space.signs[cells]
                matrices *= signs[:, :, None]
                matrices *= (signs * weight[:, None])[:, None, :]
        pattern.add(data, cells, (curl, mass))
    return pattern.matrix(data[0]), pattern.matrix(data[1])


def port_columns(
    space: EdgeSpace,
    name: str,
    fields: Callable[[np.ndarray], np.ndarray],
    *,
    extra_points: int = 3,
) -> np.ndarray:
    """Integrals of vector fields against the unknowns of a port.

    Parameters
    ----------
    space : EdgeSpace
        Edge elements on a mesh.
    name : str
        Name of the boundary.
    fields : callable
        Takes points (3, n) [m] to Cartesian fields (m, 3, n); the part normal to the port is
        ignored.
    extra_points : int
        Quadrature points in each direction beyond the order.

    Returns
    -------
    (n_dofs, m) array
        Integral of field m . shape function over the port; real if the fields are.
    """
    rule = space.face_rule(space.order + extra_points)
    columns: np.ndarray | None = None
    for dofs, traces, points, area in _facet_traces(space, space.mesh.boundaries[name], rule):
        values = fields(points.reshape(3, -1))
        values = values.reshape(len(values), *points.shape)
        if columns is None:
            columns = np.zeros((space.n_dofs, len(values)), dtype=values.dtype)
        weighted = np.einsum("micq,cq->micq", values, area)
        part = np.einsum("cniq,micq->cnm", traces, weighted, optimize=True)
        np.add.at(columns, dofs, part)
    if columns is None:
        raise MeshingError(f"the boundary {name!r} has no facets")
    return columns


def _facet_traces(
    space: EdgeSpace, facets: np.ndarray, rule: tuple[np.ndarray, np.ndarray]
) -> Iterator[tuple[np.ndarray, np.ndarray, np.ndarray, np.ndarray]]:
    """Yield groups of facets with the tangential parts of their shape functions.

    Each group has unknowns (c, n), traces (c, n, 3, q), points (3, c, q) [m] and weighted areas
    (c, q) [m^2].
    """
    st, weights = rule
    all_cells, faces = space.facet_cells(facets)
    for face in np.unique(faces):
        cells = all_cells[faces == face]
        functions = space.face_functions(face)
        X, tangents = space.face_points(face, st)
        points, jacobians = space.located(X, cells)
        first, second = (np.einsum("iacq,a->icq", jacobians, tangents[:, n]) for n in (0, 1))
        normal = np.cross(first, second, axis=0)
        area = np.linalg.norm(normal, axis=0)
        normal = normal / area
        # The tangential part lies in the face's own dual basis: no Jacobian inverse is needed.
        duals = np.stack([np.cross(second, normal, axis=0), np.cross(normal, first, axis=0)])
        along = np.einsum("niq,ia->naq", space.element.values(X)[functions], tangents)
        traces = np.einsum("naq,aicq->cniq", along, duals / area, optimize=True)
        if space.signs is not None:
            traces *= space.signs[cells][:, functions, None, None]
        yield space.dofs[cells][:, functions], traces, points, area * weights


def _cell_matrices(
    space: EdgeSpace, points: int
) -> Iterator[tuple[np.ndarray, np.ndarray, np.ndarray]]:
    """Yield batches of cells (c,) with their curl-curl and mass matrices (c, size, size)."""
    straight = _straight_cells(space.mesh)
    for chosen, rule_points, at in (
        (np.flatnonzero(straight), space.order + 1, True),
        (np.flatnonzero(~straight), points, False),
    ):
        if chosen.size:
            yield from _tetrahedra(space, chosen, space.cell_rule(rule_points), at)


def _tetrahedra(
    space: EdgeSpace, chosen: np.ndarray, rule: tuple[np.ndarray, np.ndarray], straight: bool
) -> Iterator[tuple[np.ndarray, np.ndarray, np.ndarray]]:
    """Yield batches of tetrahedra, by one product of metrics with reference tensors."""
    X, weights = rule
    size = space.element.size
    packed = np.triu_indices(size)
    tensors = [
        _reference_tensor(table, weights, packed, straight)
        for table in (space.element.curls(X), space.element.values(X))
    ]
    where = X[:, :1] if straight else X
    unpacked = np.empty((size, size), dtype=np.int64)
    unpacked[packed] = unpacked.T[packed] = np.arange(len(packed[0]))
    for cells in cell_batches(chosen, size**2 + 40 * where.shape[1]):
        matrices = []
        for metric, tensor in zip(cell_metrics(space, where, cells), tensors, strict=True):
            rows = np.stack([metric[a, b] for a, b in _PAIRS], axis=1)  # (c, 6, q)
            matrices.append((rows.reshape(len(cells), -1) @ tensor)[:, unpacked])
        yield cells, *matrices


def _reference_tensor(
    table: np.ndarray, weights: np.ndarray, packed: tuple[np.ndarray, np.ndarray], summed: bool
) -> np.ndarray:
    """Return products of functions (6 or 6*q, n_pairs), pairs of components first."""
    i, j = packed
    parts = []
    for a, b in _PAIRS:
        product = table[i, a] * table[j, b]
        if a != b:
            product += table[i, b] * table[j, a]
        product *= weights
        parts.append(product.sum(axis=1)[None] if summed else product.T)
    return np.concatenate(parts)


def cell_metrics(
    space: EdgeSpace, X: np.ndarray, cells: np.ndarray
) -> tuple[np.ndarray, np.ndarray]:
    """Return the metrics (3, 3, c, q) of curls, J^T J/|det|, and fields, |det| (J^T J)^-1."""
    _, jacobians = space.located(X, cells)
    cofactors = cofactor_matrices(jacobians)
    determinants = np.einsum("icq,icq->cq", jacobians[:, 0], cofactors[:, 0])
    lowest, highest = determinants.min(axis=1), determinants.max(axis=1)
    bad = np.flatnonzero(~(lowest * highest > 0.0))
    if bad.size:
        raise MeshingError(
            f"cell {cells[bad[0]]} is inverted or folded ({bad.size} such cells); refine the mesh "
            "or correct the shape"
        )
    size = np.abs(determinants)
    curl = np.einsum("iacq,ibcq->abcq", jacobians, jacobians) / size
    mass = np.einsum("iacq,ibcq->abcq", cofactors, cofactors) / size
    return curl, mass


def _straight_cells(mesh: Any) -> np.ndarray:
    """Return which tetrahedra (n_cells,) have straight edges, to within round-off."""
    nodes = mesh.dofs.element_dofs
    straight = np.ones(nodes.shape[1], dtype=bool)
    if len(nodes) == 4:
        return straight
    for (a, b), middle in zip(mesh.refdom.edges, nodes[4:], strict=True):
        ends = mesh.doflocs[:, nodes[a]], mesh.doflocs[:, nodes[b]]
        sag = np.linalg.norm(mesh.doflocs[:, middle] - (ends[0] + ends[1]) / 2.0, axis=0)
        straight &= sag <= 1e-10 * np.linalg.norm(ends[1] - ends[0], axis=0)
    return straight


def cell_batches(cells: np.ndarray, numbers_per_cell: int) -> Iterator[np.ndarray]:
    """Yield parts of the cells that keep the arrays in flight small."""
    step = max(1, _BATCH // numbers_per_cell)
    for start in range(0, len(cells), step):
        yield cells[start : start + step]
