"""Closed forms of flexible guides against integrals over the walls, and against one another."""

import numpy as np
import pytest
from scipy.integrate import quad

from geometries.shapes.flexibles import Flexible
from geometries.shapes.guides import standard_guide
from solver.closed_forms.convolutions import (
    bragg_stopband,
    convolution_reflection,
    mean_guide_reflection,
)
from solver.closed_forms.estimates import estimates_for
from solver.closed_forms.source import validity_of
from solver.waves.guide_modes import ETA0, SPEED_OF_LIGHT, phase_constant

GUIDE = standard_guide("WR-90")
A, B = GUIDE.broad_width, GUIDE.narrow_height


def wall_integral(part, frequency):
    """S11 by the integral over the walls, with the fields of TE10 written out."""
    k = 2 * np.pi * frequency / SPEED_OF_LIGHT
    beta, kc = np.sqrt(k**2 - (np.pi / A) ** 2), np.pi / A
    # E_y = sin(kc x); H_x = -beta/(k eta) E_y; H_z = j kc/(k eta) cos(kc x); flux E x H to one
    flux = beta / (k * ETA0) * A * B / 2
    omega_eps, omega_mu = k / ETA0, k * ETA0

    def broad(x):
        e, hx = np.sin(kc * x), beta / (k * ETA0) * np.sin(kc * x)
        hz_squared = -((kc / (k * ETA0)) ** 2) * np.cos(kc * x) ** 2
        return omega_eps * e**2 + omega_mu * (hx**2 + hz_squared)

    around = 2 * quad(broad, 0, A)[0] - 2 * B * omega_mu * (kc / (k * ETA0)) ** 2

    def along(z, turn):
        return part.swing(np.array(z))[0] * turn(2 * beta * z)

    length, most = part.axis_length, 400
    real = quad(along, 0, length, args=(np.cos,), limit=most)[0]
    imaginary = quad(along, 0, length, args=(np.sin,), limit=most)[0]
    return 0.5j * around / flux * (real - 1j * imaginary)


@pytest.mark.parametrize("pitch", [5e-3, 21e-3])
@pytest.mark.parametrize("frequency", [8.3e9, 11.9e9])
def test_first_order_is_the_integral_over_the_walls(pitch, frequency):
    # so shallow that the mean guide's phase is the plain one's
    part = Flexible(GUIDE, pitch, 1e-9, 5)
    expected = wall_integral(part, frequency)
    assert convolution_reflection(part, frequency) == pytest.approx(expected, rel=2e-6)


def test_far_under_the_stopband_both_forms_agree_where_the_width_alone_counts():
    # K much larger than beta: the convolutions are too fine to see, and the mean is all
    part = Flexible(GUIDE, 1e-3, 1e-6, 40)
    f = np.linspace(8e9, 12e9, 5)
    first, mean = convolution_reflection(part, f), mean_guide_reflection(part, f)
    # a mean guide reflects C d/(2 beta) at its ends, up to (2 beta/K)^2
    np.testing.assert_allclose(first, mean, rtol=6e-3)


def test_stopband_lies_about_half_a_wave_a_pitch_and_grows_with_depth():
    thin, thick = (Flexible(GUIDE, 18e-3, depth, 10) for depth in (0.05e-3, 0.1e-3))
    (a, b), (c, d) = bragg_stopband(thin), bragg_stopband(thick)
    assert d - c == pytest.approx(2 * (b - a), rel=1e-2)
    middle = phase_constant(thin.mean_guide, 0.5 * (a + b))
    assert middle * thin.pitch == pytest.approx(np.pi, rel=1e-4)


def test_ranges():
    f = np.linspace(8.3e9, 9.5e9, 5)
    validity = validity_of(convolution_reflection)
    assert validity.holds(Flexible(GUIDE, 6e-3, 0.06e-3, 10), f)
    for part in (
        Flexible(GUIDE, 6e-3, 0.5e-3, 10),
        Flexible(GUIDE, 6e-3, 0.06e-3, 10, "sinusoidal", "E", 0.5),
        # its stopband lies between two of the frequencies, at 9.29 GHz
        Flexible(GUIDE, 22.7e-3, 0.1e-3, 10),
    ):
        assert not validity.holds(part, f)
    assert [e.within_validity for e in estimates_for(Flexible(GUIDE, 6e-3, 0.06e-3, 10), f)] == [
        True,
        False,
    ]
