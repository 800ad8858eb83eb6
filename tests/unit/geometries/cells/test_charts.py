"""Exact maps: against differences of the positions themselves, and there and back."""

import math

import numpy as np
import pytest

from geometries.cells.charts import BentChart, PlainChart, SweptChart
from geometries.shapes.bends import Bend
from geometries.shapes.guides import RectangularGuide

GUIDE = RectangularGuide(6e-3, 3e-3)
BENT = [
    BentChart(Bend(GUIDE, "H", math.radians(d), 8e-3, "smooth", o))
    for d, o in ((20.0, 0.05), (90.0, 0.3), (180.0, 0.5))
]
CHARTS = [SweptChart(8e-3, math.radians(d)) for d in (1.0, 90.0, 180.0)]


def scattered(chart, seed=0):
    """Points on feeds and arc, up to 0.9 R from the axis, none at the arc's ends."""
    rng = np.random.default_rng(seed)
    length = chart.arc_length
    s = np.concatenate(
        [
            rng.uniform(-9e-3, -1e-4, 20),
            rng.uniform(0.01, 0.99, 40) * length,
            rng.uniform(1e-4, 9e-3, 20) + length,
        ]
    )
    return np.stack([s, rng.uniform(-0.9, 0.9, len(s)) * chart.mean_radius])


def jacobian(chart, points, step=1e-9):
    """d(position)/d(s, t) by central differences, (2, 2, n)."""
    sides = [
        (chart.position(points + h) - chart.position(points - h)) / (2 * step)
        for h in (np.array([[step], [0.0]]), np.array([[0.0], [step]]))
    ]
    return np.stack(sides, axis=1)


@pytest.mark.parametrize("chart", [*CHARTS, *BENT, PlainChart()])
def test_weights_are_those_of_the_map(chart):
    points = scattered(CHARTS[1]) * [[1.0], [0.5]]
    j = np.moveaxis(jacobian(chart, points), -1, 0)
    det = np.abs(np.linalg.det(j))  # t points to the right of s: the map turns a plane over
    inverse = np.linalg.inv(j)
    tensor = det[:, None, None] * inverse @ np.swapaxes(inverse, 1, 2)
    (a11, a12, a22), mass = chart.weights(points)
    assert mass == pytest.approx(det, rel=1e-6)
    assert a11 == pytest.approx(tensor[:, 0, 0], rel=1e-6)
    assert a12 == pytest.approx(tensor[:, 0, 1], abs=1e-6)
    assert a22 == pytest.approx(tensor[:, 1, 1], rel=1e-6)
    assert chart.stretch(points) == pytest.approx(np.linalg.norm(j[:, :, 0], axis=1), rel=1e-6)


@pytest.mark.parametrize("chart", CHARTS)
def test_development_undoes_position(chart):
    points = scattered(chart)
    assert chart.development(chart.position(points)) == pytest.approx(points, abs=1e-15)


@pytest.mark.parametrize("chart", CHARTS)
def test_axis_starts_along_x_and_turns_left_through_the_angle(chart):
    step = 1e-6
    start, end = np.array([[0.0], [0.0]]), np.array([[chart.arc_length], [0.0]])
    along = np.array([[step], [0.0]])
    before = (chart.position(start) - chart.position(start - along)) / step
    after = (chart.position(end + along) - chart.position(end)) / step
    assert before[:, 0] == pytest.approx([1.0, 0.0])
    assert after[:, 0] == pytest.approx([math.cos(chart.angle), math.sin(chart.angle)])
    chord = np.linalg.norm(chart.position(end) - chart.position(start))
    assert chord == pytest.approx(2 * chart.mean_radius * math.sin(chart.angle / 2))


def test_outside_of_the_bend_is_positive():
    chart = CHARTS[1]
    outer = chart.position(np.array([[chart.arc_length / 2], [1e-3]]))
    centre = np.array([[0.0], [chart.mean_radius]])
    assert np.linalg.norm(outer - centre) == pytest.approx(chart.mean_radius + 1e-3)
