"""Swept meshes lie on the exact shape: derivatives, volumes, sections, ports."""

import math

import numpy as np
import pytest
from numpy.testing import assert_allclose

from geometries.errors import InvalidDimensionError, MeshingError
from geometries.shapes.bends import Bend
from geometries.shapes.corners import Corner
from geometries.shapes.dents import Dent
from geometries.shapes.guides import CircularGuide, RectangularGuide, standard_guide
from geometries.shapes.straights import Straight
from geometries.shapes.tapers import Taper
from geometries.shapes.transitions import Transition
from geometries.shapes.twists import Twist
from geometries.space_meshes.swept_blocks import swept_mesh

WR90 = standard_guide("WR-90")
A, B = WR90.broad_width, WR90.narrow_height
LARGER = RectangularGuide(28.499e-3, 12.624e-3)
WAVELENGTH = 24.177e-3
FEEDS = (10e-3, 12e-3)

PARTS = {
    "straight": Straight(WR90, 40e-3),
    "round straight": Straight(CircularGuide(27e-3), 40e-3),
    "E bend": Bend(WR90, "E", math.radians(90), 30e-3),
    "H bend": Bend(WR90, "H", math.radians(37), 30e-3),
    "smooth E bend": Bend(WR90, "E", math.radians(90), 20e-3, "smooth", 0.3),
    "smooth H bend": Bend(WR90, "H", math.pi, 32e-3, "smooth", 0.5),
    "tight bend": Bend(WR90, "E", math.pi, 6e-3),
    "twist": Twist(WR90, math.radians(90), 40e-3),
    "smooth twist": Twist(WR90, math.radians(360), 80e-3, "raised-cosine"),
    "twist of smooth onset": Twist(WR90, math.radians(90), 40e-3, "smooth", 0.1),
    "taper": Taper(WR90, LARGER, 40e-3),
    "exponential taper": Taper(WR90, LARGER, 40e-3, "exponential"),
    "raised-cosine taper": Taper(WR90, LARGER, 40e-3, "raised-cosine"),
    "Klopfenstein taper": Taper(LARGER, WR90, 40e-3, "klopfenstein"),
    "Hecken taper": Taper(WR90, LARGER, 40e-3, "hecken"),
    "transition": Transition(WR90, 27e-3, 40e-3),
    "narrow transition": Transition(RectangularGuide(20e-3, 2e-3), 50e-3, 20e-3),
    "broad dent": Dent(WR90, "broad", 2e-3, 20e-3, 10e-3),
    "narrow dent": Dent(WR90, "narrow", 2e-3, 20e-3, B),
}
EACH = [pytest.param(part, id=name) for name, part in PARTS.items()]


def cell_points(count=6):
    """Gauss points (3, n) of the unit cube and weights (n,)."""
    x, w = np.polynomial.legendre.leggauss(count)
    grids = np.meshgrid(*[(x + 1) / 2] * 3, indexing="ij")
    return np.stack([g.ravel() for g in grids]), np.einsum("i,j,k->ijk", w, w, w).ravel() / 8


def determinants(jacobians):
    return np.linalg.det(np.moveaxis(jacobians, (0, 1), (-2, -1)))


def volume_of(mesh):
    points, weights = cell_points()
    _, jacobians = mesh.located(points, np.arange(mesh.t.shape[1]))
    return float(np.sum(determinants(jacobians) * weights))


@pytest.mark.parametrize("part", EACH)
@pytest.mark.parametrize("refinement", [0, 1])
def test_derivatives_are_those_of_the_points_and_no_cell_is_folded(part, refinement):
    mesh = swept_mesh(part, wavelength=WAVELENGTH, refinement=refinement, feeds=FEEDS).mesh
    cells = np.arange(mesh.t.shape[1])
    corners = np.stack([g.ravel() for g in np.meshgrid(*[[1e-6, 0.4, 1 - 1e-6]] * 3)])
    _, slopes = mesh.located(corners, cells)
    det = determinants(slopes)
    assert np.all(det.min(axis=1) > 0.001 * det.max(axis=1))
    step = 1e-6
    for axis in range(3):
        shift = step * np.eye(3)[:, [axis]]
        there, back = (mesh.located(corners + s, cells)[0] for s in (shift, -shift))
        assert_allclose((there - back) / (2 * step), slopes[:, axis], atol=1e-11)


