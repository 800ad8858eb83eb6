"""Twists: order tau^2 against the coupled equations of all modes, solved apart."""

import math

import numpy as np
import pytest
from numpy.testing import assert_allclose

from geometries.shapes.guides import RectangularGuide, standard_guide
from geometries.shapes.twists import Twist
from solver.closed_forms import twisted_guides, twists
from solver.closed_forms.estimates import estimates_for
from solver.closed_forms.source import validity_of
from solver.errors import BelowCutoffError
from solver.waves.guide_modes import cutoff_frequency, phase_constant
from tests.references import twist_modes as exact

WR90 = standard_guide("WR-90")
SIZES = ["WR-90", "WR-284"]


@pytest.fixture(scope="module")
def modes():
    """Modes up to orders 5 and 10 for each size."""
    guides = {size: standard_guide(size) for size in SIZES}
    return {
        size: [exact.twist_modes(g.broad_width, g.narrow_height, order) for order in (5, 10)]
        for size, g in guides.items()
    }


def test_overlaps_equal_their_quadrature(modes):
    """U_n1 and U_1n of every mode up to order 10, from their closed integrals."""
    coupling = twisted_guides.twist_coupling(WR90, 10e9)
    fine = modes["WR-90"][1]
    for known, cutoff in zip(
        coupling.product,
        np.sqrt(((2 * math.pi * 10e9 / exact.C) ** 2 - coupling.beta**2).real),
        strict=True,
    ):
        same = np.flatnonzero(np.abs(fine.cutoff / cutoff - 1) < 1e-9)
        if same.size:
            products = fine.coupling[same, 0] * fine.coupling[0, same]
            assert np.min(np.abs(products - known)) < 1e-9


@pytest.mark.parametrize("size", SIZES)
@pytest.mark.parametrize("over_cutoff", [1.2, 1.5, 1.92])
def test_phase_constant_and_reflection_keep_their_claims(modes, size, over_cutoff):
    """At the largest twist of the range, and a sixth of it, where the error is 1/30 or less."""
    guide = standard_guide(size)
    frequency = over_cutoff * cutoff_frequency(guide)
    for turn, phase_claim, s_claim in ((0.65, 1.3e-3, 6e-4), (0.1, 1e-5, 1e-5)):
        rate = turn / guide.broad_width
        form = float(twisted_guides.phase_constant_twisted(guide, rate, frequency))
        value = exact.extrapolated(
            lambda m, rate=rate: exact.phase_constant(m, rate, frequency), *modes[size]
        )
        assert form == pytest.approx(value, rel=phase_claim)
        twist = Twist(guide, math.pi / 2, math.pi / 2 / rate)
        assert validity_of(twists.twist_reflection).holds(twist, frequency)
        reflected = exact.extrapolated(
            lambda m, rate=rate, twist=twist: exact.s11(m, rate, twist.length, frequency),
            *modes[size],
        )
        assert abs(complex(twists.twist_reflection(twist, frequency)) - reflected) < s_claim


def test_shift_of_the_phase_constant_goes_as_the_square_of_the_rate(modes):
    """Lewin and Ruehle, IEEE MTT-28, 44 (1980), abstract: order 1/L^2 if no mode is degenerate."""
    rates = np.array([0.05, 0.1, 0.2]) / WR90.broad_width
    straight = float(phase_constant(WR90, 10e9))
    shifts = [exact.phase_constant(modes["WR-90"][0], rate, 10e9) - straight for rate in rates]
    assert_allclose(np.polyfit(np.log(rates), np.log(shifts), 1)[0], 2, atol=0.05)


def test_square_guide_splits_in_proportion_to_the_rate():
    """The same abstract: order 1/L in the square guide, where TE10 and TE01 are one mode.

    By (8/pi^2) tau either way: half the difference U_21 - U_12 of the two modes; derived here.
    """
    square = RectangularGuide(22.86e-3, 22.86e-3)
    modes = exact.twist_modes(22.86e-3, 22.86e-3, 3)
    straight = float(phase_constant(square, 10e9))
    for turn in (0.01, 0.04):
        rate = turn / square.broad_width
        split = abs(exact.phase_constant(modes, rate, 10e9) - straight)
        assert split == pytest.approx(8 / math.pi**2 * rate, rel=turn)


def test_raised_cosine_rate_by_direct_integration():
    """The double integral over the profile, by a fine product rule, mode by mode."""
    guide, frequency = WR90, 9e9
    twist = Twist(guide, math.pi / 2, 80e-3, "raised-cosine")
    mode = twisted_guides.twist_coupling(guide, frequency)
    z, weight = np.polynomial.legendre.leggauss(400)
    z, weight = 40e-3 * (z + 1), 40e-3 * weight
    rate = twist.angle / twist.length * (1 - np.cos(2 * math.pi * z / twist.length))
    mean_square = twist.angle / twist.length * math.sqrt(1.5)
    beta = float(twisted_guides.phase_constant_twisted(guide, mean_square, frequency))
    drive = weight * rate * np.exp(-1j * beta * z)
    gap = np.abs(z[:, None] - z)
    total = 0
    for n in np.flatnonzero(np.abs(mode.beta) < 1500):
        kernel = np.exp(-1j * mode.beta[n] * gap)
        strength = 0.25 * (mode.out_squared[n] - mode.back_squared[n])
        total += mode.weight[n] * strength * (drive @ kernel @ drive)
    # Modes of faster decay: the kernel is a spike of area 2 / |beta_n|.
    for n in np.flatnonzero(np.abs(mode.beta) >= 1500):
        strength = 0.25 * (mode.out_squared[n] - mode.back_squared[n])
        spike = 2 / abs(mode.beta[n]) * np.sum(weight * (rate * np.exp(-1j * beta * z)) ** 2)
        total += mode.weight[n] * strength * spike
    assert abs(complex(twists.twist_reflection(twist, frequency)) - total) < 2e-6
    assert abs(total) > 1e-4


def test_reflection_vanishes_with_the_angle_as_its_square():
    sizes = [
        abs(complex(twists.twist_reflection(Twist(WR90, angle, 60e-3), 10e9)))
        for angle in (0.02, 0.01)
    ]
    assert sizes[0] / sizes[1] == pytest.approx(4, rel=1e-3)


def test_estimates_mark_their_range():
    (gentle,) = estimates_for(Twist(WR90, math.pi / 2, 60e-3), [8.2e9, 12.4e9])
    assert gentle.within_validity and gentle.s11_abs.shape == (2,)
    (steep,) = estimates_for(Twist(WR90, math.pi / 2, 20e-3), [8.2e9])
    assert not steep.within_validity
    (smooth,) = estimates_for(Twist(WR90, math.pi / 2, 60e-3, "raised-cosine"), [8.2e9])
    assert not smooth.within_validity
    square = RectangularGuide(22.86e-3, 22.86e-3)
    assert estimates_for(Twist(square, math.pi / 2, 60e-3), [8.2e9]) == ()
    with pytest.raises(BelowCutoffError):
        estimates_for(Twist(WR90, 1.0, 60e-3), [6e9])
