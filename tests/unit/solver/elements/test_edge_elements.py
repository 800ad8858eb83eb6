"""The Nedelec tetrahedra: dual basis, space, continuity, and scikit-fem's own lowest order."""

from math import comb

import numpy as np
import pytest
from numpy.polynomial import legendre
from skfem import BilinearForm, ElementTetN1, InteriorBasis, MeshTet1, MeshTet2
from skfem.helpers import curl, dot
from skfem.refdom import RefTet

from solver.elements.conical_rules import tetrahedron_rule
from solver.elements.edge_elements import ElementTetNedelec
from solver.fem.edge_assembly import curl_and_mass_matrices
from solver.fem.edge_space import edge_space

ORDERS = (1, 2, 3, 4)


@BilinearForm
def curl_curl(u, v, _):
    return dot(curl(u), curl(v))


@BilinearForm
def mass(u, v, _):
    return dot(u, v)


def two_cells(curved=False):
    """Two skewed tetrahedra with the face 1-2-3 in common."""
    p = np.array([[0.0, 1.1, 0.1, 0.2, 0.9], [0.1, 0.0, 1.2, 0.1, 0.8], [0.0, 0.2, -0.1, 0.9, 1.1]])
    mesh = MeshTet1(p, np.array([[0, 1, 2, 3], [1, 2, 3, 4]]).T)
    if not curved:
        return mesh
    mesh = MeshTet2.from_mesh(mesh)
    bent = mesh.doflocs.copy()
    bent[:, 5:] += 0.04 * np.random.default_rng(71).standard_normal(bent[:, 5:].shape)
    return MeshTet2(bent, mesh.t)


@pytest.mark.parametrize("order", ORDERS)
def test_number_of_shape_functions(order):
    element = ElementTetNedelec(order)
    counts = 6 * element.edge_dofs + 4 * element.facet_dofs + element.interior_dofs
    assert element.size == counts == {1: 6, 2: 20, 3: 45, 4: 84}[order]


@pytest.mark.parametrize("order", ORDERS)
def test_edge_moments_are_dual(order):
    """Each edge function has one Legendre moment, on its own edge; all others have none."""
    element = ElementTetNedelec(order)
    nodes, weights = legendre.leggauss(order + 2)
    s = (nodes + 1) / 2
    scaled = np.sqrt(2 * np.arange(order) + 1)[:, None] * legendre.legvander(nodes, order - 1).T
    for edge, (a, b) in enumerate(RefTet.edges):
        tangent = RefTet.p[:, b] - RefTet.p[:, a]
        X = RefTet.p[:, [a]] + np.outer(tangent, s)
        along = np.einsum("ncq,c->nq", element.values(X), tangent)
        moments = along @ (weights / 2 * scaled).T
        expected = np.zeros((element.size, order))
        expected[edge * order : (edge + 1) * order] = np.eye(order)
        np.testing.assert_allclose(np.abs(moments), expected, atol=1e-11)


@pytest.mark.parametrize("order", ORDERS)
def test_tangential_trace_vanishes_on_the_faces_a_function_is_not_of(order):
    element = ElementTetNedelec(order)
    st = np.array([[0.2, 0.5, 0.1], [0.3, 0.1, 0.7]])
    n_edges = 6 * element.edge_dofs
    for face, corners in enumerate(RefTet.facets):
        origin, first, second = RefTet.p[:, corners].T
        tangents = np.stack([first - origin, second - origin])
        along = np.einsum(
            "ncq,tc->ntq", element.values(origin[:, None] + tangents.T @ st), tangents
        )
        for other in range(4):
            if other != face and element.facet_dofs:
                start = n_edges + other * element.facet_dofs
                assert np.abs(along[start : start + element.facet_dofs]).max() < 1e-11
        inside = along[n_edges + 4 * element.facet_dofs :]
        assert np.abs(inside).max(initial=0.0) < 1e-11


@pytest.mark.parametrize("order", ORDERS)
def test_space_holds_polynomials_and_its_curls_have_the_right_dimension(order):
    """P_{p-1}^3 lies in the space, P_p^3 does not; gradients in it come from degree p."""
    element = ElementTetNedelec(order)
    X, _ = tetrahedron_rule(order + 2)
    values = element.values(X).reshape(element.size, -1)
    x, y, z = X
    inside = np.stack([x ** (order - 1), y ** (order - 1), (x - z) ** (order - 1)]).ravel()
    outside = np.stack([x**order, 0 * y, 0 * z]).ravel()
    for field, low, high in ((inside, 0.0, 1e-10), (outside, 1e-3, np.inf)):
        fitted = np.linalg.lstsq(values.T, field, rcond=None)[0] @ values
        assert low <= np.abs(fitted - field).max() <= high
    rank = np.linalg.matrix_rank(element.curls(X).reshape(element.size, -1), tol=1e-8)
    assert element.size - rank == comb(order + 3, 3) - 1


