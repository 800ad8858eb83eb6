"""Fields from what is solved: plane waves and TM01, whose E and H are known."""

import numpy as np
import pytest
from scipy.special import j0, j1

from solver.waves.field_vectors import (
    fields_about_axis,
    fields_of_e,
    fields_of_h,
    wavenumber,
)

K, ANGLE = 209.0, 0.6
X, Y = np.random.default_rng(8417).uniform(0, 0.05, (2, 9))
#: The way in which a plane wave runs.
WAY = np.array([np.cos(ANGLE), np.sin(ANGLE), 0.0])
WAVE = np.exp(-1j * K * (WAY[0] * X + WAY[1] * Y))
SLOPE = -1j * K * WAY[:2, None] * WAVE


def test_wavenumber_is_two_pi_over_the_wavelength():
    assert wavenumber(299792458.0) == pytest.approx(2 * np.pi, rel=1e-15)


def test_a_plane_wave_with_e_upright():
    e, h = fields_of_e(WAVE, SLOPE, K)
    np.testing.assert_allclose(e, np.outer([0, 0, 1], WAVE))
    # eta0 H = way x E
    np.testing.assert_allclose(h, np.cross(WAY, [0, 0, 1])[:, None] * WAVE, atol=1e-14)


def test_a_plane_wave_with_h_upright():
    e, h = fields_of_h(WAVE, SLOPE, K, K)
    np.testing.assert_allclose(h, np.outer([0, 0, 1], WAVE))
    # E = eta0 H x way
    np.testing.assert_allclose(e, np.cross([0, 0, 1], WAY)[:, None] * WAVE, atol=1e-14)


def test_te10_of_a_guide_in_its_middle_plane():
    """H_x over E_y is -beta/k (eta0 H): D. M. Pozar, Microwave Engineering, 4th ed., eq. 3.89."""
    beta = np.sqrt(K**2 - (np.pi / 22.86e-3) ** 2)
    wave = np.exp(-1j * beta * X)
    e, _ = fields_of_h(wave, np.stack([-1j * beta * wave, 0 * wave]), beta, K)
    np.testing.assert_allclose(np.abs(e[1] / wave), K / beta, rtol=1e-13)
    assert not e[[0, 2]].any()
    # power runs along +x: E_y H_z* is positive
    assert (e[1] * wave.conj()).real.min() > 0


def test_tm01_about_the_axis():
    """E_z = J0(kc r), H_phi = j k/kc J1 up to the sign of E (Pozar, section 3.4, eqs. 3.141)."""
    kc, r, z = 150.0, 1e-3 + X / 5, Y
    beta = np.sqrt(K**2 - kc**2)
    wave = np.exp(-1j * beta * z)
    h = 1j * K / kc * j1(kc * r) * wave
    # d(r J1(kc r))/dr = kc r J0(kc r)
    gradient = np.stack([-1j * beta * r * h, 1j * K * r * j0(kc * r) * wave])
    e, magnetic = fields_about_axis(h, gradient, r, K)
    np.testing.assert_allclose(magnetic[2], h)
    np.testing.assert_allclose(e[0], j0(kc * r) * wave, atol=1e-13)
    np.testing.assert_allclose(e[1], beta / K * h, atol=1e-13)
    assert not e[2].any() and not magnetic[:2].any()
