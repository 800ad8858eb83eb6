"""The half-plane of a conical horn: its map by differences, areas, the half sphere."""

import math

import numpy as np
import pytest

from geometries.plane_meshes.horn_mesh import HornChart, mesh_horn
from geometries.shapes.guides import CircularGuide
from geometries.shapes.horns import ConicalHorn

THROAT, APERTURE, LENGTH = 12e-3, 20e-3, 45e-3
CHART = HornChart(THROAT, APERTURE, LENGTH)
HORN = ConicalHorn(CircularGuide(2 * THROAT), 2 * APERTURE, LENGTH)
TUBE = ConicalHorn(CircularGuide(2 * THROAT), 2 * THROAT, 0.0)


def places():
    """Points (s, t) in the guide, the flare, the cylinder, beside it and on top of it."""
    h, w, a = CHART.cylinder, CHART.shell, APERTURE
    return np.array(
        [
            [-LENGTH - 5e-3, -0.3 * LENGTH, 0.5 * h, 0.4 * h, h + 0.3 * w, h + 0.8 * w],
            [0.5 * a, 0.7 * a, 0.3 * a, a + 0.4 * w, 0.2 * a, 0.9 * a],
        ]
    )


def test_slopes_are_derivatives_of_the_position():
    at, step = places(), 1e-8
    found = CHART.slopes(at)
    for axis in range(2):
        move = step * np.eye(2)[:, axis : axis + 1]
        exact = (CHART.position(at + move) - CHART.position(at - move)) / (2 * step)
        np.testing.assert_allclose(found[:, axis], exact, rtol=1e-6, atol=1e-7)


def test_weights_are_those_of_the_map():
    """Stiffness det J^-1 J^-T / r and mass det / r, J by `slopes`."""
    at = places()
    tensor, mass = CHART.weights(at)
    jacobian = np.moveaxis(CHART.slopes(at), (0, 1), (-2, -1))
    det, r = np.linalg.det(jacobian), CHART.position(at)[1]
    inverse = np.linalg.inv(jacobian)
    exact = (det / r)[:, None, None] * inverse @ np.swapaxes(inverse, 1, 2)
    np.testing.assert_allclose(tensor, [exact[:, 0, 0], exact[:, 0, 1], exact[:, 1, 1]], rtol=1e-9)
    np.testing.assert_allclose(mass, det / r, rtol=1e-12)
    assert (det > 0).all()


def test_the_end_of_the_mesh_is_the_half_sphere():
    h, w, a = CHART.cylinder, CHART.shell, APERTURE
    share = np.linspace(0.0, 1.0, 9)
    for name, along, points in (
        ("side", share * (h + w), lambda x: np.stack([x, np.full_like(x, a + w)])),
        ("top", share * (a + w), lambda x: np.stack([np.full_like(x, h + w), x])),
    ):
        z, r = CHART.position(points(along))
        np.testing.assert_allclose(np.hypot(z, r), CHART.sphere, rtol=1e-12)
        angle, rate = CHART.polar_angle(name, along)
        np.testing.assert_allclose(angle, np.arctan2(r, z), atol=1e-12)
        step = 1e-7
        ahead, behind = (CHART.polar_angle(name, along + x)[0] for x in (step, -step))
        np.testing.assert_allclose(rate, np.abs(ahead - behind) / (2 * step), rtol=1e-6)


def test_walls_are_stretched_to_their_length():
    # the flare is the hypotenuse
    flare = CHART.stretch(np.array([[-0.5 * LENGTH], [APERTURE]]))
    assert flare[0] * LENGTH == pytest.approx(math.hypot(LENGTH, APERTURE - THROAT), rel=1e-12)
    assert CHART.stretch(np.array([[-LENGTH - 1e-3], [APERTURE]]))[0] == pytest.approx(1.0)
    # the wall beyond the aperture, from its edge to the sphere
    node, weight = np.polynomial.legendre.leggauss(8)
    t = APERTURE + CHART.shell * (node + 1) / 2
    beyond = CHART.stretch(np.stack([np.zeros_like(t), t])) @ weight / 2 * CHART.shell
    assert beyond == pytest.approx(CHART.sphere - APERTURE, rel=1e-9)


@pytest.mark.parametrize("horn", [HORN, TUBE])
@pytest.mark.parametrize("refinement", [0, 1])
def test_area_and_boundaries_of_a_mesh(horn, refinement):
    found = mesh_horn(horn, 25e-3, refinement)
    mesh, chart = found.mesh, found.chart
    node, weight = np.polynomial.legendre.leggauss(6)
    corners = mesh.p[:, mesh.t]
    low, size = corners.min(axis=1), np.ptp(corners, axis=1)
    x, y = np.meshgrid((node + 1) / 2, (node + 1) / 2)
    both = np.outer(weight, weight).ravel() / 4
    # the cells of the shell are no rectangles: bilinear in their corners
    shape = np.stack([(1 - x) * (1 - y), x * (1 - y), x * y, (1 - x) * y]).reshape(4, -1)
    by_x = np.stack([y - 1, 1 - y, y, -y]).reshape(4, -1)
    by_y = np.stack([x - 1, -x, x, 1 - x]).reshape(4, -1)
    at, d1, d2 = (np.einsum("icn,cq->inq", corners, f) for f in (shape, by_x, by_y))
    assert (size > 0).all() and np.isfinite(low).all()
    flat = np.abs(d1[0] * d2[1] - d1[1] * d2[0])
    det = np.linalg.det(np.moveaxis(chart.slopes(at), (0, 1), (-2, -1)))
    area = float((flat * det * both).sum())
    # guide, flare, quarter of a disc
    a, b = horn.guide.radius, horn.aperture_diameter / 2
    exact = a * found.ports[0].feed_length + horn.length * (a + b) / 2
    assert area == pytest.approx(exact + math.pi * chart.sphere**2 / 4, rel=1e-6)
    every = np.concatenate(list(mesh.boundaries.values()))
    assert sorted(every) == sorted(mesh.boundary_facets())
    assert set(mesh.boundaries) == {"axis", "port1", "side", "top", "wall"}
    z, r = chart.position(mesh.p[:, mesh.facets[:, mesh.boundaries["wall"]]])
    metal = np.where(z > 1e-12, np.nan, np.where(z < -horn.length, a, b + (b - a) * z / LENGTH))
    # on the wall of guide or flare, or beyond the aperture in the plane z = 0
    on_wall = np.isclose(r, metal, rtol=1e-9) | (np.isclose(z, 0.0, atol=1e-12) & (r >= b - 1e-12))
    assert on_wall.all()
