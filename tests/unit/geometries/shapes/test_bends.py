"""Bends: their lengths, and the dimensions that no bend can have."""

import math

import pytest

from geometries.errors import GeometryError, InvalidDimensionError
from geometries.shapes.bends import Bend, width_in_plane
from geometries.shapes.guides import RectangularGuide

GUIDE = RectangularGuide(22.86e-3, 10.16e-3)


@pytest.mark.parametrize(("plane", "width"), [("E", 10.16e-3), ("H", 22.86e-3)])
def test_the_wall_named_by_the_plane_lies_in_it(plane, width):
    bend = Bend(GUIDE, plane, math.radians(90), 30e-3)
    assert bend.width_in_plane == width_in_plane(GUIDE, plane) == width
    assert bend.inner_radius == pytest.approx(30e-3 - width / 2)


def test_half_a_turn_is_half_a_circle():
    assert Bend(GUIDE, "E", math.pi, 30e-3).arc_length == pytest.approx(math.pi * 30e-3)


@pytest.mark.parametrize("degrees", [1.0, 37.5, 180.0])
def test_angles_from_one_to_half_a_turn_are_taken(degrees):
    assert Bend(GUIDE, "H", math.radians(degrees), 30e-3).angle == math.radians(degrees)


@pytest.mark.parametrize("degrees", [0.0, 0.999, 180.001, -90.0, math.nan, math.inf])
def test_other_angles_are_refused(degrees):
    with pytest.raises(InvalidDimensionError, match=r"angle is .*1 to 180 degrees"):
        Bend(GUIDE, "E", math.radians(degrees), 30e-3)


@pytest.mark.parametrize("plane", ["e", "h", "", "EH", "T"])
def test_other_planes_are_refused(plane):
    with pytest.raises(InvalidDimensionError, match=r"plane is .*E or H"):
        Bend(GUIDE, plane, 1.0, 30e-3)


@pytest.mark.parametrize(("plane", "half"), [("E", 5.08e-3), ("H", 11.43e-3)])
def test_the_inner_wall_keeps_a_radius(plane, half):
    assert Bend(GUIDE, plane, 1.0, half * 1.001).inner_radius > 0
    for radius in (half, 0.0, -30e-3, math.nan, math.inf):
        with pytest.raises(InvalidDimensionError, match=f"{half * 1e3:.4g} mm.*raise the radius"):
            Bend(GUIDE, plane, 1.0, radius)


def test_the_error_carries_what_was_wrong():
    with pytest.raises(ValueError) as caught:
        Bend(GUIDE, "E", 1.0, 1e-3)
    assert isinstance(caught.value, GeometryError)
    assert (caught.value.quantity, caught.value.value) == ("mean_radius", 1e-3)
