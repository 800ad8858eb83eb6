"""Radial lines against Bessel's equation integrated step by step, and against mpmath."""

import math

import mpmath
import numpy as np
import pytest
from numpy.testing import assert_allclose
from scipy.integrate import solve_ivp

from solver.closed_forms.radial_lines import (
    radial_quarter_wave,
    radial_transfer,
)

C = 299792458.0
K = 2 * math.pi * 9.375e9 / C


def integrated(order, start, stop, state):
    """State at `stop` by r d/dr (r dE/dr) = (m^2 - k^2 r^2) E."""
    answer = solve_ivp(
        lambda r, y: [y[1] / r, (order**2 - (K * r) ** 2) * y[0] / r],
        (start, stop),
        state,
        rtol=1e-11,
        atol=1e-12,
    )
    return answer.y[:, -1]


@pytest.mark.parametrize("order", [0, 1, 2, 5])
@pytest.mark.parametrize(("start", "stop"), [(5e-3, 15e-3), (22e-3, 9e-3)])
def test_transfer_solves_bessels_equation(order, start, stop):
    matrix = radial_transfer(order, K, start, stop)
    for state in ([1.0, 0.0], [0.0, 1.0]):
        expected = integrated(order, start, stop, state)
        assert_allclose(matrix @ state, expected, rtol=1e-7, atol=1e-9 * np.max(np.abs(expected)))


def test_transfer_keeps_the_wronskian_and_composes():
    one, two = radial_transfer(1, K, 6e-3, 9e-3), radial_transfer(1, K, 9e-3, np.array([14e-3]))
    assert_allclose(np.linalg.det(one), 1, rtol=1e-12)
    assert_allclose(two[0] @ one, radial_transfer(1, K, 6e-3, 14e-3), rtol=1e-11)


def test_far_from_the_axis_a_radial_line_is_a_plane_one():
    """z = (zL + j tan)/(1 + j zL tan); at 4 km the curvature counts for about 2e-6."""
    near, length, load = 4000.0, 6e-3, 0.3 + 0.2j
    turn = 1j * math.tan(K * length)
    plane = (load + turn) / (1 + load * turn)
    field, slope = radial_transfer(0, K, near + length, near) @ [load, -1j * K * (near + length)]
    assert_allclose(-1j * K * near * field / slope, plane, rtol=1e-5)


def test_short_and_open_ends():
    far = 5.08e-3 + radial_quarter_wave(1, K, 5.08e-3)
    field, slope = radial_transfer(1, K, far, 5.08e-3) @ [1.0, 0.0]
    assert abs(field) < 1e-9 * abs(slope)
    field, slope = radial_transfer(1, K, 5.08e-3, far) @ [0.0, 1.0]
    assert abs(slope) < 1e-9 * abs(field)


def test_quarter_wave_of_order_one_against_mpmath():
    """WR-90 at 9.375 GHz: shorted at b/2 = 5.08 mm, open at 12.720 mm, not at 13.074 mm."""
    x = mpmath.mpf(K) * mpmath.mpf("0.00508")

    def slope(y):
        return mpmath.besselj(1, x) * mpmath.bessely(1, y, derivative=1) - mpmath.bessely(
            1, x
        ) * mpmath.besselj(1, y, derivative=1)

    root = float(mpmath.findroot(slope, K * 12.7e-3)) / K
    assert root == pytest.approx(12.720e-3, abs=0.5e-6 + 0.01e-6)
    assert 5.08e-3 + radial_quarter_wave(1, K, 5.08e-3) == pytest.approx(root, rel=1e-9)
    free = C / 9.375e9 / 4
    assert free == pytest.approx(7.994e-3, abs=0.5e-6)


@pytest.mark.parametrize("order", [0, 1, 2, 6])
def test_quarter_wave_tends_to_that_of_free_space(order):
    assert radial_quarter_wave(order, K, 30.0) == pytest.approx(math.pi / 2 / K, rel=1e-3)
    # No zero of the slope lies in between.
    start = 3e-3
    end = start + radial_quarter_wave(order, K, start)
    radii = np.linspace(start, 0.999 * end, 50)
    slopes = [radial_transfer(order, K, start, r)[1, 1] for r in radii]
    assert min(slopes) > 0
