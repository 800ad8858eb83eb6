"""Spaces of edge elements on a mesh: numbering, boundaries, and fields from coefficients.

A mesh is a sorted `skfem.MeshTet1` or `skfem.MeshTet2` or a `geometries.HexahedralMesh`. Boundary
facets carry no condition (a port, open space, a magnetic wall) if they belong to a boundary whose
name starts with "port" or "open" or equals "magnetic"; all others are electric walls. Facets of the
boundary `SHEET` lie between cells and are electric walls too.
"""

from collections.abc import Iterable
from dataclasses import dataclass
from functools import cached_property
from typing import Any

import numpy as np

from geometries.arrays import Numbers
from geometries.cells.hexahedral_mesh import EDGES, FACE_AXES, FACES, HexahedralMesh
from geometries.cells.space_ports import SHEET
from solver.elements.conical_rules import cube_rule, square_rule, tetrahedron_rule, triangle_rule
from solver.elements.edge_hexahedra import HexNedelec
from solver.fem.block_pattern import BlockPattern, block_pattern


@dataclass(frozen=True)
class EdgeSpace:
    """Edge elements of one order on a mesh.

    Parameters
    ----------
    mesh : skfem.MeshTet1, skfem.MeshTet2 or HexahedralMesh
        Cells with named boundaries.
    element : ElementTetNedelec or HexNedelec
        Shape functions of the reference cell.
    dofs : (n_cells, size) array of int
        Number of each cell's unknowns.
    signs : (n_cells, size) array of float or None
        Sign of each cell's shape functions; None if all are +1.
    local_entities : (size,) array of int
        Edge, face (counted after the edges) or inside to which a shape function belongs.
    n_dofs : int
        Number of unknowns, walls included.
    """

    mesh: Any
    element: Any
    dofs: np.ndarray
    signs: np.ndarray | None
    local_entities: np.ndarray
    n_dofs: int

    @property
    def order(self) -> int:
        """Order of the element."""
        return self.element.order

    @property
    def n_cells(self) -> int:
        """Number of cells."""
        return len(self.dofs)

    @property
    def n_local_edges(self) -> int:
        """Number of edges of a cell."""
        return self.mesh.t2e.shape[0]

    @cached_property
    def wall_facets(self) -> np.ndarray:
        """Numbers of the facets on electric walls: of the boundary, and sheets between cells."""
        boundaries = self.mesh.boundaries or {}
        opened = [f for name, f in boundaries.items() if is_open(name)]
        walls = self.mesh.boundary_facets()
        if opened:
            walls = np.setdiff1d(walls, np.concatenate(opened))
        return np.union1d(walls, boundaries[SHEET]) if SHEET in boundaries else walls

    @cached_property
    def metal_facets(self) -> np.ndarray:
        """Those of `wall_facets` that are no electric mirror, the boundary ``electric``."""
        mirror = (self.mesh.boundaries or {}).get("electric", np.empty(0, dtype=int))
        return np.setdiff1d(self.wall_facets, mirror)

    @cached_property
    def wall_dofs(self) -> np.ndarray:
        """Unknowns that an electric wall sets to zero, ascending."""
        return self.facet_dofs(self.wall_facets)

    @cached_property
    def free_dofs(self) -> np.ndarray:
        """Unknowns that remain, ascending."""
        return np.setdiff1d(np.arange(self.n_dofs), self.wall_dofs)

    def facet_dofs(self, facets: np.ndarray) -> np.ndarray:
        """Unknowns (n,) on some facets and their edges, ascending."""
        cells, faces = self.facet_cells(facets)
        numbers = [
            self.dofs[cells[faces == f]][:, self.face_functions(f)].ravel()
            for f in range(self.mesh.t2f.shape[0])
        ]
        return np.unique(np.concatenate(numbers))

    def facet_cells(self, facets: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
        """One cell (n,) at each facet and the facet's local number (n,) in that cell."""
        t2f = self.mesh.t2f
        place = np.empty(t2f.max() + 1, dtype=np.int64)
        place[t2f.ravel()] = np.arange(t2f.size)
        faces, cells = np.divmod(place[facets], t2f.shape[1])
        return cells, faces

    def face_functions(self, face: int) -> np.ndarray:
        """Local shape functions (n,) that have a tangential part on a local face."""
        entities = [*_face_edges(self.mesh)[face], self.n_local_edges + face]
        return np.flatnonzero(np.isin(self.local_entities, entities))

    def face_points(self, face: int, st: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
        """Reference points (3, n) and two tangents (3, 2) of a local face at (s, t)."""
        origin, first, second = _face_corners(self.mesh, face)
        tangents = np.stack([first - origin, second - origin], axis=1)
        return origin[:, None] + tangents @ st, tangents

    def face_rule(self, points: int) -> tuple[np.ndarray, np.ndarray]:
        """Quadrature rule of a face with some points along each direction."""
        return square_rule(points) if _is_hexahedral(self.mesh) else triangle_rule(points)

    def cell_rule(self, points: int) -> tuple[np.ndarray, np.ndarray]:
        """Quadrature rule of a cell with some points along each direction."""
        return cube_rule(points) if _is_hexahedral(self.mesh) else tetrahedron_rule(points)

    @cached_property
    def pattern(self) -> BlockPattern:
        """Sparsity pattern of the space's matrices."""
        mesh, element = self.mesh, self.element
        edges, facets, cells = mesh.edges.shape[1], mesh.facets.shape[1], self.n_cells
        sizes = np.repeat(
            [element.edge_dofs, element.facet_dofs, element.interior_dofs], [edges, facets, cells]
        )
        starts = np.concatenate([[0], np.cumsum(sizes)])
        return block_pattern(_cell_entities(mesh), starts, self.local_entities, self.dofs)

    def coefficients(self, x: np.ndarray, cells: np.ndarray) -> np.ndarray:
        """Coefficients (c, size, ...) of the shape functions of some cells from unknowns x."""
        local = x[self.dofs[cells]]
        if self.signs is None:
            return local
        signs = self.signs[cells]
        return local * signs.reshape(signs.shape + (1,) * (local.ndim - 2))

    def located(self, X: np.ndarray, cells: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
        """Points (3, c, n) [m] and Jacobians (3, 3, c, n) [m] of cells at reference points."""
        if _is_hexahedral(self.mesh):
            return self.mesh.located(X, cells)
        return _located_tetrahedra(self.mesh, X, cells)

    def electric_field(
        self, x: np.ndarray, X: np.ndarray, cells: np.ndarray | None = None
    ) -> tuple[np.ndarray, np.ndarray]:
        """Field of a vector of unknowns.

        Parameters
        ----------
        x : (n_dofs,) array
            Unknowns, walls included.
        X : (3, n) array
            Reference points, the same in every cell.
        cells : (c,) array of int, optional
            Cells; all by default.

        Returns
        -------
        (3, c, n) array, (3, c, n) array
            Points [m] and field in Cartesian components.
        """
        cells = np.arange(self.n_cells) if cells is None else cells
        points, jacobians = self.located(X, cells)
        covariant = np.einsum("ci,iaq->acq", self.coefficients(x, cells), self.element.values(X))
        cofactors = cofactor_matrices(jacobians)
        determinants = np.einsum("icq,icq->cq", jacobians[:, 0], cofactors[:, 0])
        return points, np.einsum("iacq,acq->icq", cofactors / determinants, covariant)

    def curl(
        self, x: np.ndarray, X: np.ndarray, cells: np.ndarray | None = None
    ) -> tuple[np.ndarray, np.ndarray]:
        """Curl of the field of a vector of unknowns; arguments as in `electric_field`."""
        cells = np.arange(self.n_cells) if cells is None else cells
        points, jacobians = self.located(X, cells)
        reference = np.einsum("ci,iaq->acq", self.coefficients(x, cells), self.element.curls(X))
        determinants = np.einsum("icq,icq->cq", jacobians[:, 0], cofactor_matrices(jacobians)[:, 0])
        return points, np.einsum("iacq,acq->icq", jacobians, reference) / determinants


def edge_space(mesh: Any, order: int) -> EdgeSpace:
    """Number the edge elements of an order on a mesh.

    Parameters
    ----------
    mesh : skfem.MeshTet1, skfem.MeshTet2 or HexahedralMesh
        Cells; the vertices of tetrahedra must be sorted.
    order : int
        Order p of the element, 1 to 6 on tetrahedra and 1 to 12 on hexahedra.

    Returns
    -------
    EdgeSpace

    Raises
    ------
    ValueError
        If the order is out of range or a tetrahedron is not sorted.
    """
    if _is_hexahedral(mesh):
        element = HexNedelec(order)
        local_entities = element.layout[0]
        ranks, signs = element.orientation(mesh.t)
    else:
        from solver.elements.edge_elements import ElementTetNedelec, require_sorted

        require_sorted(mesh.t)
        element = ElementTetNedelec(order)
        counts = [element.edge_dofs] * 6 + [element.facet_dofs] * 4 + [element.interior_dofs]
        local_entities = np.repeat(np.arange(11), counts)
        ranks, signs = np.concatenate([np.arange(n) for n in counts])[None], None
    sizes = np.array([element.edge_dofs, element.facet_dofs, element.interior_dofs])
    numbers = np.array([mesh.edges.shape[1], mesh.facets.shape[1], mesh.t.shape[1]])
    starts = np.repeat(sizes, numbers).cumsum() - np.repeat(sizes, numbers)
    dofs = starts[_cell_entities(mesh)[:, local_entities]] + ranks
    return EdgeSpace(mesh, element, dofs, signs, local_entities, int(sizes @ numbers))


def places_in_next(space: EdgeSpace, following: EdgeSpace) -> Numbers:
    """Places (f,) of a space's free unknowns among the free ones of the next order's space.

    Parameters
    ----------
    space, following : EdgeSpace
        Of orders p and p + 1 on one mesh of hexahedra, whose functions are nested.

    Raises
    ------
    ValueError
        For tetrahedra, whose functions are not.
    """
    if not isinstance(space.element, HexNedelec):
        raise ValueError("the edge elements of tetrahedra are not nested")
    where = np.empty(space.n_dofs, dtype=np.int64)
    where[space.dofs.ravel()] = following.dofs[:, space.element.places_in_next].ravel()
    number = np.full(following.n_dofs, -1, dtype=np.int64)
    number[following.free_dofs] = np.arange(len(following.free_dofs))
    return number[where[space.free_dofs]]


def is_open(name: str) -> bool:
    """Whether boundaries of this name carry no condition: ports, open space, magnetic walls."""
    return name.startswith(("port", "open")) or name == "magnetic"


def cofactor_matrices(J: np.ndarray) -> np.ndarray:
    """Cofactors (3, 3, ...) of matrices (3, 3, ...): the inverse transposed times det."""
    return np.stack(
        [np.cross(J[:, (a + 1) % 3], J[:, (a + 2) % 3], axis=0) for a in range(3)], axis=1
    )


def _is_hexahedral(mesh: Any) -> bool:
    return isinstance(mesh, HexahedralMesh)


def _cell_entities(mesh: Any) -> np.ndarray:
    """Return the blocks (n_cells, n_local) of each cell: its edges, its faces, its inside."""
    edges, facets = mesh.edges.shape[1], mesh.facets.shape[1]
    inside = np.arange(mesh.t.shape[1])[None] + edges + facets
    return np.concatenate([mesh.t2e, mesh.t2f + edges, inside]).T.astype(np.int64)


def _face_edges(mesh: Any) -> list[list[int]]:
    """Return the local edges of each local face."""
    if _is_hexahedral(mesh):
        edges: Iterable = EDGES
        faces: Iterable = FACES
    else:
        edges, faces = mesh.refdom.edges, mesh.refdom.facets
    return [[e for e, ends in enumerate(edges) if set(ends) <= set(face)] for face in faces]


def _face_corners(mesh: Any, face: int) -> np.ndarray:
    """Return the origin and the two neighbouring corners (3, 3) of a local face."""
    if not _is_hexahedral(mesh):
        return mesh.refdom.p[:, mesh.refdom.facets[face]].T
    normal, side = divmod(face, 2)
    corners = np.zeros((3, 3))
    corners[:, normal] = side
    corners[[1, 2], FACE_AXES[normal]] += 1.0
    return corners


def _located_tetrahedra(
    mesh: Any, X: np.ndarray, cells: np.ndarray
) -> tuple[np.ndarray, np.ndarray]:
    """Return points (3, c, n) and Jacobians (3, 3, c, n) of straight or curved tetrahedra."""
    shapes = [mesh.elem().lbasis(X, i) for i in range(len(mesh.dofs.element_dofs))]
    nodes = mesh.doflocs[:, mesh.dofs.element_dofs[:, cells]]
    values = np.stack([value * np.ones(X.shape[1]) for value, _ in shapes])
    slopes = np.stack([slope * np.ones((1, X.shape[1])) for _, slope in shapes])
    points = np.einsum("inc,nq->icq", nodes, values, optimize=True)
    return points, np.einsum("inc,naq->iacq", nodes, slopes, optimize=True)
