"""Every published number in `values/`: one row, one evaluation, a tolerance from its digits.

The columns are those of `printed_rows`; quantity names a function below.
"""

import math

import pytest

from geometries.shapes.bends import Bend
from geometries.shapes.guides import CircularGuide, RectangularGuide, standard_guide
from geometries.shapes.tapers import Taper
from solver.closed_forms import coaxial_grooves, tapers
from solver.rules.readings import outside_radius
from solver.rules.rules_of_thumb import required_radius, rules_for
from solver.studies.band import Band
from solver.waves import guide_modes, guide_power
from solver.waves.scattering import reflection_of_vswr, return_loss_of
from tests.published.printed_rows import (
    UNITS,
    VALUES,
    C,
    Inputs,
    check_form,
    last_digit,
    limits,
    rows_in,
)


def cutoff(inputs):
    orders = int(inputs.get("m", 1)), int(inputs.get("n", 0))
    return guide_modes.cutoff_frequency(inputs.guide, *orders) / inputs.slowness


def iec_band_start(inputs):
    return guide_modes.recommended_band(inputs.guide)[0]


def iec_band_stop(inputs):
    return guide_modes.recommended_band(inputs.guide)[1]


def phase_constant(inputs):
    return guide_modes.phase_constant(inputs.guide, inputs.frequency * inputs.slowness)


def free_space_wavelength(inputs):
    return guide_modes.free_space_wavelength(inputs.frequency * inputs.slowness)


def surface_resistance(inputs):
    return guide_power.surface_resistance(inputs.number("conductivity"), inputs.frequency)


def attenuation(inputs):
    """Scaled from vacuum: Rs goes by the frequency itself, 1/eta by the filling."""
    f = inputs.frequency
    alpha = guide_power.attenuation_te10(
        inputs.guide, f * inputs.slowness, inputs.number("conductivity")
    )
    return alpha / math.sqrt(inputs.slowness) * math.sqrt(inputs.number("permittivity", 1))


def power_constant(inputs):
    """P / (a b (lambda/lambda_g) E^2)."""
    guide, f = inputs.guide, inputs.frequency
    ratio = guide_modes.free_space_wavelength(f) / guide_modes.guide_wavelength(guide, f)
    area = guide.broad_width * guide.narrow_height
    return guide_power.breakdown_power_te10(guide, f, 1.0) / (area * ratio)


def circular_zero(inputs):
    orders = inputs["kind"], int(inputs["m"]), int(inputs["n"])
    f = guide_modes.circular_cutoff_frequency(CircularGuide(2.0), *orders)
    return 2 * math.pi * f / C


def coaxial_root(inputs):
    """Cutoff wavenumber of TE_mn times the inner radius, times `scale`."""
    root = coaxial_grooves.coaxial_te_root(
        int(inputs["m"]), inputs.number("ratio"), int(inputs["n"])
    )
    return inputs.number("scale", 1) * root


def half_wave_reading(inputs):
    """The handbook's rule for a 90 degree bend of WR-284 with about `count` half waves."""
    edges = [float(edge) * 0.0254 for edge in inputs["edges_in"].split(",")]
    about = inputs.number("count") * sum(edges) / 4 * 1.02
    plane = inputs.get("plane", "E")
    bend = Bend(standard_guide("WR-284"), plane, math.pi / 2, about / (math.pi / 2))
    readings = rules_for(bend, Band(C / edges[0], C / edges[1]))
    return bend, next(r for r in readings if r.name.startswith("multiple of half"))


def half_waves(inputs):
    return half_wave_reading(inputs)[1].required


def half_wave_radius(inputs):
    bend, reading = half_wave_reading(inputs)
    return required_radius(reading, bend)


def half_wave_outside_radius(inputs):
    """The same bend, to the outside of its inner wall."""
    bend, reading = half_wave_reading(inputs)
    return outside_radius(bend.guide, bend.plane, required_radius(reading, bend))


def reflection(inputs):
    return reflection_of_vswr(inputs.number("vswr"))


def return_loss(inputs):
    return return_loss_of(reflection(inputs))


def exponential_reflection(inputs):
    """|S11| of an exponential taper of the height, as long as the electrical length says."""
    guide, f = standard_guide("WR-90"), 10e9
    other = RectangularGuide(guide.broad_width, guide.narrow_height * inputs.number("ratio"))
    length = max(inputs.number("theta"), 1e-6) / guide_modes.phase_constant(guide, f)
    return abs(tapers.line_taper_reflection(Taper(guide, other, float(length), "exponential"), f))


QUANTITIES = {
    "exponential_reflection": exponential_reflection,
    "cutoff": cutoff,
    "iec_band_start": iec_band_start,
    "iec_band_stop": iec_band_stop,
    "phase_constant": phase_constant,
    "free_space_wavelength": free_space_wavelength,
    "surface_resistance": surface_resistance,
    "attenuation": attenuation,
    "power_constant": power_constant,
    "circular_zero": circular_zero,
    "coaxial_root": coaxial_root,
    "half_waves": half_waves,
    "half_wave_radius": half_wave_radius,
    "half_wave_outside_radius": half_wave_outside_radius,
    "reflection_of_vswr": reflection,
    "return_loss_of_vswr": return_loss,
}


@pytest.mark.parametrize("row", list(rows_in(VALUES)))
def test_value_agrees_with_every_printed_digit(row):
    check_form(row)
    low, high = limits(row)
    value = float(QUANTITIES[row["quantity"]](Inputs(row))) / UNITS[row["unit"]]
    assert low <= value <= high


def test_tolerance_follows_from_the_digits():
    row = {"printed": "8.20", "digits": "rounded", "constant": ""}
    assert limits(row) == pytest.approx((8.195, 8.205))
    assert limits(row | {"digits": "truncated"}) == pytest.approx((8.20, 8.21))
    assert limits(row | {"constant": "0.637"}) == pytest.approx((8.18856, 8.21144), abs=1e-5)
    assert limits(row | {"neglected": "0.1"}) == pytest.approx((8.095, 8.305))
    assert last_digit("6.63e-4") == pytest.approx(1e-6)


def test_every_quantity_has_a_row():
    assert {param.values[0]["quantity"] for param in rows_in(VALUES)} == set(QUANTITIES)
