"""Twists, tapers and transitions: what they refuse, and how their sizes change along the axis."""

import math

import numpy as np
import pytest
from numpy.testing import assert_allclose
from scipy.integrate import quad
from scipy.special import i0, i1

from geometries.errors import InvalidDimensionError
from geometries.shapes import profiles
from geometries.shapes.guides import CircularGuide, RectangularGuide, standard_guide
from geometries.shapes.tapers import Taper
from geometries.shapes.transitions import Transition
from geometries.shapes.twists import Twist

WR90 = standard_guide("WR-90")
LARGER = RectangularGuide(28.499e-3, 12.624e-3)
PROFILES = [
    profiles.uniform,
    profiles.raised_cosine,
    profiles.smooth(0.05),
    profiles.smooth(0.37),
    profiles.klopfenstein,
    profiles.hecken,
]


@pytest.mark.parametrize("profile", PROFILES)
def test_profile_rises_from_0_to_1_and_is_odd_about_the_middle(profile):
    t = np.linspace(0, 1, 101)
    value, rate = profile(t)
    assert_allclose([value[0], value[50], value[-1]], [0, 0.5, 1], atol=1e-14)
    assert_allclose(value + value[::-1], 1, atol=1e-14)
    assert np.all(rate >= 0)
    assert_allclose(rate, rate[::-1], atol=1e-12)
    step = 1e-6
    slopes = (profile(t[1:-1] + step)[0] - profile(t[1:-1] - step)[0]) / (2 * step)
    assert_allclose(rate[1:-1], slopes, atol=1e-8)


def test_raised_cosine_rate_is_in_the_words_of_its_definition():
    t = np.linspace(0, 1, 9)
    assert_allclose(profiles.raised_cosine(t)[1], 1 - np.cos(2 * np.pi * t), atol=1e-15)


def test_the_smooth_profile_ends_at_the_raised_cosine_and_at_the_uniform_rate():
    t = np.linspace(0, 1, 101)
    assert_allclose(profiles.smooth(0.5)(t), profiles.raised_cosine(t), atol=1e-14)
    assert_allclose(profiles.smooth(1e-9)(t)[0], t, atol=1e-8)


def test_the_fastest_twist_of_a_smooth_profile_is_in_its_middle():
    twist = Twist(WR90, 1.2, 40e-3, "smooth", 0.25)
    rate = twist.turned(np.linspace(0, 40e-3, 81))[1]
    assert twist.largest_rate == pytest.approx(rate.max()) == pytest.approx(1.2 / 40e-3 / 0.75)
    with pytest.raises(InvalidDimensionError, match=r"from 0\.05 to 0\.5"):
        Twist(WR90, 1.2, 40e-3, "smooth")
    with pytest.raises(InvalidDimensionError, match="0 for a raised-cosine profile"):
        Twist(WR90, 1.2, 40e-3, "raised-cosine", 0.5)


@pytest.mark.parametrize("x", [-0.8, 0.1, 0.6, 1.0])
def test_klopfenstein_and_hecken_by_adaptive_integration(x):
    """Their rates I1(A r)/r and I0(B r), r = sqrt(1 - y^2), by another quadrature."""
    cases = (
        (profiles.klopfenstein, lambda y: i1(profiles.KLOPFENSTEIN_A * root(y)) / root(y)),
        (profiles.hecken, lambda y: i0(profiles.HECKEN_B * root(y))),
    )
    for profile, rate in cases:
        share = quad(rate, -1, x, epsabs=1e-11)[0] / quad(rate, -1, 1, epsabs=1e-11)[0]
        assert float(profile(np.array((x + 1) / 2))[0]) == pytest.approx(share, abs=1e-9)


def root(y):
    return math.sqrt(max(1 - y * y, 1e-20))


def test_parameters_put_the_side_lobes_at_one_in_a_hundred():
    assert math.cosh(profiles.KLOPFENSTEIN_A) == pytest.approx(100)
    x = np.linspace(4, 5, 100001)
    lobe = np.max(np.abs(np.sin(x) / x))
    assert lobe * profiles.HECKEN_B / math.sinh(profiles.HECKEN_B) == pytest.approx(0.01, rel=1e-6)


@pytest.mark.parametrize(
    "name", ["linear", "exponential", "raised-cosine", "klopfenstein", "hecken"]
)
def test_taper_goes_from_one_guide_to_the_other(name):
    taper = Taper(WR90, LARGER, 40e-3, name)
    z = np.linspace(0, 40e-3, 81)
    for size, first, last in (
        (taper.width, WR90.broad_width, LARGER.broad_width),
        (taper.height, WR90.narrow_height, LARGER.narrow_height),
    ):
        value, slope = size(z)
        assert_allclose(value[[0, -1]], [first, last], rtol=1e-12)
        assert np.all(np.diff(value) > 0)
        step = 1e-8
        numeric = (size(z[1:-1] + step)[0] - size(z[1:-1] - step)[0]) / (2 * step)
        assert_allclose(slope[1:-1], numeric, atol=1e-7)


def test_middle_of_a_taper_is_the_mean_or_the_geometric_mean():
    middle = np.array(20e-3)
    a, b = WR90.broad_width, LARGER.broad_width
    assert Taper(WR90, LARGER, 40e-3).width(middle)[0] == pytest.approx((a + b) / 2)
    for name in ("exponential", "klopfenstein", "hecken"):
        width = Taper(WR90, LARGER, 40e-3, name).width(middle)[0]
        assert width == pytest.approx(math.sqrt(a * b))


def test_twist_turns_by_its_angle():
    for name, steepest in (("uniform", 1), ("raised-cosine", 2)):
        twist = Twist(WR90, 1.2, 30e-3, name)
        turned, rate = twist.turned(np.array([0, 15e-3, 30e-3]))
        assert_allclose(turned, [0, 0.6, 1.2], atol=1e-15)
        assert rate[1] == pytest.approx(steepest * 40)


def test_transition_ends_in_its_circle():
    part = Transition(WR90, 27e-3, 40e-3)
    assert part.to_guide == CircularGuide(27e-3)
    assert math.tan(part.corner_angle) == pytest.approx(0.4 / 0.9)


@pytest.mark.parametrize(
    ("build", "quantity"),
    [
        (lambda: Twist(WR90, 0.0, 0.04), "angle"),
        (lambda: Twist(WR90, 6.3, 0.04), "angle"),
        (lambda: Twist(WR90, math.nan, 0.04), "angle"),
        (lambda: Twist(WR90, 1.0, 0.0), "length"),
        (lambda: Twist(WR90, 1.0, math.inf), "length"),
        (lambda: Twist(WR90, 1.0, 0.04, "linear"), "profile"),
        (lambda: Taper(WR90, LARGER, -0.04), "length"),
        (lambda: Taper(WR90, LARGER, 0.04, "cubic"), "profile"),
        (lambda: Transition(WR90, 0.0, 0.04), "to_diameter"),
        (lambda: Transition(WR90, 0.027, math.nan), "length"),
    ],
)
def test_what_no_metal_can_have_is_refused_by_name(build, quantity):
    with pytest.raises(InvalidDimensionError, match=f"^{quantity} is") as caught:
        build()
    assert caught.value.quantity == quantity


def test_a_full_turn_is_allowed():
    assert Twist(WR90, math.radians(360), 0.1).angle == 2 * math.pi
