"""Edge elements on triangles: span, curls, traces, and gradients of the scalar ones."""

import numpy as np
import pytest
from scipy.linalg import eigh
from skfem import Basis, BilinearForm, MeshTri
from skfem.helpers import curl, dot

from solver.elements.plane_edges import ElementTriEdges, ElementTriField, field_tables

POINTS = np.random.default_rng(2).dirichlet([1, 1, 1], 300)[:, :2].T


def monomials(x, degree):
    return [x[0] ** i * x[1] ** (k - i) for k in range(degree + 1) for i in range(k + 1)]


@pytest.mark.parametrize("degree", [1, 2, 3, 6])
def test_functions_of_each_degree_span_exactly_the_space_of_nedelec(degree):
    element = ElementTriEdges(degree)
    count = len(element.degrees())
    ours = np.array([element.lbasis(POINTS, i)[0].ravel() for i in range(count)])
    for p in range(1, degree + 1):
        mine = ours[element.degrees() <= p]
        zero = np.zeros(POINTS.shape[1])
        below = monomials(POINTS, p - 1)
        wanted = [np.stack([m, zero]) for m in below] + [np.stack([zero, m]) for m in below]
        # and the homogeneous ones of degree p - 1 times the turned place
        top = monomials(POINTS, p - 1)[-p:]
        wanted += [np.stack([-POINTS[1] * m, POINTS[0] * m]) for m in top]
        wanted = np.array([w.ravel() for w in wanted])
        assert len(mine) == p * (p + 2) == np.linalg.matrix_rank(wanted)
        missed = wanted - (wanted @ np.linalg.pinv(mine)) @ mine
        assert np.abs(missed).max() < 1e-9


def test_curls_are_those_of_the_functions():
    element, step = ElementTriEdges(4), 1e-6
    for i in range(len(element.degrees())):
        moved = [
            (element.lbasis(POINTS + step * d, i)[0] - element.lbasis(POINTS - step * d, i)[0])
            / (2 * step)
            for d in np.eye(2)[:, :, None]
        ]
        by_hand = moved[0][1] - moved[1][0]
        assert element.lbasis(POINTS, i)[1] == pytest.approx(by_hand, abs=1e-7)


def test_gradients_of_the_scalar_functions_are_among_them():
    _, slopes, fields, _ = field_tables(5, POINTS)
    u, e = ElementTriField(5).places
    wanted, mine = (x.reshape(len(x), -1) for x in (slopes[u], fields[e]))
    missed = wanted - (wanted @ np.linalg.pinv(mine)) @ mine
    assert np.abs(missed).max() < 1e-9


def test_a_square_resonates_where_it_must():
    """Curl-curl on the unit square: pi^2 (m^2 + n^2), and a zero for each scalar unknown inside."""
    mesh = MeshTri.init_sqsymmetric().with_boundaries({})
    mesh = MeshTri(mesh.p, np.sort(mesh.t, axis=0))
    basis = Basis(mesh, ElementTriEdges(6), intorder=14)
    k = BilinearForm(lambda e, f, _: curl(e) * curl(f)).assemble(basis)
    m = BilinearForm(lambda e, f, _: dot(e, f)).assemble(basis)
    inside = basis.complement_dofs(basis.get_dofs())
    values = eigh(k[inside][:, inside].todense(), m[inside][:, inside].todense(), eigvals_only=True)
    found = values[values > 1e-6][:6] / np.pi**2
    np.testing.assert_allclose(found, [1, 1, 2, 4, 4, 5], rtol=1e-5)
