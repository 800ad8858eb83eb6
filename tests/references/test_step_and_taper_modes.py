"""The modal references of steps, tapers and twists are themselves checked: limits, convergence."""

import math

import numpy as np
import pytest

from tests.references.step_modes import step_matrix
from tests.references.taper_modes import taper_s11
from tests.references.twist_modes import extrapolated, s11, twist_modes

A, B = 22.86e-3, 10.16e-3


@pytest.mark.parametrize("plane", ["E", "H"])
def test_step_keeps_power_and_converges(plane):
    width = B if plane == "E" else A
    first, second = (0.0, width), (0.1 * width, 1.1 * width)
    values = []
    for modes, functions in ((1000, 6), (3000, 8), (3000, 10)):
        s = step_matrix(plane, first, second, 10e9, broad_width=A, modes=modes, functions=functions)
        assert abs(s[0]) ** 2 + abs(s[1]) ** 2 == pytest.approx(1, abs=1e-9)
        values.append(s[0])
    assert abs(values[0] - values[2]) < 3e-4 * abs(values[2])
    assert abs(values[1] - values[2]) < 1e-4 * abs(values[2])


def test_step_approaches_its_impedance_ratio_at_low_frequency():
    """Far below the higher modes a height step is the step of b, a shunt capacitance apart."""
    height = 1e-5
    s, _ = step_matrix("E", (-height, height), (-height / 2, height / 2), 10e9, broad_width=A)
    assert s == pytest.approx((0.5 - 1) / (0.5 + 1), abs=1e-3)


@pytest.mark.parametrize("plane", ["E", "H"])
def test_short_taper_approaches_a_step_with_more_modes(plane):
    width = B if plane == "E" else A
    ratio, length = 0.85, 1e-4 * A

    def size(z):
        return width * (1 - (1 - ratio) * z / length), -width * (1 - ratio) / length

    step, _ = step_matrix(
        plane, (-width / 2, width / 2), (-ratio * width / 2, ratio * width / 2), 10e9, broad_width=A
    )
    tapers = [taper_s11(plane, size, length, 10e9, broad_width=A, modes=m) for m in (2, 4, 8)]
    errors = [abs(taper - step) / abs(step) for taper in tapers]
    assert errors[2] < 0.7 * errors[1] < 0.5 * errors[0]
    assert errors[2] < 0.12


@pytest.mark.parametrize("plane", ["E", "H"])
def test_taper_reads_the_same_from_both_ends(plane):
    width, length = (B if plane == "E" else A), 20e-3

    def there(z):
        return width * (1 + 0.2 * z / length), width * 0.2 / length

    def back(z):
        size, slope = there(length - z)
        return size, -slope

    sizes = [abs(taper_s11(plane, f, length, 10e9, broad_width=A)) for f in (there, back)]
    assert sizes[0] == pytest.approx(sizes[1], rel=1e-5)


def test_twist_reflects_nothing_without_a_twist_and_converges():
    modes = [twist_modes(A, B, order) for order in (3, 6, 12)]
    assert abs(s11(modes[0], 1e-9, 40e-3, 10e9)) < 1e-12
    rate = 0.6 / A

    def value(m):
        return s11(m, rate, 60e-3, 10e9)

    coarse, fine = (extrapolated(value, *pair) for pair in (modes[:2], modes[1:]))
    assert abs(coarse - fine) < 0.02 * abs(fine)
    assert abs(value(modes[2]) - fine) < 0.05 * abs(fine)


def test_coupling_of_a_square_guide_by_hand():
    """8/pi^2 between TE10 and TE01, up to the modes' signs."""
    modes = twist_modes(A, A, 1)
    te01 = np.flatnonzero((np.abs(modes.cutoff - math.pi / A) < 1e-9) & ~modes.electric)
    both = te01[te01 != 0]
    assert abs(modes.coupling[0, both[0]]) == pytest.approx(8 / math.pi**2, rel=1e-12)
    assert modes.coupling[0, both[0]] == pytest.approx(-modes.coupling[both[0], 0], rel=1e-12)
