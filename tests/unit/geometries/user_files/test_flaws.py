"""Offsets and dents: what they refuse, and their shape."""

import math

import numpy as np
import pytest
from numpy.testing import assert_allclose

from geometries.errors import InvalidDimensionError
from geometries.shapes.dents import Dent
from geometries.shapes.guides import standard_guide
from geometries.shapes.offsets import Offset

WR90 = standard_guide("WR-90")
A, B = WR90.broad_width, WR90.narrow_height


@pytest.mark.parametrize(
    ("arguments", "quantity"),
    [
        ((A, 0.0, 0.0), "shift_x"),
        ((0.0, -B, 0.0), "shift_y"),
        ((math.nan, 0.0, 0.0), "shift_x"),
        ((0.0, 0.0, math.radians(91)), "turn"),
        ((0.0, 0.0, math.nan), "turn"),
        # Within the span along both walls, but apart along the second guide's own.
        ((0.9 * A, -0.9 * B, math.radians(30)), "shift_x"),
    ],
)
def test_openings_that_do_not_meet_are_refused(arguments, quantity):
    with pytest.raises(InvalidDimensionError) as caught:
        Offset(WR90, *arguments)
    assert caught.value.quantity == quantity


def test_a_turned_guide_may_be_shifted_further():
    assert Offset(WR90, 0.0, 1.2 * B, math.radians(90)).shift_y == 1.2 * B
    with pytest.raises(InvalidDimensionError, match="shift_y"):
        Offset(WR90, 0.0, 1.2 * B, 0.0)


@pytest.mark.parametrize(("wall", "width"), [("broad", 10e-3), ("narrow", B)])
def test_dent_has_its_depth_and_dies_out_smoothly(wall, width):
    dent = Dent(WR90, wall, 2e-3, 20e-3, width)
    depth, by_t, by_z = dent.pressed(np.array([0.0]), np.array([10e-3]))
    assert_allclose([depth, by_t, by_z], [[2e-3], [0], [0]], atol=1e-15)
    edge = np.array([width / 2, -width / 2, 0.0, 0.0])
    along = np.array([5e-3, 5e-3, 0.0, 20e-3])
    assert_allclose(dent.pressed(edge, along), 0, atol=1e-15)
    quarter, *_ = dent.pressed(np.array([width / 4]), np.array([5e-3]))
    assert quarter == pytest.approx(2e-3 / 4)


def test_slopes_of_a_dent_are_derivatives():
    dent = Dent(WR90, "broad", 2e-3, 20e-3, 10e-3)
    t, z = np.array([1e-3, -3e-3, 4e-3]), np.array([3e-3, 10e-3, 19e-3])
    step = 1e-7
    _, by_t, by_z = dent.pressed(t, z)
    across = dent.pressed(t + step, z)[0] - dent.pressed(t - step, z)[0]
    along = dent.pressed(t, z + step)[0] - dent.pressed(t, z - step)[0]
    assert_allclose([by_t, by_z], np.array([across, along]) / (2 * step), atol=1e-7)


@pytest.mark.parametrize(
    ("arguments", "quantity"),
    [
        (("top", 1e-3, 0.02, 0.01), "wall"),
        (("broad", B, 0.02, 0.01), "depth"),
        (("broad", 0.0, 0.02, 0.01), "depth"),
        (("narrow", A, 0.02, 0.01), "depth"),
        (("broad", 1e-3, math.inf, 0.01), "length"),
        (("broad", 1e-3, 0.02, 1.01 * A), "width"),
        (("narrow", 1e-3, 0.02, 1.01 * B), "width"),
    ],
)
def test_dents_that_no_wall_can_have_are_refused(arguments, quantity):
    with pytest.raises(InvalidDimensionError) as caught:
        Dent(WR90, *arguments)
    assert caught.value.quantity == quantity
