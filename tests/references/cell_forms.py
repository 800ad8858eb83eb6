"""Forms of another library on the solver's spaces: assembled cell by cell, then glued.

In a cell the shape functions are an element of scikit-fem; between cells the numbers and the signs
of the space join them. Hexahedra keep their exact map.
"""

import numpy as np
from scipy.sparse import csr_matrix
from skfem import CellBasis, FacetBasis, MeshHex
from skfem.element.element_hcurl import ElementHcurl
from skfem.mapping import Mapping
from skfem.refdom import RefHex, RefTet

from geometries.cells.hexahedral_mesh import HexahedralMesh
from solver.elements.conical_rules import triangle_rule


class CellElement(ElementHcurl):
    """The shape functions of an edge element, all counted as inside the cell."""

    def __init__(self, element, refdom):
        self.element, self.refdom = element, refdom
        self.maxdeg = element.order
        self.interior_dofs = element.size
        self.dofnames = ["u"] * element.size
        self.doflocs = np.full((element.size, 3), 0.25)

    def lbasis(self, X, i):
        if i == 0:  # all at once
            self.tables = self.element.values(X), self.element.curls(X)
        return self.tables[0][i], self.tables[1][i]

    def orient(self, mapping, i, tind=None):
        return np.ones(mapping.mesh.t.shape[1] if tind is None else len(tind))


class ExactMap(Mapping):
    """The map of hexahedra that follow a shape exactly."""

    def __init__(self, exact, mesh):
        self.exact, self.mesh = exact, mesh

    def _located(self, X, tind):
        cells = np.arange(self.exact.t.shape[1]) if tind is None else tind
        return self.exact.located(X, cells)

    def F(self, X, tind=None):  # noqa: N802
        return self._located(X, tind)[0]

    def DF(self, X, tind=None):  # noqa: N802
        return self._located(X, tind)[1]

    def invDF(self, X, tind=None):  # noqa: N802
        return np.moveaxis(np.linalg.inv(self.DF(X, tind).transpose(2, 3, 0, 1)), (0, 1), (2, 3))

    def detDF(self, X, tind=None):  # noqa: N802
        return np.linalg.det(self.DF(X, tind).transpose(2, 3, 0, 1))


def cell_basis(space, rule, cells=None):
    """Basis of a space's cells, each with functions of its own."""
    mesh = space.mesh
    if not isinstance(mesh, HexahedralMesh):
        element = CellElement(space.element, RefTet)
        return CellBasis(mesh, element, quadrature=rule, elements=cells)
    corners = (np.array([1, 2, 4]) @ RefHex.p).astype(int)
    plain = MeshHex(mesh.p, np.ascontiguousarray(mesh.t[corners]))
    element = CellElement(space.element, RefHex)
    mapping = ExactMap(mesh, plain)
    return CellBasis(plain, element, mapping, quadrature=rule, elements=cells)


def glued(space, basis, form, **fields):
    """What a form gives in the unknowns of the space, walls included."""
    local = basis.dofs.element_dofs.T
    signs = np.ones(local.shape) if space.signs is None else space.signs
    places = (local.ravel(), space.dofs.ravel())
    glue = csr_matrix((signs.ravel(), places), shape=(local.size, space.n_dofs))
    found = form.assemble(basis, **fields)
    return glue.T @ found if found.ndim == 1 else glue.T @ found @ glue


def on_faces(space, facets, rule, form, mode=None):
    """What a form on faces gives; `mode` takes points (3, ...) to a field (3, ...)."""
    all_cells, faces = space.facet_cells(facets)
    parts = []
    for face in np.unique(faces):
        X, tangents = space.face_points(face, rule[0])
        cells = all_cells[faces == face]
        basis = cell_basis(space, (X, rule[1]), cells)
        J = basis.mapping.DF(X, cells)
        along = np.einsum("iacq,at->ticq", J, tangents)
        normal = np.cross(along[0], along[1], axis=0)
        size = np.linalg.norm(normal, axis=0)
        fields = {"normal": normal / size, "area": size / np.abs(basis.mapping.detDF(X, cells))}
        if mode is not None:
            fields["mode"] = mode(np.asarray(basis.mapping.F(X, cells)))
        parts.append(glued(space, basis, form, **fields))
    return sum(parts)


def plane_basis(system, points):
    """Basis of a plane mesh's cells with so many points of Gauss along each direction."""
    x, w = np.polynomial.legendre.leggauss(points)
    x, w = 0.5 * (x + 1), 0.5 * w
    mesh = system.plane_mesh.mesh
    if mesh.t.shape[0] == 3:
        if system.element.p < 10:
            return CellBasis(mesh, system.element)
        rule = triangle_rule(points)  # beyond what scikit-fem has
        return CellBasis(mesh, system.element, quadrature=rule)
    rule = np.stack([c.ravel() for c in np.meshgrid(x, x, indexing="ij")]), np.outer(w, w).ravel()
    return CellBasis(mesh, system.element, quadrature=rule)


def plane_facets(system, name, points):
    """Basis of a boundary with so many points of Gauss on each facet."""
    x, w = np.polynomial.legendre.leggauss(points)
    mesh = system.plane_mesh.mesh
    rule = (0.5 * (x[None] + 1), 0.5 * w)
    return FacetBasis(mesh, system.element, facets=mesh.boundaries[name], quadrature=rule)


def in_unknowns(system, basis, form, **fields):
    """What a form in the plane gives in the unknowns that remain."""
    glue = unknowns_glue(system, basis)
    found = form.assemble(basis, **fields)
    return glue.T @ found if found.ndim == 1 else glue.T @ found @ glue


def unknowns_glue(system, basis):
    """Matrix from the unknowns that remain to all of a basis."""
    number = np.full(basis.N, -1)
    number[basis.dofs.element_dofs] = system.local
    free = np.flatnonzero(number >= 0)
    place = (free, number[free])
    return csr_matrix((np.ones(len(free)), place), shape=(basis.N, len(system.columns)))


def field_bases(system, points):
    """Bases of u and e of a vector field in the plane, with so many points of Gauss."""
    mesh, rule = system.plane_mesh.mesh, triangle_rule(points)
    parts = (system.element.scalar, system.element.edges)
    return [CellBasis(mesh, part, quadrature=rule) for part in parts]


def field_facets(system, name, points):
    """Bases of u and e on a boundary."""
    x, w = np.polynomial.legendre.leggauss(points)
    facets, rule = system.plane_mesh.mesh.boundaries[name], (0.5 * (x[None] + 1), 0.5 * w)
    parts = (system.element.scalar, system.element.edges)
    return [
        FacetBasis(system.plane_mesh.mesh, part, facets=facets, quadrature=rule) for part in parts
    ]


def field_glue(system, which, basis):
    """Matrix from the unknowns that remain to those of u (0) or e (1)."""
    number = np.full(basis.N, -1)
    number[basis.dofs.element_dofs] = system.local[system.element.places[which]]
    free = np.flatnonzero(number >= 0)
    place = (free, number[free])
    return csr_matrix((np.ones(len(free)), place), shape=(basis.N, len(system.columns)))
