"""Second-order cells for a mesh whose straight edges stand for curved walls.

Where wall facets meet at a small angle they are taken for pieces of one curved wall.  Its normal at
a corner is the mean of the facets there; each edge is bent so that it leaves its two ends at right
angles to the normals, as in the triangles of A. Vlachos, J. Peters, C. Boyd and J. L. Mitchell,
"Curved PN triangles", Proc. I3D 2001, doi 10.1145/364338.364387 (the middle of their cubic edge).
At a port the guide is straight, so that the normals of the wall lie in the port's plane.
"""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy.sparse import csr_matrix
from scipy.sparse.csgraph import connected_components

from geometries.cells.tetrahedral_cells import MIDDLES, Array, Numbers, TetrahedralCells

#: Facets that meet at a smaller angle are pieces of one curved wall.
_SMOOTH = math.radians(40.0)
#: So are those that meet at a smaller one than this, unless both lie in flats that go on beyond
#: one row of facets: a coarse mesh has but two facets on a tight inner wall, a mitre is wide.
_COARSE = math.radians(55.0)
#: Facets that meet at a smaller angle lie in one flat.
_FLAT = math.radians(1.0)
#: An edge whose middle moves by less, over its length, is straight.
_STRAIGHT = 1e-6


def with_curved_walls(cells: TetrahedralCells, ports: tuple[str, ...]) -> TetrahedralCells | None:
    """Bend the wall edges of first-order cells.

    Parameters
    ----------
    cells : TetrahedralCells
        Of first order.
    ports : tuple of str
        Names of the groups that are flat ports.

    Returns
    -------
    TetrahedralCells or None
        Of second order; None if every wall is flat, or the cells are curved already.
    """
    if cells.curved:
        return None
    facets, normals = _wall_facets(cells, ports)
    flat = {name: _plane(cells, name) for name in ports}
    wide = _in_wide_flats(facets, normals, flat)
    at_corner = _corner_normals(cells, facets, normals, flat, wide)
    edges, bend = _bent_edges(cells, facets, normals, at_corner, flat, wide)
    length = np.linalg.norm(np.diff(cells.points[:, edges], axis=1)[:, 0], axis=0)
    if not (np.linalg.norm(bend, axis=0) > _STRAIGHT * length).any():
        return None
    return _second_order(cells, edges, bend)


def _wall_facets(cells: TetrahedralCells, ports: tuple[str, ...]) -> tuple[Numbers, Array]:
    """Facets (3, k) of the wall and their unit normals (3, k), of a common orientation."""
    boundary = cells.boundary()
    n = cells.points.shape[1]
    weights = np.array([n * n, n, 1], dtype=np.int64)
    taken = [weights @ np.sort(cells.groups[name], axis=0) for name in ports]
    facets = boundary[:, ~np.isin(weights @ boundary, np.concatenate(taken))]
    apex = _apexes(cells, facets)
    a, b, c = (cells.points[:, v] for v in facets)
    normals = np.cross(b - a, c - a, axis=0)
    normals *= -np.sign(((cells.points[:, apex] - a) * normals).sum(axis=0))
    return facets, normals / np.linalg.norm(normals, axis=0)


def _apexes(cells: TetrahedralCells, facets: Numbers) -> Numbers:
    """Corner (k,) opposite to each facet in its cell."""
    n = cells.points.shape[1]
    weights = np.array([n * n, n, 1], dtype=np.int64)
    corners = np.sort(cells.tets[:4], axis=0)
    keys, tips = [], []
    for i in range(4):
        keys.append(weights @ np.delete(corners, i, axis=0))
        tips.append(corners[i])
    every, tip = np.concatenate(keys), np.concatenate(tips)
    order = np.argsort(every)
    return np.asarray(tip[order[np.searchsorted(every, weights @ facets, sorter=order)]])


def _plane(cells: TetrahedralCells, name: str) -> tuple[NDArray[np.bool_], Array]:
    """Which nodes lie on a port, and the port's normal."""
    facets = cells.groups[name]
    on_port = np.zeros(cells.points.shape[1], dtype=bool)
    on_port[facets] = True
    a, b, c = (cells.points[:, v] for v in facets[:, :1])
    normal = np.cross(b - a, c - a, axis=0)[:, 0]
    return on_port, normal / np.linalg.norm(normal)


