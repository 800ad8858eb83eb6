"""Tapers whose closed form tells which lengths are computed, on made-up curves and in the field."""

import math

import numpy as np
import pytest

from geometries.shapes.guides import RectangularGuide, standard_guide
from geometries.shapes.tapers import Taper
from solver.closed_forms.tapers import mean_phase_constant, taper_reflection, worst_of_lengths
from solver.families.guided_scan import STEPS, GuidedScan
from solver.searches.gradual import gradual
from solver.searches.point_store import PointStore
from solver.searches.size_search import SizeCurve, first_crossing, last_crossing
from solver.searches.sized_parts import KnownSizes
from solver.studies.band import Band
from solver.studies.limits import Limit
from solver.waves.guide_modes import phase_constant

RIPPLE, TOLERANCE = 20e-3, 1e-4
SIZES = np.arange(10e-3, 1.0, RIPPLE / STEPS)
WR90 = standard_guide("WR-90")


def rippled(size, depth=0.3):
    """A reflection that falls as 1/length and ripples as one of two unequal ends does."""
    size = np.asarray(size)
    return 2e-3 / size * (1 + depth * np.cos(2 * np.pi * size / RIPPLE))


def off_by(part, rate=0.25):
    """The same with what higher orders change, which falls faster."""

    def true(size):
        return rippled(size) * (1 + part * 10e-3 / size * np.sin(2 * np.pi * rate * size / RIPPLE))

    return true


def found(true, limit):
    """Last and first crossing by a guided scan, and how many sizes were computed."""
    curve = SizeCurve(lambda size: (float(true(size)), 1e-6))
    for size in GuidedScan(rippled, SIZES, limit, TOLERANCE)(curve):
        curve.worst(size)
    scanned = len(curve.sizes)
    last = last_crossing(curve, limit, TOLERANCE)
    first = first_crossing(curve, limit, TOLERANCE)
    return last, first, scanned


def dense(true, limit):
    sizes = np.arange(10e-3, 1.0, 2e-5)
    above = true(sizes) > limit
    return sizes[np.flatnonzero(above)[-1]], sizes[np.flatnonzero(~above)[0]]


@pytest.mark.parametrize("limit", [0.12, 0.05, 0.031, 0.0247, 0.011, 0.0063])
@pytest.mark.parametrize("part", [0.0, 0.02, -0.1])
def test_crossings_are_those_of_a_dense_scan(limit, part):
    true = off_by(part)
    last, first, scanned = found(true, limit)
    last_true, first_true = dense(true, limit)
    assert last.size == pytest.approx(last_true, abs=TOLERANCE + 2e-5)
    assert first.size == pytest.approx(first_true, abs=TOLERANCE + 2e-5)
    assert scanned < 30


@pytest.mark.parametrize("limit", [0.05, 0.031, 0.0247])
def test_a_guide_that_is_far_off_is_not_believed(limit):
    """Off by a third at the limit, and turning elsewhere."""
    true = off_by(1.5, rate=1.3)
    last, first, scanned = found(true, limit)
    last_true, first_true = dense(true, limit)
    assert last.size == pytest.approx(last_true, abs=TOLERANCE + 2e-5)
    assert first.size == pytest.approx(first_true, abs=TOLERANCE + 2e-5)
    assert scanned > 15


def test_a_limit_that_no_size_meets_is_told():
    last, first, scanned = found(off_by(0.02), 1e-3)
    assert last is None and first is None
    assert scanned < 15


def test_a_limit_that_every_size_meets_costs_next_to_nothing():
    last, first, scanned = found(off_by(0.02), 0.5)
    assert last.size == first.size == SIZES[0]
    assert scanned < 5


@pytest.mark.parametrize("profile", ["linear", "raised-cosine", "hecken"])
def test_many_lengths_reflect_as_each_alone(profile):
    taper = Taper(WR90, standard_guide("WR-75"), 1.0, profile)
    frequency, lengths = np.linspace(8.2e9, 12.4e9, 9), np.array([12e-3, 77e-3, 0.4])
    together = worst_of_lengths(taper, lengths, frequency)
    for length, worst in zip(lengths, together, strict=True):
        alone = taper_reflection(Taper(WR90, taper.to_guide, length, profile), frequency)
        assert worst == pytest.approx(np.abs(alone).max(), abs=1e-6)


def test_the_mean_phase_lies_between_those_of_both_guides():
    taper = Taper(WR90, RectangularGuide(40e-3, 20e-3), 60e-3)
    k = 2 * np.pi * 10e9 / 299792458.0
    # of a straight wall, by the mean of sqrt(k^2 - (pi/a)^2) over a
    a = np.linspace(22.86e-3, 40e-3, 20001)
    expected = np.sqrt(k**2 - (np.pi / a) ** 2).mean()
    assert mean_phase_constant(taper, 10e9) == pytest.approx(expected, rel=1e-4)
    ends = [float(phase_constant(guide, 10e9)) for guide in taper.guides]
    assert min(ends) < mean_phase_constant(taper, 10e9) < max(ends)


@pytest.mark.slow
def test_a_taper_is_as_long_as_a_dense_scan_says():
    taper = Taper(WR90, standard_guide("WR-112"), 30e-3)
    band, limit = Band(8.2e9, 10e9, 11), Limit(vswr=1.05)
    result = gradual(taper, band, limit, s_error=1e-4)
    known = KnownSizes(band, None, PointStore(None))
    largest = (1.05 - 1) / (1.05 + 1)
    for length in np.arange(7e-3, 30e-3, 2e-3):
        worst, bar = known.worst(Taper(WR90, taper.to_guide, float(length)), 1e-3)
        if abs(length - result.smallest) > 3 * result.uncertainty and abs(worst - largest) > bar:
            assert (worst > largest) == (length < result.smallest)
    assert result.uncertainty < 2e-4
    assert math.isclose(result.smallest, result.first_met)