@pytest.mark.parametrize("part", EACH)
def test_ports_are_flat_and_framed_by_their_guide(part):
    swept = swept_mesh(part, wavelength=WAVELENGTH, feeds=FEEDS)
    for port, feed in zip(swept.ports, FEEDS, strict=True):
        corners = np.unique(swept.mesh.facets[:, swept.mesh.boundaries[port.name]])
        points = swept.mesh.p[:, corners]
        from_port = points - port.origin[:, None]
        assert_allclose(port.outward @ from_port, 0, atol=1e-15)
        inside = swept.mesh.p - port.origin[:, None]
        if not (isinstance(part, Bend) and part.angle > 2):
            assert np.all(port.outward @ inside < 1e-15)
        x, y = port.coordinates(points)
        if isinstance(port.guide, CircularGuide):
            assert_allclose(np.hypot(x, y).max(), port.guide.radius, rtol=1e-14)
        else:
            assert_allclose(np.abs(x).max(), port.guide.broad_width / 2, rtol=1e-14)
            assert_allclose(np.abs(y).max(), port.guide.narrow_height / 2, rtol=1e-14)
        axis = np.cross(port.x_axis, port.y_axis)
        assert_allclose(axis, port.outward * (-1 if port.name == "port1" else 1), atol=1e-15)
        assert port.feed_length == feed
    assert_allclose(swept.ports[0].origin, [0, 0, -FEEDS[0]], atol=1e-15)


def area(guide):
    if isinstance(guide, CircularGuide):
        return math.pi * guide.radius**2
    return guide.broad_width * guide.narrow_height


def log_mean(first, last):
    return (last - first) / math.log(last / first)


def polygon_area(x, y):
    return 0.5 * abs(np.sum(x * np.roll(y, -1) - np.roll(x, -1) * y))


def loft_outline(part, fraction, count=4000):
    """Polygon of a cross-section, from the words that define the ruled loft."""
    a, b = part.guide.broad_width, part.guide.narrow_height
    phi, radius = math.atan(b / a), part.to_diameter / 2
    eta = np.linspace(-1, 1, count, endpoint=False)
    narrow = np.stack([np.full(count, a / 2), eta * b / 2]), phi * eta
    broad = np.stack([-eta * a / 2, np.full(count, b / 2)]), math.pi / 2 + (math.pi / 2 - phi) * eta
    half = [
        (1 - fraction) * side + fraction * radius * np.stack([np.cos(angle), np.sin(angle)])
        for side, angle in (narrow, broad)
    ]
    return np.concatenate([*half, *(-piece for piece in half)], axis=1)


def loft_volume(part):
    """Simpson's rule over the cross-section, which is a quadratic of the position."""
    areas = [polygon_area(*loft_outline(part, t)) for t in (0, 0.5, 1)]
    return part.length / 6 * (areas[0] + 4 * areas[1] + areas[2])


def dent_volume(part):
    return part.depth * part.length * part.width / 4


def volumes():
    """Part and volume between its ends, each from a closed form."""
    da, db = LARGER.broad_width - A, LARGER.narrow_height - B
    parts = PARTS
    # The axis of a bend passes through the centroids: Pappus.
    yield "E bend", A * B * 30e-3 * math.radians(90)
    yield "H bend", A * B * 30e-3 * math.radians(37)
    yield "tight bend", A * B * 6e-3 * math.pi
    yield "straight", A * B * 40e-3
    yield "round straight", math.pi * 13.5e-3**2 * 40e-3
    yield "twist", A * B * 40e-3
    yield "smooth twist", A * B * 80e-3
    yield "taper", 40e-3 * (A * B + (A * db + B * da) / 2 + da * db / 3)
    yield "exponential taper", 40e-3 * log_mean(area(WR90), area(LARGER))
    # The mean of (t - sin(2 pi t)/(2 pi))^2 is 1/3 + 1/(8 pi^2) + 1/(2 pi^2).
    square = 1 / 3 + 5 / (8 * math.pi**2)
    yield "raised-cosine taper", 40e-3 * (A * B + (A * db + B * da) / 2 + da * db * square)
    yield "broad dent", A * B * 20e-3 - dent_volume(parts["broad dent"])
    yield "narrow dent", A * B * 20e-3 - dent_volume(parts["narrow dent"])
    yield "transition", loft_volume(parts["transition"])
    yield "narrow transition", loft_volume(parts["narrow transition"])


