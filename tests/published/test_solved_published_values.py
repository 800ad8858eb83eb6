"""Every printed number in `values/solved/` that a field solution must meet.

The columns are those of `printed_rows`; quantity names a function of `solved_quantities`. The
solver's own error bar counts for the solver, so it must be small beside the printed digits: a
wide bar fails a row as surely as a wrong value.
"""

import math

import pytest
from scipy.optimize import brentq
from scipy.special import jvp, yvp

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
from tests.published.solved_quantities import QUANTITIES, corner_shunt_limit, section_cutoff

SOLVED = VALUES / "solved"


@pytest.mark.parametrize("row", list(rows_in(SOLVED)))
def test_solution_agrees_with_every_printed_digit(row):
    check_form(row)
    low, high = limits(row)
    value, bar = (float(n) / UNITS[row["unit"]] for n in QUANTITIES[row["quantity"]](Inputs(row)))
    inside = low - bar <= value <= high + bar
    assert inside is not (row["digits"] == "refuted")
    assert bar <= max(last_digit(row["printed"]) / 4, 1e-7 * abs(value))


def test_refuted_coaxial_cutoff_by_bessel_functions():
    """The root behind TE11 of a coaxial line of b/a = 3.33 is not the 0.45 read off a graph."""
    ratio = 0.215 / 0.0645

    def determinant(x):
        return jvp(1, x) * yvp(1, ratio * x) - jvp(1, ratio * x) * yvp(1, x)

    root = brentq(determinant, 0.3, 0.7, xtol=1e-12)
    rows = [param.values[0] for param in rows_in(SOLVED)]
    (row,) = (row for row in rows if "outer_in" in row["inputs"])
    inputs = Inputs(row)
    value, bar = section_cutoff(inputs)
    radius = 0.0254 * inputs.number("inner_in") / 2
    expected = root / radius * C / (2 * math.pi) / inputs.slowness
    assert value == pytest.approx(expected, abs=bar + 1e-9 * expected)
    assert row["digits"] == "refuted"


def test_every_solved_quantity_has_a_row():
    rows = [param.values[0] for param in rows_in(SOLVED)]
    assert {row["quantity"] for row in rows} == set(QUANTITIES)


def test_static_coefficient_of_the_corner_by_conformal_mapping():
    """pi/2 - ln 2 is the exact value behind the printed 0.878.

    With b = 1 the charge on both walls of an arm of length l is l up to the excess of the corner,
    1 - (2/pi) ln 2 for both planes through the inner edge; half of it is Ba/x times 2/pi.
    """
    value, bar = corner_shunt_limit(Inputs({"inputs": "b_mm=0.5", "speed_of_light": ""}))
    assert value == pytest.approx(math.pi / 2 - math.log(2), abs=5e-7 + bar)
