"""Guide modes: identities that tie the functions together, refusals, enumeration."""

import numpy as np
import pytest
from numpy.testing import assert_allclose
from scipy import constants
from scipy.special import jv, jvp

from geometries.shapes.guides import (
    CircularGuide,
    RectangularGuide,
    standard_guide,
    standard_guides,
)
from solver.errors import BelowCutoffError
from solver.waves import guide_modes as gm

WR90 = standard_guide("WR-90")
FREQUENCIES = np.linspace(8.2e9, 12.4e9, 5)


def test_constants_are_codata():
    assert constants.c == gm.SPEED_OF_LIGHT
    assert_allclose(gm.MU0, constants.mu_0, rtol=1e-9)
    assert_allclose(gm.ETA0, np.sqrt(constants.mu_0 / constants.epsilon_0), rtol=1e-9)


def test_wavelengths_add_as_squares():
    free, guided = gm.free_space_wavelength(FREQUENCIES), gm.guide_wavelength(WR90, FREQUENCIES)
    assert guided.shape == FREQUENCIES.shape
    assert_allclose(1 / free**2 - 1 / guided**2, 1 / (2 * 22.86e-3) ** 2, rtol=1e-12)
    assert_allclose(gm.phase_constant(WR90, FREQUENCIES) * guided, 2 * np.pi, rtol=1e-14)


@pytest.mark.parametrize("frequency", [1e9, 6.5e9, np.nan, [10e9, 6e9]])
@pytest.mark.parametrize("guide", [WR90, CircularGuide(27e-3)], ids=["rectangular", "circular"])
def test_below_cutoff_is_refused(guide, frequency):
    with pytest.raises(BelowCutoffError, match="does not exceed the cutoff of guide"):
        gm.phase_constant(guide, frequency)


def test_at_cutoff_is_refused_and_just_above_is_accurate():
    cutoff = gm.cutoff_frequency(WR90)
    with pytest.raises(BelowCutoffError, match="WR-90"):
        gm.guide_wavelength(WR90, cutoff)
    just_above = cutoff * (1 + 1e-10)
    expected = 2 * np.pi * cutoff / constants.c * np.sqrt(2e-10)
    assert_allclose(gm.phase_constant(WR90, just_above), expected, rtol=1e-5)


@pytest.mark.parametrize(("m", "n"), [(0, 0), (-1, 1)])
def test_orders_without_a_mode(m, n):
    with pytest.raises(ValueError, match="no mode has the orders"):
        gm.cutoff_frequency(WR90, m, n)


@pytest.mark.parametrize(("kind", "m", "n"), [("TEM", 1, 1), ("TE", 1, 0), ("TM", -1, 1)])
def test_circular_orders_without_a_mode(kind, m, n):
    with pytest.raises(ValueError, match="no circular mode"):
        gm.circular_cutoff_frequency(CircularGuide(1.0), kind, m, n)


def test_circular_cutoffs_zero_the_bessel_functions():
    guide = CircularGuide(2.0)
    for m in range(4):
        for n in (1, 2):
            for kind, function in (("TE", jvp), ("TM", jv)):
                f = gm.circular_cutoff_frequency(guide, kind, m, n)
                assert abs(function(m, 2 * np.pi * f / constants.c)) < 1e-10


@pytest.mark.parametrize(
    "guide",
    [WR90, RectangularGuide(0.02, 0.02), RectangularGuide(0.02, 0.015), CircularGuide(0.02)],
    ids=lambda guide: guide.label,
)
def test_listed_modes_are_complete_and_ordered(guide):
    """Against a search over far more orders than the list could need."""
    top = 60e9
    listed = gm.mode_cutoffs(guide, top)
    assert [mode.cutoff for mode in listed] == sorted(mode.cutoff for mode in listed)
    expected = set()
    for m in range(14):
        for n in range(14):
            if isinstance(guide, CircularGuide):
                for kind in ("TE", "TM") if n else ():
                    if gm.circular_cutoff_frequency(guide, kind, m, n) <= top:
                        expected.add((kind, m, n))
            elif m + n and gm.cutoff_frequency(guide, m, n) <= top:
                expected.add(("TE", m, n))
                if m * n:
                    expected.add(("TM", m, n))
    assert {(mode.kind, mode.m, mode.n) for mode in listed} == expected
    assert len(listed) == len(expected) > 10
    assert listed[0].cutoff == gm.dominant_cutoff(guide) == gm.single_mode_band(guide)[0]
    assert listed[1].cutoff == gm.single_mode_band(guide)[1]


def test_label_parts_large_orders():
    assert gm.GuideMode("TE", 1, 0, 1.0).label == "TE10"
    assert gm.GuideMode("TM", 12, 1, 1.0).label == "TM12,1"


@pytest.mark.parametrize("size", standard_guides(), ids=lambda size: size.guide.name)
def test_every_standard_band_is_single_mode(size):
    first, second = gm.single_mode_band(size.guide)
    assert first < size.band[0] < size.band[1] < second
    iec = gm.recommended_band(size.guide)
    assert_allclose(iec, (1.25 * first, 1.9 * first), rtol=1e-12)