def _in_wide_flats(
    facets: Numbers, normals: Array, flat: dict[str, tuple[NDArray[np.bool_], Array]]
) -> NDArray[np.bool_]:
    """Whether each facet lies in a flat with a node of its own, off its rim and off ports, (k,)."""
    count, n = facets.shape[1], int(facets.max()) + 1
    pairs = np.concatenate(
        [np.sort(facets[[i, j]], axis=0) for i, j in ((0, 1), (1, 2), (0, 2))], 1
    )
    key = pairs[0].astype(np.int64) * n + pairs[1]
    owner = np.tile(np.arange(count), 3)
    order = np.argsort(key, kind="stable")
    same = np.flatnonzero(np.diff(key[order]) == 0)
    one, other = owner[order[same]], owner[order[same + 1]]
    level = (normals[:, one] * normals[:, other]).sum(axis=0) > math.cos(_FLAT)
    joined = csr_matrix((np.ones(level.sum()), (one[level], other[level])), shape=(count, count))
    label = connected_components(joined, directed=False)[1]
    lowest, highest = np.full(n, count), np.full(n, -1)
    np.minimum.at(lowest, facets, np.broadcast_to(label, facets.shape))
    np.maximum.at(highest, facets, np.broadcast_to(label, facets.shape))
    own = lowest == highest
    for on_port, _ in flat.values():
        own &= ~on_port[:n]
    return np.asarray(np.isin(label, lowest[own]))


def _one_wall(cosine: ArrayLike, both_wide: ArrayLike) -> NDArray[np.bool_]:
    """Whether facets that meet at an angle of this cosine are pieces of one curved wall."""
    return np.asarray(cosine > np.where(both_wide, math.cos(_SMOOTH), math.cos(_COARSE)))


def _corner_normals(
    cells: TetrahedralCells,
    facets: Numbers,
    normals: Array,
    flat: dict[str, tuple[NDArray[np.bool_], Array]],
    wide: NDArray[np.bool_],
) -> Array:
    """Normal (3, 3, k) of the curved wall at corner i of each facet."""
    count = facets.shape[1]
    corner = facets.ravel()
    order = np.argsort(corner, kind="stable")
    starts = np.searchsorted(corner[order], np.arange(cells.points.shape[1] + 1))
    a, b, c = (cells.points[:, v] for v in facets)
    areas = np.linalg.norm(np.cross(b - a, c - a, axis=0), axis=0)
    result = np.empty((3, 3, count))
    for i in range(3):
        for k in range(count):
            node = facets[i, k]
            around = order[starts[node] : starts[node + 1]] % count
            cosine = normals[:, around].T @ normals[:, k]
            alike = around[_one_wall(cosine, wide[around] & wide[k])]
            mean = normals[:, alike] @ areas[alike]
            for on_port, along in flat.values():
                if on_port[node]:
                    mean = mean - (mean @ along) * along
            result[:, i, k] = mean / np.linalg.norm(mean)
    return result


def _bent_edges(
    cells: TetrahedralCells,
    facets: Numbers,
    normals: Array,
    at_corner: Array,
    flat: dict[str, tuple[NDArray[np.bool_], Array]],
    wide: NDArray[np.bool_],
) -> tuple[Numbers, Array]:
    """Edges (2, m) of the wall and the shift (3, m) of their middles.

    Where two walls meet at an edge each asks for a shift along its own normal.
    """
    asked: dict[tuple[int, int], list[tuple[Array, Array, bool]]] = {}
    for k in range(facets.shape[1]):
        for i, j in ((0, 1), (1, 2), (0, 2)):
            first, second = facets[i, k], facets[j, k]
            along = cells.points[:, second] - cells.points[:, first]
            p, q = at_corner[:, i, k], at_corner[:, j, k]
            shift = -((along @ p) * p - (along @ q) * q) / 8
            asked.setdefault((int(first), int(second)), []).append(
                (normals[:, k], shift, bool(wide[k]))
            )
    edges = np.array(list(asked)).T
    bend = np.zeros((3, len(asked)))
    for m, ((first, second), claims) in enumerate(asked.items()):
        rows = [normal for normal, *_ in claims]
        right = [float(normal @ shift) for normal, shift, _ in claims]
        both_wide = np.array([claim[2] for claim in claims]).all()
        if len(claims) == 2 and _one_wall(rows[0] @ rows[1], both_wide):
            bend[:, m] = 0.5 * (claims[0][1] + claims[1][1])
            continue
        for on_port, along in flat.values():
            if on_port[first] and on_port[second]:
                rows, right = [*rows, along], [*right, 0.0]
        bend[:, m] = np.linalg.lstsq(np.array(rows), np.array(right), rcond=None)[0]
    return edges, bend


def _second_order(cells: TetrahedralCells, edges: Numbers, bend: Array) -> TetrahedralCells:
    n = cells.points.shape[1]
    first = np.concatenate([cells.tets[i] for i, _ in MIDDLES])
    second = np.concatenate([cells.tets[j] for _, j in MIDDLES])
    keys = np.minimum(first, second).astype(np.int64) * n + np.maximum(first, second)
    distinct, number = np.unique(keys, return_inverse=True)
    low, high = np.divmod(distinct, n)
    middles = 0.5 * (cells.points[:, low] + cells.points[:, high])
    middles[:, np.searchsorted(distinct, edges[0] * n + edges[1])] += bend
    tets = np.concatenate([cells.tets, n + number.reshape(6, -1)])
    return TetrahedralCells(np.concatenate([cells.points, middles], axis=1), tets, cells.groups)