@pytest.mark.parametrize(
    ("name", "inside"), [pytest.param(*case, id=case[0]) for case in volumes()]
)
@pytest.mark.parametrize("refinement", [0, 1])
def test_volume_is_that_of_the_metal(name, inside, refinement):
    part = PARTS[name]
    swept = swept_mesh(part, wavelength=WAVELENGTH, refinement=refinement, feeds=FEEDS)
    feeds = sum(area(port.guide) * port.feed_length for port in swept.ports)
    tolerance = 1e-6 if "transition" in name else 1e-9
    assert volume_of(swept.mesh) - feeds == pytest.approx(inside, rel=tolerance)


def test_wall_of_a_transition_lies_on_the_ruled_loft():
    part = PARTS["transition"]
    swept = swept_mesh(part, wavelength=WAVELENGTH, refinement=1, feeds=(0, 0))
    mesh = swept.mesh
    wall = np.setdiff1d(mesh.boundary_facets(), np.concatenate(list(mesh.boundaries.values())))
    x, y, z = mesh.p[:, np.unique(mesh.facets[:, wall])]
    for height in np.unique(np.round(z, 9)):
        outline = loft_outline(part, height / part.length)
        for i in np.flatnonzero(abs(z - height) < 1e-9):
            gap = np.hypot(outline[0] - x[i], outline[1] - y[i]).min()
            assert gap < 1e-5


def test_turned_frames_at_the_second_port():
    twist = swept_mesh(PARTS["twist"], wavelength=WAVELENGTH, feeds=(0, 0)).ports[1]
    assert_allclose([twist.x_axis, twist.y_axis], [[0, 1, 0], [-1, 0, 0]], atol=1e-15)
    assert_allclose(twist.origin, [0, 0, 40e-3])
    bend = swept_mesh(PARTS["E bend"], wavelength=WAVELENGTH, feeds=(0, 5e-3)).ports[1]
    assert_allclose([bend.x_axis, bend.y_axis], [[1, 0, 0], [0, 0, 1]], atol=1e-15)
    assert_allclose(bend.origin, [0, -35e-3, 30e-3], atol=1e-15)


def test_without_feeds_the_ports_are_the_ends_of_the_part():
    swept = swept_mesh(PARTS["taper"], wavelength=WAVELENGTH, feeds=(0.0, 0.0))
    assert_allclose([swept.mesh.p[2].min(), swept.mesh.p[2].max()], [0, 40e-3])
    section = swept.description["cells_in_section"]
    assert [len(swept.mesh.boundaries[name]) for name in ("port1", "port2")] == [section] * 2


def test_cells_follow_wavelength_and_refinement():
    counts = [
        swept_mesh(PARTS["twist"], wavelength=w, refinement=r, feeds=FEEDS).description["cells"]
        for w, r in ((2 * WAVELENGTH, 0), (WAVELENGTH, 0), (WAVELENGTH / 4, 0), (WAVELENGTH, 1))
    ]
    assert counts[0] <= counts[1] < counts[3] < counts[2]
    assert counts[1] < 25


def test_unusable_requests_are_refused():
    with pytest.raises(MeshingError, match="a corner is not a swept part"):
        swept_mesh(Corner(WR90, "E", 1.0), wavelength=WAVELENGTH, feeds=FEEDS)
    with pytest.raises(InvalidDimensionError, match=r"feeds is -0\.001"):
        swept_mesh(PARTS["twist"], wavelength=WAVELENGTH, feeds=(-1e-3, 0))
