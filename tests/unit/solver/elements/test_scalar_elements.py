"""Scalar elements: span, gradients, traces, and the degree that each function claims."""

import numpy as np
import pytest
from skfem import MeshQuad, MeshTri
from skfem.assembly import Dofs

from solver.elements.scalar_elements import ElementQuadHierarchical, ElementTriHierarchical

TRIANGLES = [ElementTriHierarchical(p) for p in (1, 2, 3, 6)]
QUADS = [ElementQuadHierarchical(p) for p in (3, 6)]


def points_in(element, count=400, seed=1):
    x = np.random.default_rng(seed).uniform(size=(2, count))
    triangle = isinstance(element, ElementTriHierarchical)
    return np.where(x.sum(axis=0) > 1, 1 - x, x) if triangle else x


def values(element, x):
    return np.stack([element.lbasis(x, i)[0] for i in range(len(element.degrees()))])


def monomials(x, degree, *, total):
    pairs = [(i, j) for i in range(degree + 1) for j in range(degree + 1)]
    return np.stack([x[0] ** i * x[1] ** j for i, j in pairs if not total or i + j <= degree])


@pytest.mark.parametrize("element", TRIANGLES + QUADS)
def test_functions_of_each_degree_span_exactly_its_polynomials(element):
    """All of degree p on a triangle; of degree p in each coordinate on a quadrilateral."""
    x = points_in(element)
    all_values = values(element, x)
    triangle = isinstance(element, ElementTriHierarchical)
    for degree in range(1, element.p + 1):
        mine = all_values[element.degrees() <= degree]
        wanted = monomials(x, degree, total=triangle)
        assert len(mine) == len(wanted) == np.linalg.matrix_rank(mine.T)
        missed = wanted - (wanted @ np.linalg.pinv(mine)) @ mine
        assert np.abs(missed).max() < 1e-9


@pytest.mark.parametrize("element", TRIANGLES + QUADS)
def test_gradients_are_those_of_the_values(element):
    x, step = 0.1 + 0.3 * points_in(element, 20), 1e-6
    for i in range(len(element.degrees())):
        _, slope = element.lbasis(x, i)
        for axis in (0, 1):
            h = step * np.eye(2)[:, axis, None]
            change = element.lbasis(x + h, i)[0] - element.lbasis(x - h, i)[0]
            assert slope[axis] == pytest.approx(change / (2 * step), abs=1e-7)


def test_triangle_functions_vanish_away_from_what_carries_them():
    element = ElementTriHierarchical(5)
    t = np.linspace(0, 1, 9)
    edges = [np.stack([t, 0 * t]), np.stack([1 - t, t]), np.stack([0 * t, t])]
    vertices = np.array([[0.0, 1.0, 0.0], [0.0, 0.0, 1.0]])
    value = values(element, vertices)
    np.testing.assert_allclose(value, np.eye(len(value), 3), atol=1e-14)
    per = element.facet_dofs
    for number, edge in enumerate(edges):
        value = values(element, edge)
        own = range(3 + number * per, 3 + (number + 1) * per)
        others = [i for i in range(3, len(value)) if i not in own]
        assert np.abs(value[others]).max() < 1e-14
        assert np.linalg.matrix_rank(value[list(own)]) == per


@pytest.mark.parametrize("kind", [MeshTri, MeshQuad])
def test_functions_of_neighbours_agree_on_the_shared_edge(kind):
    mesh = kind.init_tensor(np.array([0.0, 0.4, 1.0]), np.array([0.0, 0.7, 1.0]))
    if kind is MeshTri:
        mesh = MeshTri(mesh.p, np.sort(mesh.t, axis=0))
        element = ElementTriHierarchical(5)
    else:
        element = ElementQuadHierarchical(5)
    coefficients = np.random.default_rng(3).normal(size=Dofs(mesh, element).N)
    dofs, mapping = Dofs(mesh, element).element_dofs, mesh._mapping()
    for facet in np.flatnonzero(mesh.f2t[1] >= 0):
        a, b = mesh.p[:, mesh.facets[:, facet]].T
        x = a[:, None] + (b - a)[:, None] * np.linspace(0.05, 0.95, 7)
        sides = []
        for cell in mesh.f2t[:, facet]:
            local = mapping.invF(x[:, None], tind=np.array([cell]))[:, 0]
            sides.append(coefficients[dofs[:, cell]] @ values(element, local))
        assert sides[0] == pytest.approx(sides[1], abs=1e-12)


def test_quadrilaterals_of_low_degree_are_refused():
    with pytest.raises(ValueError, match="at least 3"):
        ElementQuadHierarchical(2)
