"""The modal reference is itself checked: Bessel functions, limits, convergence, symmetry."""

import mpmath
import numpy as np
import pytest
from numpy.testing import assert_allclose

from tests.references.curved_guide_modes import (
    SPEED_OF_LIGHT,
    bend_matrix,
    bend_scattering,
    curved_phase_constants,
    junction_reflection,
    transverse_wavenumber,
)

A, B = 22.86e-3, 10.16e-3


@pytest.mark.parametrize(("plane", "width"), [("E", B), ("H", A)])
@pytest.mark.parametrize("ratio", [0.55, 1.0, 5.0])
def test_phase_constant_is_a_root_of_the_bessel_cross_product(plane, width, ratio):
    """mpmath 1.4, 30 digits: the cross product changes sign within 1e-11 of the value."""
    k = 2 * np.pi * 10e9 / SPEED_OF_LIGHT
    if plane == "E":
        k = np.sqrt(k**2 - (np.pi / A) ** 2)
    radius = ratio * width
    nu = curved_phase_constants(plane, width, radius, k)[0] * radius
    order = 1 if plane == "E" else 0

    def cross(nu):
        inner, outer = k * (radius - width / 2), k * (radius + width / 2)
        with mpmath.workdps(30):
            return mpmath.besselj(nu, inner, order) * mpmath.bessely(
                nu, outer, order
            ) - mpmath.besselj(nu, outer, order) * mpmath.bessely(nu, inner, order)

    assert cross(nu * (1 - 1e-11)) * cross(nu * (1 + 1e-11)) < 0


def test_static_limit_of_the_e_plane_junction():
    """f -> 0: L' = mu b and C' = eps / (R ln(R2/R1)) per metre make the impedance step exact."""
    for ratio in (0.6, 1.0, 3.0):
        radius, wavenumber = ratio * B, 1e-4 / B
        step = np.sqrt(np.log((ratio + 0.5) / (ratio - 0.5)) * ratio)
        frequency = SPEED_OF_LIGHT / (2 * np.pi) * np.hypot(wavenumber, np.pi / A)
        gamma = junction_reflection("E", B, A, radius, frequency)
        assert_allclose(gamma.real, (step - 1) / (step + 1), atol=1e-7)
        assert abs(gamma.imag) < 1e-5  # the reactance vanishes in proportion to the wavenumber


@pytest.mark.parametrize(("plane", "width"), [("E", B), ("H", A)])
def test_gentle_junction_falls_as_the_square_of_the_radius(plane, width):
    """Rice, Bell Syst. Tech. J. 27, 305 (1948), abstract."""
    radii = width * np.array([20.0, 40.0])
    gamma = [abs(junction_reflection(plane, width, A, radius, 10e9)) for radius in radii]
    assert_allclose(np.diff(np.log(gamma)) / np.diff(np.log(radii)), -2, atol=0.002)


@pytest.mark.parametrize(("plane", "width"), [("E", B), ("H", A)])
@pytest.mark.parametrize("radius", [1e-3, 25e-3])
@pytest.mark.parametrize("frequency", [8.2e9, 12.4e9])
def test_converged_with_the_default_basis(plane, width, radius, frequency):
    case = (plane, width, A, width / 2 + radius, np.pi / 2, frequency)
    fine = bend_scattering(*case, polynomials=160)
    assert_allclose(bend_scattering(*case), fine, atol=2e-12)
    assert_allclose(bend_scattering(*case, polynomials=40), fine, atol=1e-10)


@pytest.mark.parametrize(("plane", "width"), [("E", B), ("H", A)])
def test_overmoded_bend_is_unitary_and_vanishing_bend_is_a_line(plane, width):
    s11, s21 = bend_matrix(plane, width, A, 2 * width, 1e-9, 40e9)
    assert_allclose(s11, np.zeros_like(s11), atol=1e-7)
    assert_allclose(s21, np.eye(len(s21)), atol=1e-7)
    s11, s21 = bend_matrix(plane, width, A, 0.8 * width, 1.0, 40e9)
    full = np.block([[s11, s21], [s21, s11]])
    assert len(s11) > 1
    assert_allclose(full, full.T, atol=1e-12)
    assert_allclose(full @ full.conj().T, np.eye(len(full)), atol=1e-12)


@pytest.mark.parametrize(("plane", "width"), [("E", B), ("H", A)])
def test_gentle_bend_delays_by_the_curved_phase_constant(plane, width):
    """S21 = exp(-j beta' s) but for the junctions, whose phase vanishes as R^-2."""
    misfit = []
    for ratio in (10, 20):
        k = transverse_wavenumber(plane, A, 10e9)
        turn = curved_phase_constants(plane, width, ratio * width, k)[0] * ratio * width * 0.7
        s21 = bend_scattering(plane, width, A, ratio * width, 0.7, 10e9)[1]
        misfit.append(abs(s21 * np.exp(1j * turn) - 1))
    assert misfit[0] < 1e-3
    assert misfit[0] / misfit[1] == pytest.approx(4, rel=0.02)
