"""Tetrahedra as plain arrays with named groups of boundary facets, before they become a mesh."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from types import ModuleType

import numpy as np

from geometries.arrays import Array, Numbers
from geometries.cells.hexahedral_mesh import distinct_points
from geometries.errors import MeshingError

#: Ends of the edges whose middles are the nodes 4 to 9 of a ten-node tetrahedron, as in gmsh.
MIDDLES = ((0, 1), (1, 2), (0, 2), (0, 3), (2, 3), (1, 3))
#: Corners opposite to which the four facets of a tetrahedron lie.
FACETS = ((1, 2, 3), (0, 2, 3), (0, 1, 3), (0, 1, 2))


@dataclass(frozen=True, eq=False)
class TetrahedralCells:
    """Tetrahedra of first or second order.

    Parameters
    ----------
    points : (3, n) array
        Nodes [m].
    tets : (4, m) or (10, m) array of int
        Nodes of the cells in gmsh's order.
    groups : mapping of str to (3, k) array of int
        Corners of the facets of each named group.
    """

    points: Array
    tets: Numbers
    groups: Mapping[str, Numbers]

    @property
    def curved(self) -> bool:
        """Whether the cells have nodes in the middle of their edges."""
        return len(self.tets) == 10

    def boundary(self) -> Numbers:
        """Sorted corners (3, k) of the facets that belong to one cell only."""
        facets = np.sort(np.concatenate([self.tets[list(f)] for f in FACETS], axis=1), axis=0)
        distinct, counts = np.unique(facets, axis=1, return_counts=True)
        return np.asarray(distinct[:, counts == 1])

    def middle_nodes(self, first: Numbers, second: Numbers) -> Numbers:
        """Middle nodes (k,) of edges between corners (k,), of second-order cells."""
        ends = np.concatenate([np.sort(self.tets[list(e)], axis=0) for e in MIDDLES], axis=1)
        n = self.points.shape[1]
        keys = ends[0].astype(np.int64) * n + ends[1]
        keys, where = np.unique(keys, return_index=True)
        wanted = np.minimum(first, second).astype(np.int64) * n + np.maximum(first, second)
        return np.asarray(self.tets[4:].ravel()[where[np.searchsorted(keys, wanted)]])

    def refined(self) -> TetrahedralCells:
        """Every cell cut into eight, on the same, possibly curved, shape."""
        nodes, children = _CHILDREN
        shapes = _shapes(nodes, self.curved)
        placed = np.einsum("inc,nq->icq", self.points[:, self.tets], shapes)
        points, number = distinct_points(placed.reshape(3, -1))
        number = number.reshape(self.tets.shape[1], -1)
        kept = children if self.curved else children[:4]
        tets = number[:, kept].transpose(1, 0, 2).reshape(len(kept), -1)
        return TetrahedralCells(points, tets, self._refined_groups(points))

    def _refined_groups(self, points: Array) -> dict[str, Numbers]:
        from scipy.spatial import cKDTree

        tree = cKDTree(points.T)
        groups = {}
        for name, (a, b, c) in self.groups.items():
            corners = [self.points[:, v] for v in (a, b, c)]
            ends = ((a, b), (b, c), (a, c))
            middles = [self._middle(first, second) for first, second in ends]
            p, q, r, pq, qr, pr = (tree.query(x.T)[1] for x in (*corners, *middles))
            small = [(p, pq, pr), (pq, q, qr), (pr, qr, r), (pq, qr, pr)]
            groups[name] = np.concatenate([np.stack(s) for s in small], axis=1)
        return groups

    def _middle(self, first: Numbers, second: Numbers) -> Array:
        if self.curved:
            return np.asarray(self.points[:, self.middle_nodes(first, second)])
        return np.asarray(0.5 * (self.points[:, first] + self.points[:, second]))


def read_tetrahedra(gmsh: ModuleType) -> TetrahedralCells:
    """Cells and named facets of the model that gmsh has meshed.

    Raises
    ------
    MeshingError
        If the cells are not all tetrahedra of one order.
    """
    types, _, nodes = gmsh.model.mesh.getElements(3)
    if len(types) != 1 or types[0] not in (4, 11):
        raise MeshingError(f"gmsh made cells of types {list(types)}, not tetrahedra of one order")
    tags, coordinates, _ = gmsh.model.mesh.getNodes()
    number = np.empty(int(tags.max()) + 1, dtype=np.int64)
    number[tags] = np.arange(len(tags))
    size = {4: 4, 11: 10}[int(types[0])]
    corners = {4: 3, 11: 6}[int(types[0])]
    groups = {}
    for dimension, group in gmsh.model.getPhysicalGroups(2):
        facets = [
            gmsh.model.mesh.getElements(2, entity)[2][0].reshape(-1, corners)[:, :3]
            for entity in gmsh.model.getEntitiesForPhysicalGroup(dimension, group)
        ]
        groups[gmsh.model.getPhysicalName(dimension, group)] = number[np.concatenate(facets)].T
    points = coordinates.reshape(-1, 3).T
    return TetrahedralCells(points, number[nodes[0]].reshape(-1, size).T, groups)


def _children() -> tuple[Array, Numbers]:
    """Nodes (4, 35), in quarters of barycentric coordinates, and children (10, 8) among them."""
    corner = np.eye(4)
    middle = {e: 0.5 * (corner[e[0]] + corner[e[1]]) for e in MIDDLES}
    # four corners are cut off; the octahedron left is cut along the diagonal 02-13
    m01, m12, m02, m03, m23, m13 = (middle[e] for e in MIDDLES)
    cells = [
        (corner[0], m01, m02, m03),
        (m01, corner[1], m12, m13),
        (m02, m12, corner[2], m23),
        (m03, m13, m23, corner[3]),
        (m02, m13, m01, m12),
        (m02, m13, m12, m23),
        (m02, m13, m23, m03),
        (m02, m13, m03, m01),
    ]
    nodes: list[tuple[float, ...]] = []
    children = np.empty((10, 8), dtype=np.int64)
    for c, vertices in enumerate(cells):
        if np.linalg.det(np.array(vertices)) < 0:
            vertices = (vertices[1], vertices[0], *vertices[2:])
        places = [*vertices, *(0.5 * (vertices[i] + vertices[j]) for i, j in MIDDLES)]
        for n, place in enumerate(tuple(p) for p in places):
            if place not in nodes:
                nodes.append(place)
            children[n, c] = nodes.index(place)
    return np.array(nodes).T, children


_CHILDREN = _children()


def _shapes(barycentric: Array, curved: bool) -> Array:
    """Shape functions (4 or 10, q) of a cell at barycentric coordinates (4, q)."""
    if not curved:
        return barycentric
    corners = barycentric * (2 * barycentric - 1)
    middles = [4 * barycentric[i] * barycentric[j] for i, j in MIDDLES]
    return np.concatenate([corners, np.stack(middles)])
