"""Heat along a load and the radiation of a horn as values and in words, worked out by hand."""

from types import SimpleNamespace

import numpy as np
import pytest

from geometries.shapes.guides import CircularGuide, RectangularGuide
from geometries.shapes.horns import ConicalHorn, RectangularHorn
from solver.loads.heat_profile import HeatProfile
from solver.output.heat_answer import HEAT_NOTE, described_heat, heat_lines
from solver.output.radiation_answer import (
    bar_in_db,
    described_radiation,
    in_db,
    radiation_lines,
)
from solver.waves.radiation import Radiation

PLACE = np.linspace(0.0, 40e-3, 401)
FREQUENCY = np.array([9e9, 9.5e9, 10e9])
#: 299.792458 mm at 1 GHz.
WAVE = 0.299792458 / 10.0


def heat(sharp=False, total=0.8):
    """Heat that falls from the tip on to nothing in a straight line: 0.8 W/W in 40 mm."""
    fraction = total * (1 - PLACE / 40e-3) / 20e-3
    return HeatProfile(9.5e9, PLACE, fraction, total, 0.5, 2.5e4, 1.5e-3, sharp)


def test_heat_in_plain_values():
    told = described_heat(heat())["heat"]
    # the trapezoidal rule over mm
    whole = np.trapezoid(told["fraction_per_mm"], told["z_mm"])
    assert whole == pytest.approx(told["total"]) == pytest.approx(0.8)
    assert told["largest_per_mm"] == pytest.approx(0.04)
    assert told["fraction_per_mm_error"] == pytest.approx(5e-4)
    assert told["densest_per_cm3"] == pytest.approx(0.025)
    assert told["densest_at_z_mm"] == pytest.approx(1.5)
    # half of a triangle lies within 1 - 1/sqrt(2) of its base
    assert told["half_of_the_heat_within_mm"] == pytest.approx(40 * (1 - 0.5**0.5), rel=1e-4)
    assert described_heat(None) == {}


def test_heat_in_words():
    first, second = heat_lines(SimpleNamespace(heat=heat()))
    assert first == (
        "Heat at 9.5 GHz, for each watt that enters: 0.8 W in all, at most 0.04 W in a millimetre "
        "of length, 0 mm behind the tip; half of it within 11.7 mm"
    )
    assert second == (
        "Densest heat: 0.025 W in a cubic centimetre for each watt that enters, 1.5 mm behind the "
        f"tip. {HEAT_NOTE}"
    )
    assert "no bound at sharp edges" in heat_lines(SimpleNamespace(heat=heat(sharp=True)))[1]
    assert heat_lines(SimpleNamespace(heat=None)) == []
    (cold,) = heat_lines(SimpleNamespace(heat=heat(total=0.0)))
    assert cold == "Heat: the material has no loss, so that all power comes back"


def test_powers_and_their_bars_in_decibels():
    np.testing.assert_allclose(in_db(np.array([100.0, 0.5])), [20.0, -3.0103], atol=1e-4)
    assert in_db(np.array([0.0]))[0] == -np.inf
    # 1 - 0.2 is 0.969 dB down, 1 + 0.2 only 0.792 dB up
    found = bar_in_db(np.array([5.0, 5.0, 1.0, 0.0]), np.array([1.0, 0.0, 1.0, 0.1]))
    np.testing.assert_allclose(found, [0.9691, 0.0, np.inf, np.inf], atol=1e-4)


def assessed(horn, largest_at=0.0):
    """A horn of 100 in directivity along the axis, known to a hundredth of that."""
    three, angle = np.ones(3), np.radians([0.0, 45.0, 90.0])
    pattern = np.tile([100.0, 1.0, 0.0], (2, 1))
    radiation = Radiation(
        frequency=FREQUENCY,
        power=0.99 * three,
        power_error=1e-4 * three,
        axial=100 * three,
        axial_error=three,
        largest=100 * three,
        largest_error=three,
        largest_at=np.array([0.0, largest_at, 0.0]),
        angle=angle,
        at=FREQUENCY[[0, 2]],
        e_plane=pattern,
        h_plane=pattern,
        pattern_error=np.full((2, 3), 0.01),
    )
    scattering = SimpleNamespace(frequency=FREQUENCY)
    return SimpleNamespace(radiation=radiation, component=horn, scattering=scattering)


HORN = RectangularHorn(RectangularGuide(22.86e-3, 10.16e-3), 60e-3, 40e-3, 100e-3)
CONE = ConicalHorn(CircularGuide(24e-3), 50e-3, 80e-3)


def test_radiation_in_plain_values():
    told = described_radiation(assessed(HORN))
    np.testing.assert_allclose(told["directivity_db"], 20.0)
    np.testing.assert_allclose(told["directivity_error_db"], -10 * np.log10(0.99))
    pattern = told["pattern"]
    np.testing.assert_allclose(pattern["angle_deg"], [0.0, 45.0, 90.0])
    np.testing.assert_allclose(pattern["e_plane_db"][0], [20.0, 0.0, -np.inf])
    assert pattern["h_plane_error_db"][0, 2] == np.inf
    # paths to the edge are (B - b) B/(8 L) longer than to the middle
    longest = (40e-3 - 10.16e-3) * 40e-3 / (8 * 100e-3)
    phase = told["aperture_phase_error_deg"]["E"][2]
    assert phase == pytest.approx(360 * longest / WAVE, rel=1e-9)
    assert described_radiation(SimpleNamespace(radiation=None)) == {}


def test_closed_forms_stand_beside_where_there_are_some():
    (form,) = described_radiation(assessed(HORN))["directivity_estimates"]
    assert form["name"] == "aperture theory" and len(form["directivity_db"]) == 3
    # no horn has more than an aperture in phase all over, 4 pi A/wavelength^2
    most = 10 * np.log10(4 * np.pi * 60e-3 * 40e-3 / WAVE**2)
    assert most - 3 < form["directivity_db"][2] < most
    (form,) = described_radiation(assessed(CONE))["directivity_estimates"]
    assert form["name"] == "fit for TE11 cones"
    ring = ConicalHorn(CircularGuide(24e-3), 50e-3, 80e-3, mode="TM01")
    assert described_radiation(assessed(ring))["directivity_estimates"] == []


def test_radiation_in_words():
    first, form = radiation_lines(assessed(HORN, largest_at=np.radians(31.0)))
    assert first == (
        "Directivity where it is largest: 9 GHz: 20.00 dBi along the axis, within 0.044 dB; "
        "9.5 GHz: 20.00 dBi 31 degrees from the axis, within 0.044 dB; 10 GHz: 20.00 dBi along "
        "the axis, within 0.044 dB"
    )
    assert form.startswith("Aperture theory says ") and "at 9.5 GHz" in form
    assert radiation_lines(SimpleNamespace(radiation=None)) == []
