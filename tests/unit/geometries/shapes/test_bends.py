"""Bends: their lengths, and the dimensions that no bend can have."""

import math

import numpy as np
import pytest

from geometries.errors import GeometryError, InvalidDimensionError
from geometries.shapes.bends import Bend, width_in_plane
from geometries.shapes.guides import RectangularGuide
from tests.references.bent_field import axis_by_ode, raised_cosine_curvature

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


SMOOTH = [(d, o) for d in (5.0, 90.0, 180.0) for o in (0.05, 0.3, 0.49, 0.5)]


@pytest.mark.parametrize(("degrees", "onset"), SMOOTH)
def test_a_smooth_bend_turns_through_its_angle_over_its_length(degrees, onset):
    bend = Bend(GUIDE, "E", math.radians(degrees), 30e-3, "smooth", onset)
    assert bend.axis_length == pytest.approx(30e-3 * math.radians(degrees))
    s = np.linspace(0.0, bend.arc_length, 20001)
    turned, curvature = bend.turned(s)
    assert turned[[0, -1]] == pytest.approx([0.0, bend.angle], abs=1e-14)
    assert np.diff(turned) == pytest.approx(
        0.5 * (curvature[1:] + curvature[:-1]) * np.diff(s), abs=1e-9 * bend.angle
    )
    assert curvature[[0, -1]] == pytest.approx([0.0, 0.0], abs=1e-12)
    assert 1 / curvature.max() == pytest.approx(bend.smallest_radius)
    rising = s < onset * bend.arc_length * (1 - 1e-9)
    assert curvature[rising].max() <= curvature.max() and np.all(np.diff(curvature[rising]) > 0)


@pytest.mark.parametrize(("degrees", "onset"), SMOOTH)
def test_the_axis_of_a_smooth_bend_is_that_of_an_ordinary_differential_equation(degrees, onset):
    bend = Bend(GUIDE, "H", math.radians(degrees), 40e-3, "smooth", onset)
    s = np.linspace(0.0, bend.arc_length, 31)
    curvature = raised_cosine_curvature(bend.arc_length, bend.angle, onset)
    place, turned = axis_by_ode(curvature, bend.arc_length, s)
    assert bend.axis(s) == pytest.approx(place, abs=1e-12)
    assert bend.turned(s)[0] == pytest.approx(turned, abs=1e-10)


def test_the_axis_of_an_arc_is_a_circle():
    bend = Bend(GUIDE, "E", math.pi / 2, 30e-3)
    assert bend.axis(np.array([bend.arc_length]))[:, 0] == pytest.approx([30e-3, 30e-3])


@pytest.mark.parametrize("onset", [0.05, 0.5])
def test_the_inner_wall_of_a_smooth_bend_keeps_a_radius(onset):
    least = 5.08e-3 / (1 - onset)
    assert Bend(GUIDE, "E", 1.0, least * 1.001, "smooth", onset).inner_radius > 0
    with pytest.raises(InvalidDimensionError, match=f"{least * 1e3:.4g} mm.*lower the onset"):
        Bend(GUIDE, "E", 1.0, least, "smooth", onset)


@pytest.mark.parametrize(
    ("profile", "onset", "message"),
    [
        ("smooth", 0.0, "from 0.05 to 0.5"),
        ("smooth", 0.51, "from 0.05 to 0.5"),
        ("smooth", math.nan, "from 0.05 to 0.5"),
        ("constant", 0.2, "0 for a constant profile"),
        ("clothoid", 0.2, "constant or smooth"),
    ],
)
def test_an_onset_belongs_to_the_smooth_profile(profile, onset, message):
    with pytest.raises(InvalidDimensionError, match=message):
        Bend(GUIDE, "E", 1.0, 30e-3, profile, onset)
