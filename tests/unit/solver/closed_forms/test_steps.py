"""Steps and shifted flanges against a Galerkin method with the edges' own field, kept apart."""

import numpy as np
import pytest

from geometries.shapes.guides import RectangularGuide, standard_guide
from geometries.shapes.offsets import Offset
from solver.closed_forms import offsets, steps
from solver.closed_forms.estimates import estimates_for
from solver.closed_forms.source import validity_of
from solver.waves.guide_modes import cutoff_frequency, guide_wavelength
from tests.references.step_modes import step_matrix

WR90 = standard_guide("WR-90")
A, B = WR90.broad_width, WR90.narrow_height
FC = cutoff_frequency(WR90)


@pytest.mark.parametrize("ratio", [0.3, 0.5, 0.7, 0.95])
def test_height_step_keeps_its_claim(ratio):
    other = RectangularGuide(A, ratio * B)
    frequency = 1.33 * FC
    assert validity_of(steps.height_step_reflection).holds(WR90, other, frequency)
    halves = (-B / 2, B / 2), (-ratio * B / 2, ratio * B / 2)
    for first, second, order in ((WR90, other, 1), (other, WR90, -1)):
        s11, s21 = step_matrix("E", *halves[::order], frequency, broad_width=A)
        assert abs(s11) ** 2 + abs(s21) ** 2 == pytest.approx(1, abs=1e-9)
        form = complex(steps.height_step_reflection(first, second, frequency))
        assert abs(form - s11) < 0.01 * abs(s11)
        # The admittances of the guides are as 1/b; the susceptance is over that of the higher one.
        load = (1 - s11) / (1 + s11)
        assert load.real == pytest.approx(first.narrow_height / second.narrow_height, rel=1e-9)
        exact = load.imag * B / first.narrow_height
        susceptance = float(steps.height_step_susceptance(first, second, frequency))
        assert 0.9 * exact < susceptance < exact


def test_height_step_in_the_limit_of_low_frequency():
    """The leading term is exact as b/lambda_g goes to 0: step of 2:1, 0.01 guide wavelengths."""
    low = RectangularGuide(A, 0.01 * float(guide_wavelength(WR90, 10e9)))
    lower = RectangularGuide(A, low.narrow_height / 2)
    s11, _ = step_matrix(
        "E",
        (-low.narrow_height / 2, low.narrow_height / 2),
        (-lower.narrow_height / 2, lower.narrow_height / 2),
        10e9,
        broad_width=A,
    )
    load = (1 - s11) / (1 + s11)
    assert float(steps.height_step_susceptance(low, lower, 10e9)) == pytest.approx(
        load.imag, rel=2e-3
    )


@pytest.mark.parametrize("ratio", [0.75, 0.9, 0.98])
@pytest.mark.parametrize("high", [False, True])
def test_width_step_keeps_its_claim(ratio, high):
    other = RectangularGuide(ratio * A, B)
    frequency = 2.39 * FC if high else 1.21 * FC / ratio
    assert validity_of(steps.width_step_reflection).holds(WR90, other, frequency)
    halves = (-A / 2, A / 2), (-ratio * A / 2, ratio * A / 2)
    for first, second, order in ((WR90, other, 1), (other, WR90, -1)):
        s11, _ = step_matrix("H", *halves[::order], frequency)
        form = complex(steps.width_step_reflection(first, second, frequency))
        assert abs(form - s11) < 0.2 * abs(s11)


def test_no_step_reflects_nothing():
    same = RectangularGuide(A, B)
    assert abs(complex(steps.height_step_reflection(WR90, same, 10e9))) < 1e-15
    assert abs(complex(steps.width_step_reflection(WR90, same, 10e9))) < 1e-12


@pytest.mark.parametrize("plane", ["E", "H"])
@pytest.mark.parametrize("share", [0.01, 0.05, 0.1, 0.3])
def test_shifted_flanges_keep_their_claim(plane, share):
    width = B if plane == "E" else A
    shift = share * width
    offset = Offset(WR90, 0.0, shift) if plane == "E" else Offset(WR90, -shift, 0.0)
    claim = 0.13 if share < 0.05 else 0.05
    for frequency in (1.2 * FC, 1.5 * FC, 1.92 * FC):
        assert validity_of(offsets.offset_reflection).holds(offset, frequency)
        s11, s21 = step_matrix(
            plane, (0.0, width), (shift, width + shift), frequency, broad_width=A
        )
        assert abs(s11) ** 2 + abs(s21) ** 2 == pytest.approx(1, abs=1e-9)
        form = complex(offsets.offset_reflection(offset, frequency))
        assert abs(form - s11) < claim * abs(s11)


def test_shift_by_half_the_width_meets_no_pole():
    """An order of the guide then equals one of the opening."""
    near, at = (
        complex(offsets.shift_reflection("H", WR90, shift, 10e9))
        for shift in (0.50001 * A, 0.5 * A)
    )
    assert abs(near - at) < 1e-4


def test_estimates_of_offsets():
    (along,) = estimates_for(Offset(WR90, 1e-3, 0.0), np.array([8.2e9, 12.4e9]))
    assert along.within_validity and along.s11_abs.shape == (2,)
    (both,) = estimates_for(Offset(WR90, 1e-3, 0.5e-3), [8.2e9])
    assert not both.within_validity
    (none,) = estimates_for(Offset(WR90), [8.2e9])
    assert none.s11_abs[0] < 1e-12
    assert estimates_for(Offset(WR90, 1e-3, 0.0, 0.02), [8.2e9]) == ()