@pytest.mark.parametrize("order", ORDERS)
def test_curls_are_the_derivatives_of_the_values(order):
    element = ElementTetNedelec(order)
    X = np.array([[0.2, 0.4], [0.3, 0.1], [0.1, 0.3]])
    step = 1e-5
    slopes = [
        (element.values(X + step * e[:, None]) - element.values(X - step * e[:, None])) / (2 * step)
        for e in np.eye(3)
    ]
    expected = np.stack(
        [slopes[a][:, b] - slopes[b][:, a] for a, b in ((1, 2), (2, 0), (0, 1))], axis=1
    )
    scale = np.abs(expected).max()
    np.testing.assert_allclose(element.curls(X), expected, atol=1e-7 * scale)


@pytest.mark.parametrize("curved", [False, True])
@pytest.mark.parametrize("order", ORDERS)
def test_tangential_field_is_continuous_across_a_face(order, curved):
    mesh = two_cells(curved)
    space = edge_space(mesh, order)
    x = np.random.default_rng(19).standard_normal(space.n_dofs)
    s, t = np.array([[0.2, 0.6, 0.1], [0.3, 0.2, 0.8]])
    in_first = np.stack([1 - s - t, s, t])
    in_second = np.stack([s, t, 0 * s])
    points, left = space.electric_field(x, in_first, np.array([0]))
    same, right = space.electric_field(x, in_second, np.array([1]))
    np.testing.assert_allclose(points, same, atol=1e-13)
    normal = _surface_normal(mesh, in_second)
    jump = np.cross(normal, left[:, 0] - right[:, 0], axis=0)
    assert np.abs(jump).max() < 1e-10 * np.abs(left).max()
    assert np.abs(left - right).max() > 1e-3 * np.abs(left).max()


def _surface_normal(mesh, X):
    """Normals of cell 1's face of local corners 0, 1, 2, from its isoparametric map."""
    jacobian = np.einsum(
        "in,naq->iaq",
        mesh.doflocs[:, mesh.dofs.element_dofs[:, 1]],
        np.stack(
            [
                mesh.elem().lbasis(X, i)[1] * np.ones((1, 3))
                for i in range(len(mesh.dofs.element_dofs))
            ]
        ),
    )
    normal = np.cross(jacobian[:, 0], jacobian[:, 1], axis=0)
    return normal / np.linalg.norm(normal, axis=0)


def test_lowest_order_is_that_of_scikit_fem():
    mesh = MeshTet1.init_tensor(*(np.linspace(0, length, 3) for length in (1.0, 0.8, 0.6)))
    mesh = MeshTet1(mesh.p, np.sort(mesh.t, axis=0))
    basis = InteriorBasis(mesh, ElementTetN1(), intorder=4)
    K, M = curl_and_mass_matrices(edge_space(mesh, 1))
    for ours, form in ((K, curl_curl), (M, mass)):
        theirs = form.assemble(basis)
        assert abs(ours - theirs).max() < 1e-12 * abs(theirs).max()


@pytest.mark.parametrize("curved", [False, True])
@pytest.mark.parametrize("order", [2, 3])
def test_fast_assembly_agrees_with_scikit_fems(order, curved):
    mesh = two_cells(curved)
    X, weights = tetrahedron_rule(order + 2)
    basis = InteriorBasis(mesh, ElementTetNedelec(order), quadrature=(X, weights))
    space = edge_space(mesh, order)
    np.testing.assert_array_equal(basis.dofs.element_dofs.T, space.dofs)
    for ours, form in zip(curl_and_mass_matrices(space), (curl_curl, mass), strict=True):
        theirs = form.assemble(basis)
        assert abs(ours - theirs).max() < 1e-11 * abs(theirs).max()


def test_unsorted_cells_are_refused():
    mesh = MeshTet1(two_cells().p, np.array([[1, 0, 2, 3]]).T)
    with pytest.raises(ValueError, match="ascending"):
        edge_space(mesh, 2)
    with pytest.raises(ValueError, match="ascending"):
        InteriorBasis(mesh, ElementTetNedelec(2), intorder=4)


@pytest.mark.parametrize("order", [0, 7])
def test_orders_out_of_range_are_refused(order):
    with pytest.raises(ValueError, match=f"order is {order}; it must be from 1 to 6"):
        ElementTetNedelec(order)
