"""Tapers: small reflections against the coupled equations of all modes, solved apart."""

import numpy as np
import pytest
from numpy.testing import assert_allclose

from geometries.shapes.guides import RectangularGuide, standard_guide
from geometries.shapes.profiles import HECKEN_B, KLOPFENSTEIN_A
from geometries.shapes.tapers import Taper
from solver.closed_forms import tapers
from solver.closed_forms.estimates import estimates_for
from solver.closed_forms.source import validity_of
from solver.errors import BelowCutoffError
from solver.waves.guide_modes import cutoff_frequency, phase_constant
from tests.references.taper_modes import taper_s11

WR90 = standard_guide("WR-90")
A, B = WR90.broad_width, WR90.narrow_height
LOWER, HIGHER = RectangularGuide(A, 0.7 * B), RectangularGuide(A, 1.24 * B)
WIDER, NARROWER = RectangularGuide(1.24 * A, B), RectangularGuide(0.9 * A, B)
LARGER = RectangularGuide(28.499e-3, 12.624e-3)


def exact_s11(taper, frequency):
    plane = "E" if taper.guide.broad_width == taper.to_guide.broad_width else "H"
    size = taper.height if plane == "E" else taper.width
    return taper_s11(
        plane, lambda z: [float(x) for x in size(z)], taper.length, frequency, broad_width=A
    )


@pytest.mark.parametrize("other", [LOWER, HIGHER, WIDER, NARROWER])
@pytest.mark.parametrize(("profile", "over_cutoff"), [("linear", 1.91), ("hecken", 1.21)])
def test_integral_keeps_its_claim(other, profile, over_cutoff):
    """5e-3 at three times the height, as a complex number; the impedance is b/beta."""
    frequency = over_cutoff * max(cutoff_frequency(WR90), cutoff_frequency(other))
    height = max(B, other.narrow_height)
    for length, claim in ((3.001 * height, 5e-3), (6 * height, 1.25e-3)):
        taper = Taper(WR90, other, length, profile)
        assert validity_of(tapers.taper_reflection).holds(taper, frequency)
        form = complex(tapers.taper_reflection(taper, frequency))
        assert abs(form - exact_s11(taper, frequency)) < claim


def test_wave_impedance_and_not_the_power_voltage_one():
    """1/(a beta) in place of 1/beta would be far outside the claim."""
    taper = Taper(WR90, WIDER, 40e-3)
    f = 1.3 * cutoff_frequency(WR90)
    true, form = exact_s11(taper, f), complex(tapers.taper_reflection(taper, f))
    assert abs(form - true) < 0.05 * abs(true)
    z = np.linspace(0, taper.length, 4001)
    (a, slope), k = taper.width(z), 2 * np.pi * f / 299792458.0
    beta = np.sqrt(k**2 - (np.pi / a) ** 2)
    theta = np.concatenate([[0], np.cumsum((beta[1:] + beta[:-1]) / 2 * np.diff(z))])
    change = -slope / a - np.pi**2 * slope / (a**3 * beta**2)
    other = np.trapezoid(0.5 * np.exp(-2j * theta) * change, z)
    assert abs(other - true) > 0.2 * abs(true)


@pytest.mark.parametrize("profile", ["exponential", "klopfenstein", "hecken"])
def test_closed_spectrum_is_the_integral_where_only_the_height_changes(profile):
    taper = Taper(WR90, LOWER, 45e-3, profile)
    f = np.linspace(8.2e9, 12.4e9, 7)
    assert_allclose(
        tapers.line_taper_reflection(taper, f), tapers.taper_reflection(taper, f), atol=1e-7
    )


@pytest.mark.parametrize("profile", ["klopfenstein", "hecken"])
def test_near_optimum_profiles_stay_low_beyond_their_main_lobe(profile):
    """Hecken: side lobes 1/100 of a step's; Klopfenstein's less its end steps: 2/99 at most."""
    start = {"klopfenstein": KLOPFENSTEIN_A, "hecken": HECKEN_B + 2.0}[profile]
    half = 0.5 * np.log(B / LOWER.narrow_height)
    beta = float(phase_constant(WR90, 10e9))
    for theta in np.linspace(start, 20, 15):
        taper = Taper(WR90, LOWER, theta / beta, profile)
        bound = {"klopfenstein": 2 / 99, "hecken": 1 / 100}[profile] * half
        assert abs(complex(tapers.taper_reflection(taper, 10e9))) < 1.0001 * bound
    step = Taper(WR90, LOWER, 1e-6, profile)
    assert abs(complex(tapers.taper_reflection(step, 10e9))) == pytest.approx(half, rel=1e-5)


def test_taper_backwards_has_the_same_size():
    f = np.linspace(8.2e9, 12.4e9, 5)
    there, back = Taper(WR90, LARGER, 40e-3), Taper(LARGER, WR90, 40e-3)
    assert_allclose(
        np.abs(tapers.taper_reflection(there, f)),
        np.abs(tapers.taper_reflection(back, f)),
        rtol=1e-6,
    )


def test_estimates_mark_their_range():
    f = np.array([8.2e9, 12.4e9])
    names = [e.name for e in estimates_for(Taper(WR90, LARGER, 45e-3, "hecken"), f)]
    assert names == ["small-reflection integral", "hecken line of its electrical length"]
    (gentle,) = estimates_for(Taper(WR90, LARGER, 45e-3), f)
    assert gentle.within_validity and gentle.s11_abs.shape == (2,)
    steep, step = estimates_for(Taper(WR90, LOWER, 0.3e-3), [8.2e9])
    assert not steep.within_validity and step.within_validity
    (same,) = estimates_for(Taper(WR90, WR90, 40e-3), f)
    assert np.all(same.s11_abs == 0)
    with pytest.raises(BelowCutoffError):
        estimates_for(Taper(WR90, standard_guide("WR-42"), 40e-3), [12.4e9])
