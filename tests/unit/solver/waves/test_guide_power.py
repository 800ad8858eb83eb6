"""Wall loss and breakdown power against integrals of the TE10 field."""

import numpy as np
from numpy.testing import assert_allclose
from scipy import constants

from geometries.shapes.guides import standard_guide
from solver.waves.guide_modes import phase_constant
from solver.waves.guide_power import attenuation_te10, breakdown_power_te10

WR90 = standard_guide("WR-90")


def test_attenuation_equals_wall_loss_over_twice_the_power():
    """Integrate Rs |H_t|^2 / 2 over the four walls of TE10, independently of the formula."""
    f, sigma, (a, b) = 9e9, 3.5e7, (22.86e-3, 10.16e-3)
    beta, kc = phase_constant(WR90, f), np.pi / a
    omega_mu = 2 * np.pi * f * constants.mu_0
    points, weights = np.polynomial.legendre.leggauss(20)
    x, dx = a / 2 * (points + 1), a / 2 * weights
    h_z, h_x, e_y = np.cos(kc * x), beta / kc * np.sin(kc * x), omega_mu / kc * np.sin(kc * x)
    broad = 2 * np.sum((h_z**2 + h_x**2) * dx)
    narrow = 2 * b
    power = 0.5 * b * np.sum(e_y * h_x * dx)
    resistance = np.sqrt(np.pi * f * constants.mu_0 / sigma)
    expected = 0.5 * resistance * (broad + narrow) / (2 * power)
    assert_allclose(attenuation_te10(WR90, f, sigma), expected, rtol=1e-9)


def test_breakdown_power_equals_the_poynting_integral():
    f, field = 9e9, 2e6
    impedance = 2 * np.pi * f * constants.mu_0 / phase_constant(WR90, f)
    expected = 0.25 * field**2 * 22.86e-3 * 10.16e-3 / impedance
    assert_allclose(breakdown_power_te10(WR90, f, field), expected, rtol=1e-9)
