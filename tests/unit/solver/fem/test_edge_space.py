"""Boundaries, port columns, energies and fields of edge spaces."""

import numpy as np
import pytest
from scipy.sparse import diags_array, triu
from scipy.sparse.linalg import spsolve
from skfem import MeshTet1

from geometries.cells.hexahedral_mesh import Block, hexahedral_mesh
from geometries.cells.tetrahedral_mesh import tetrahedral_mesh
from geometries.errors import MeshingError
from solver.fem.block_pattern import upper_parts
from solver.fem.edge_assembly import curl_and_mass_matrices, port_columns
from solver.fem.edge_pencil import edge_pencil
from solver.fem.edge_space import cofactor_matrices, edge_space
from tests.references import weak_forms as forms
from tests.references.cell_forms import on_faces

SIZE = np.array([1.0, 0.7, 1.3])


def hexahedral_box(cells=(2, 1, 2), sides=None):
    stretch = np.diag(SIZE)

    def mapping(parameters):
        slopes = np.repeat(stretch[:, :, None], parameters.shape[1], axis=2)
        return stretch @ parameters, slopes

    breaks = tuple(np.linspace(0.0, 1.0, n + 1) for n in cells)
    sides = {"w0": "port1", "w1": "port2"} if sides is None else sides
    return hexahedral_mesh([Block(breaks, mapping, sides)])


def tetrahedral_box(cells=(2, 1, 2)):
    plain = MeshTet1.init_tensor(
        *(np.linspace(0.0, length, n + 1) for length, n in zip(SIZE, cells, strict=True))
    )
    middle = plain.p[2][plain.facets].mean(axis=0)
    ends = {
        name: plain.facets[:, np.isclose(middle, z)]
        for name, z in (("port1", 0.0), ("port2", SIZE[2]))
    }
    return tetrahedral_mesh(plain.p, plain.t, ends)


BOXES = pytest.mark.parametrize("box", [hexahedral_box, tetrahedral_box])


def field(X):
    """A field of second degree that both elements of order 3 hold exactly."""
    x, y, z = X
    return np.stack([y * z + 1.0, x**2 - z, x * y - 0.5 * y])


def field_curl(X):
    x, y, z = X
    return np.stack([x - 0.5 + 1.0, y - y, 2 * x - z])


def with_walls(space, permittivity=1.0):
    """Both matrices of every unknown, lower triangles too."""
    every = np.arange(space.n_dofs)
    return [m + triu(m, 1).T for m in edge_pencil(space, every, permittivity)]


def interpolated(space):
    """Unknowns of `field`, by least squares over the cells."""
    X, weights = space.cell_rule(space.order + 2)
    cells = np.arange(space.n_cells)
    points, jacobians = space.located(X, cells)
    cofactors = cofactor_matrices(jacobians)
    pulled = np.einsum("iacq,icq->acq", cofactors, field(points))
    loads = np.einsum("naq,acq,q->cn", space.element.values(X), pulled, weights)
    determinants = np.einsum("icq,icq->cq", jacobians[:, 0], cofactors[:, 0])
    loads *= np.sign(determinants[:, :1])
    if space.signs is not None:
        loads *= space.signs
    right = np.zeros(space.n_dofs)
    np.add.at(right, space.dofs, loads)
    return spsolve(with_walls(space)[1].tocsc(), right)


@BOXES
def test_energies_of_a_polynomial_field(box):
    space = edge_space(box(), 3)
    K, M = with_walls(space)
    x = interpolated(space)
    s, w = np.polynomial.legendre.leggauss(4)
    grid = np.meshgrid(*((s + 1) / 2 * length for length in SIZE), indexing="ij")
    volume = np.einsum("i,j,k->ijk", w, w, w) * np.prod(SIZE) / 8
    assert x @ M @ x == pytest.approx((volume * (field(grid) ** 2).sum(axis=0)).sum(), rel=1e-10)
    curl = (volume * (field_curl(grid) ** 2).sum(axis=0)).sum()
    assert x @ K @ x == pytest.approx(curl, rel=1e-10)


@BOXES
def test_field_and_curl_are_given_back(box):
    space = edge_space(box(), 3)
    x = interpolated(space)
    X = np.array([[0.1, 0.3], [0.2, 0.1], [0.4, 0.3]])
    points, found = space.electric_field(x, X)
    np.testing.assert_allclose(found, field(points), atol=1e-10)
    points, found = space.curl(x, X, np.array([1, 3]))
    assert found.shape == (3, 2, 2)
    np.testing.assert_allclose(found, field_curl(points), atol=1e-9)


@BOXES
def test_port_columns_integrate_the_tangential_field(box):
    space = edge_space(box(), 3)
    columns = port_columns(
        space, "port2", lambda X: np.stack([[X[0], 0 * X[0], X[1] + 9.0], [0j * X[0], X[1], X[2]]])
    )
    a, b, z = SIZE
    first = z * b**2 / 2 * a**2 / 2 + b * a**2 / 2
    second = (a**3 / 3 - z * a) * b**2 / 2
    found = columns.T @ interpolated(space)
    np.testing.assert_allclose(found, [first, second], rtol=1e-10)
    off = np.setdiff1d(np.arange(space.n_dofs), space.facet_dofs(space.mesh.boundaries["port2"]))
    assert not columns[off].any()


@BOXES
@pytest.mark.parametrize("order", [1, 2])
def test_wall_unknowns_are_those_of_the_closed_boundary(box, order):
    """Independent count: the tangential mass over the walls has no empty row there."""
    space = edge_space(box(), order)
    rule = space.face_rule(order + 2)
    rows = on_faces(space, space.wall_facets, rule, forms.tangential_mass).diagonal()
    np.testing.assert_array_equal(np.flatnonzero(rows > 1e-14 * rows.max()), space.wall_dofs)
    assert len(space.wall_dofs) + len(space.free_dofs) == space.n_dofs


def test_magnetic_walls_are_open():
    closed = edge_space(hexahedral_box(), 2)
    opened = edge_space(
        hexahedral_box(sides={"w0": "port1", "w1": "port2", "u0": "magnetic", "v0": "side"}), 2
    )
    assert len(closed.wall_facets) - len(opened.wall_facets) == 2


def test_material_of_each_cell_weights_the_mass():
    space = edge_space(hexahedral_box((1, 1, 2)), 2)
    K, M = with_walls(space)
    only = np.array([1.0, 0.0])
    parts = [with_walls(space, eps) for eps in (2.0 * only, 1.0 - only)]
    assert abs(parts[0][1] / 2.0 + parts[1][1] - M).max() < 1e-14
    assert abs(parts[0][0] - K).max() == 0.0


def test_a_boundary_without_facets_is_refused():
    space = edge_space(hexahedral_box(), 2)
    space.mesh.boundaries["port3"] = np.empty(0, dtype=int)
    with pytest.raises(MeshingError, match="'port3' has no facets"):
        port_columns(space, "port3", lambda X: X[None])


def test_upper_parts_keep_the_triangle_of_the_kept_unknowns():
    space = edge_space(tetrahedral_box(), 2)
    K, M = curl_and_mass_matrices(space)
    kept = space.free_dofs
    for upper, full in zip(upper_parts(kept, K, M), (K, M), strict=True):
        expected = full[kept][:, kept].toarray()
        mirrored = upper + upper.T - diags_array(upper.diagonal())
        np.testing.assert_array_equal(mirrored.toarray(), expected)
        np.testing.assert_array_equal(np.triu(upper.toarray()), upper.toarray())
