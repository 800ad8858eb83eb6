"""The half-plane about a bare horn: its complex map by differences, areas, the slit."""

import numpy as np
import pytest

from geometries.plane_meshes.bare_horn_mesh import BareChart, mesh_bare_horn, stands_free
from geometries.shapes.guides import CircularGuide
from geometries.shapes.horns import ConicalHorn

THROAT, APERTURE, LENGTH = 12e-3, 20e-3, 45e-3
FRONT, BACK, SIDE = 8e-3, 9e-3, 31e-3
CHART = BareChart(THROAT, APERTURE, LENGTH, FRONT, BACK, SIDE, 1 - 2j)
HORN = ConicalHorn(CircularGuide(2 * THROAT), 2 * APERTURE, LENGTH, rim="bare")
TUBE = ConicalHorn(CircularGuide(2 * THROAT), 2 * THROAT, 0.0, rim="bare")


def places():
    """In guide, flare and layer ahead; beside them outside; in the layers beside and behind."""
    far = LENGTH + BACK + 6e-3
    s = [-LENGTH - 4e-3, -20e-3, FRONT + 5e-3, 3e-3, -20e-3, -LENGTH - 4e-3, -20e-3, -far, -far]
    t = [10e-3, 15e-3, 9e-3, 25e-3, 26e-3, 24e-3, SIDE + 5e-3, SIDE + 5e-3, 10e-3]
    return np.array([s, t])


def test_slopes_are_derivatives_of_the_complex_coordinates():
    at, step = places(), 1e-8
    found = CHART.slopes(at)
    for axis in range(2):
        move = step * np.eye(2)[:, axis : axis + 1]
        exact = (CHART.coordinates(at + move) - CHART.coordinates(at - move)) / (2 * step)
        np.testing.assert_allclose(found[:, axis], exact, rtol=1e-6, atol=1e-7)


def test_weights_are_those_of_the_map():
    """Stiffness det J^-1 J^-T / r and mass det / r, J by `slopes`, r complex in the layer."""
    at = places()
    tensor, mass = CHART.weights(at)
    jacobian = np.moveaxis(CHART.slopes(at), (0, 1), (-2, -1))
    det, r = np.linalg.det(jacobian), CHART.coordinates(at)[1]
    inverse = np.linalg.inv(jacobian)
    exact = (det / r)[:, None, None] * inverse @ np.swapaxes(inverse, 1, 2)
    np.testing.assert_allclose(tensor, [exact[:, 0, 0], exact[:, 0, 1], exact[:, 1, 1]], rtol=1e-9)
    np.testing.assert_allclose(mass, det / r, rtol=1e-12)


def test_only_the_layers_are_complex_and_the_guide_behind_is_none():
    z, r = CHART.coordinates(places())
    complex_z = np.abs(z.imag) > 0
    np.testing.assert_array_equal(complex_z, [0, 0, 1, 0, 0, 0, 0, 1, 0])
    complex_r = np.abs(r.imag) > 0
    np.testing.assert_array_equal(complex_r, [0, 0, 0, 0, 0, 0, 1, 1, 0])
    # a depth of 5 mm counts (1 - 2j) times
    assert z[2] == pytest.approx(FRONT + (1 - 2j) * 5e-3)
    assert r[6] == pytest.approx(SIDE + (1 - 2j) * 5e-3)
    free = stands_free(CHART, CHART.position(places()))
    np.testing.assert_array_equal(free, ~(complex_z | complex_r))
    assert stands_free(object(), np.zeros((2, 3))).all()


def test_both_sides_of_the_wall_lie_on_it():
    s = np.array([-LENGTH - 5e-3, -LENGTH, -0.4 * LENGTH, 0.0])
    exact = np.interp(s, [-LENGTH, 0.0], [THROAT, APERTURE])
    for t in (APERTURE * (1 - 1e-12), APERTURE, APERTURE * (1 + 1e-12)):
        z, r = CHART.position(np.array([s, np.full_like(s, t)]))
        np.testing.assert_allclose(r, exact, rtol=1e-9)
        np.testing.assert_allclose(z, s)
    slant = np.hypot(LENGTH, APERTURE - THROAT) / LENGTH
    assert CHART.stretch(np.array([[-0.4 * LENGTH], [APERTURE]]))[0] == pytest.approx(slant)


@pytest.mark.parametrize("horn", [HORN, TUBE])
@pytest.mark.parametrize("refinement", [0, 1])
def test_the_mesh_covers_all_but_the_wall(horn, refinement):
    found = mesh_bare_horn(horn, (25e-3, 32e-3), refinement)
    mesh, chart = found.mesh, found.chart
    corners = mesh.p[:, mesh.t]
    low, high = corners.min(axis=1), corners.max(axis=1)
    node, weight = np.polynomial.legendre.leggauss(4)
    p, q = (x.ravel() for x in np.meshgrid((node + 1) / 2, (node + 1) / 2))
    at = low[:, :, None] + (high - low)[:, :, None] * np.stack([p, q])[:, None]
    det = np.linalg.det(np.moveaxis(chart.slopes(at), (0, 1), (-2, -1))).real
    flat = np.prod(high - low, axis=0)[:, None] * np.outer(weight, weight).ravel() / 4
    assert (det > 0).all()
    # all of a rectangle: behind, a guide as long as its feed and what is outside it
    (front, side), back = mesh.p.max(axis=1), mesh.p[0].min()
    (port,) = found.ports
    feed = horn.length + port.feed_length
    a, b = horn.guide.radius, horn.opening_radius
    inside = a * port.feed_length + horn.length * (a + b) / 2
    outside = side * -back - a * (-back - horn.length) - horn.length * (a + b) / 2
    assert (flat * det).sum() == pytest.approx(front * side + inside + outside, rel=1e-9)
    # the wall is a slit: points on either side of it, one at its edge
    on_wall = np.isclose(mesh.p[1], b) & (mesh.p[0] > -feed + 1e-9)
    s, count = np.unique(np.round(mesh.p[0, on_wall], 9), return_counts=True)
    assert set(count[s > 0]) <= {1} and count[s == 0.0] == 1
    names = np.concatenate(list(mesh.boundaries.values()))
    assert sorted(names) == sorted(mesh.boundary_facets())
    at_port = mesh.p[:, mesh.facets[:, mesh.boundaries["port1"]]]
    np.testing.assert_allclose(at_port[0], -feed)
    assert at_port[1].max() == pytest.approx(b) and (mesh.p[0].min() < -feed) == (back < -feed)
