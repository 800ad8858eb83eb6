"""Corners: where the outer walls meet, and how far a cut may go."""

import math

import numpy as np
import pytest

from geometries.errors import InvalidDimensionError
from geometries.shapes.corners import Corner
from geometries.shapes.guides import RectangularGuide

GUIDE = RectangularGuide(22.86e-3, 10.16e-3)


def outer_point(width, angle):
    """Where the two outer walls meet: the walls as lines, solved; inner edge at the origin."""
    walls = np.array([[0.0, 1.0], [math.sin(angle), -math.cos(angle)]])
    return np.linalg.solve(walls, [-width, width])


@pytest.mark.parametrize(("plane", "width"), [("E", 10.16e-3), ("H", 22.86e-3)])
@pytest.mark.parametrize("degrees", [1.0, 37.0, 90.0, 170.0])
def test_outer_walls_meet_where_their_lines_cross(plane, width, degrees):
    corner = Corner(GUIDE, plane, math.radians(degrees))
    x, y = outer_point(width, corner.angle)
    assert corner.width_in_plane == width
    assert corner.outer_arm == pytest.approx(x)
    assert y == pytest.approx(-width)


@pytest.mark.parametrize("degrees", [1.0, 37.0, 90.0, 170.0])
def test_largest_cut_lies_on_the_inner_edge(degrees):
    corner = Corner(GUIDE, "E", math.radians(degrees))
    meeting = outer_point(10.16e-3, corner.angle)
    back = np.array([-1.0, 0.0])
    onward = np.array([math.cos(corner.angle), math.sin(corner.angle)])
    middle = meeting + 0.5 * corner.largest_cut * (back + onward)
    assert middle == pytest.approx(np.zeros(2), abs=1e-9 * corner.largest_cut)


def test_a_square_corner_of_a_right_angle():
    """At 90 degrees the flat reaches the inner edge when it takes 2 b from each wall."""
    assert Corner(GUIDE, "E", math.radians(90)).largest_cut == pytest.approx(2 * 10.16e-3)


@pytest.mark.parametrize("share", [1.0, 1.5, -1e-6, math.nan, math.inf])
def test_a_cut_that_closes_the_guide_is_refused(share):
    largest = Corner(GUIDE, "H", 1.0).largest_cut
    assert Corner(GUIDE, "H", 1.0, 0.999 * largest).cut < largest
    with pytest.raises(InvalidDimensionError, match=r"cut is .*inner edge: make the cut smaller"):
        Corner(GUIDE, "H", 1.0, share * largest)


@pytest.mark.parametrize("degrees", [0.5, 170.1, 180.0, math.nan])
def test_a_corner_that_folds_back_is_refused(degrees):
    with pytest.raises(InvalidDimensionError, match="angle"):
        Corner(GUIDE, "E", math.radians(degrees))
