import math

import numpy as np
import pytest

from geometries.shapes.bends import Bend
from geometries.shapes.corners import Corner
from geometries.shapes.guides import CircularGuide, standard_guide
from geometries.shapes.straights import Straight
from geometries.shapes.twists import Twist
from solver.output.drawing import drawing_of

WR90 = standard_guide("WR-90")


def length(line):
    return np.linalg.norm(np.diff(line, axis=1), axis=0).sum()


@pytest.mark.parametrize(("plane", "width"), [("E", 10.16e-3), ("H", 22.86e-3)])
def test_a_bend_has_walls_at_half_the_width(plane, width):
    drawing = drawing_of(Bend(WR90, plane, math.radians(37), 0.045))
    outer, inner = drawing.walls
    np.testing.assert_allclose(np.linalg.norm(outer - inner, axis=0), width, rtol=1e-12)
    np.testing.assert_allclose((outer + inner) / 2, drawing.axis, atol=1e-15)
    # Axis length is R times the angle; a polygon of 90 chords is short by about 1e-5.
    assert length(drawing.axis) == pytest.approx(0.045 * math.radians(37), rel=1e-4)
    assert [length(port) for port in drawing.ports] == pytest.approx([width, width])


@pytest.mark.parametrize("angle", [30.0, 90.0, 140.0])
@pytest.mark.parametrize("cut", [0.0, 3e-3])
def test_a_corner_turns_by_its_angle_and_loses_its_cut(angle, cut):
    corner = Corner(WR90, "H", math.radians(angle), cut)
    drawing = drawing_of(corner)
    outer = drawing.walls[0]
    first, last = outer[:, 1] - outer[:, 0], outer[:, -1] - outer[:, -2]
    cosine = first @ last / np.linalg.norm(first) / np.linalg.norm(last)
    assert cosine == pytest.approx(math.cos(math.radians(angle)), abs=1e-9)
    chord = np.linalg.norm(outer[:, 2] - outer[:, 1])
    assert chord == pytest.approx(2 * cut * math.cos(math.radians(angle) / 2), abs=1e-12)
    assert [length(port) for port in drawing.ports] == pytest.approx([22.86e-3] * 2)


def test_a_straight_is_as_long_as_it_says():
    drawing = drawing_of(Straight(CircularGuide(0.027), 0.1))
    assert [length(wall) for wall in drawing.walls] == pytest.approx([0.1, 0.1])
    assert length(drawing.ports[0]) == pytest.approx(0.027)


def test_a_twist_is_shown_by_no_single_plane():
    assert drawing_of(Twist(WR90, 1.0, 0.05)) is None
