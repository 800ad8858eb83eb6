"""Cross-sections: refusals, re-entrant corners, exact charts and meshes."""

import math

import numpy as np
import pytest

from geometries.errors import InvalidDimensionError
from geometries.guides import CircularGuide, RectangularGuide
from geometries.round_chart import RoundChart
from geometries.section_meshes import section_mesh
from geometries.sections import CoaxialSection, PolygonSection, RidgedSection

GUIDE = RectangularGuide(0.02, 0.01)


@pytest.mark.parametrize(
    ("make", "message"),
    [
        (lambda: CoaxialSection(3e-3, 2e-3), "inner_diameter"),
        (lambda: CoaxialSection(0.0, 2e-3), "inner_diameter"),
        (lambda: CoaxialSection(1e-3, math.inf), "outer_diameter"),
        (lambda: RidgedSection(GUIDE, 0.03, 0.004), "ridge_width"),
        (lambda: RidgedSection(GUIDE, 0.005, 0.01), "gap"),
        (lambda: RidgedSection(GUIDE, 0.005, 0.004, ridges=3), "ridges"),
        (lambda: PolygonSection(((0, 0), (1, 0))), "three or more"),
        (lambda: PolygonSection(((0, 0), (1, 1), (1, 0), (0, 1))), "cross"),
        (lambda: PolygonSection(((0, 0), (0, 0), (1, 0), (0, 1))), "cross"),
    ],
)
def test_what_no_metal_can_have_is_refused(make, message):
    with pytest.raises(InvalidDimensionError, match=message):
        make()


@pytest.mark.parametrize(("ridges", "corners"), [(1, 2), (2, 4)])
def test_ridges_have_two_reentrant_corners_each(ridges, corners):
    polygon = RidgedSection(GUIDE, 0.005, 0.004, ridges).polygon
    assert len(polygon.reentrant) == corners
    turned_round = PolygonSection(polygon.vertices[::-1])
    assert len(turned_round.reentrant) == corners


@pytest.mark.parametrize("chart", [RoundChart(0.0, 2.0), RoundChart(0.7, 2.0)])
def test_the_chart_has_the_derivatives_it_says_and_keeps_the_area(chart):
    low = 1.0 if chart.inner_radius else 0.0
    points = np.random.default_rng(8).uniform(-1, 1, (2, 400)) * (2.0 if low else 1.0)
    points = points[:, np.abs(points).max(axis=0) > low]
    step = 1e-6
    for axis in range(2):
        shift = step * np.eye(2)[:, axis : axis + 1]
        slope = (chart.position(points + shift) - chart.position(points - shift)) / (2 * step)
        close = np.abs(chart.jacobian(points)[:, axis] - slope).max(axis=0) < 1e-6
        assert close.mean() > 0.99  # a few points straddle a diagonal
    assert (chart.weights(points)[1] > 0).all()


@pytest.mark.parametrize("section", [CircularGuide(0.03), CoaxialSection(0.01, 0.03)])
def test_round_meshes_lie_between_their_circles(section):
    mesh = section_mesh(section, 0.01)
    radius = np.hypot(*mesh.chart.position(mesh.mesh.p))
    outer = np.unique(mesh.mesh.facets[:, mesh.mesh.boundaries["wall"]])
    on_circles = np.unique(np.round(radius[outer], 9))
    expected = [0.015] if isinstance(section, CircularGuide) else [0.005, 0.015]
    np.testing.assert_allclose(on_circles, expected, rtol=1e-7)
