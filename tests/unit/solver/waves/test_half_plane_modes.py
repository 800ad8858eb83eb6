"""TM_0n modes of a circular guide and the waves of a radial line, by Bessel's equation."""

import math

import mpmath
import numpy as np
import pytest

from geometries.shapes.guides import CircularGuide
from solver.waves.guide_modes import SPEED_OF_LIGHT
from solver.waves.half_plane_modes import (
    HalfPlaneModes,
    HalfPlaneRim,
    half_plane_modes,
    half_plane_rim,
)

GUIDE = CircularGuide(27e-3)
GAP, RADIUS = 0.016, 0.03


def gauss(low, high):
    node, weight = np.polynomial.legendre.leggauss(60)
    return low + (high - low) * (node + 1) / 2, weight * (high - low) / 2


def admittance(wave, q):
    """j psi'/psi of r H1(2)(kr r), by mpmath, whose root is chosen so that the wave decays."""
    across = mpmath.sqrt(mpmath.mpc(q) - (wave * mpmath.pi / GAP) ** 2)
    if across.imag > 0 and mpmath.mpc(q).imag == 0:
        across = -across

    def psi(r):
        return r * mpmath.hankel2(1, across * r)

    return complex(1j * mpmath.diff(psi, RADIUS) / psi(RADIUS))


@pytest.mark.parametrize("k", [40.0, 150.0, 209.0, 700.0])
def test_admittance_of_a_rim_is_that_of_hankels_function(k):
    with mpmath.workdps(20):
        exact = [admittance(n, k**2) for n in range(4)]
    np.testing.assert_allclose(
        HalfPlaneRim(GAP, RADIUS, 4).admittance(np.array([k**2]))[0], exact, rtol=1e-11
    )


def test_admittance_of_a_rim_holds_for_fields_that_decay_in_time():
    q = 209.0**2 * (1 + 0.02j)
    with mpmath.workdps(20):
        exact = [admittance(n, q) for n in range(2)]
    found = HalfPlaneRim(GAP, RADIUS, 2).admittance(np.array([q]))[0]
    np.testing.assert_allclose(found, exact, rtol=1e-11)


def test_a_wave_leaves_once_its_half_waves_fit_the_gap():
    rim = HalfPlaneRim(GAP, RADIUS, 3)
    k = np.array([0.99, 1.01, 1.99, 2.01]) * np.pi / GAP
    np.testing.assert_array_equal(rim.leaves(k**2), [[1, 0, 0], [1, 1, 0], [1, 1, 0], [1, 1, 1]])


def test_a_far_rim_is_a_line_of_parallel_plates():
    # 1/r beside k: the next term of Hankel's expansion is 1/(2 k r)
    far = HalfPlaneRim(GAP, 1e4, 2)
    q = np.array([300.0**2])
    lines = np.sqrt(q - far.wavenumbers**2)
    np.testing.assert_allclose(far.admittance(q)[0], lines, rtol=1e-6)


def test_shapes_are_orthonormal():
    z, weight = gauss(0.0, GAP)
    over_r = HalfPlaneRim(GAP, RADIUS, 5).fields(z)
    np.testing.assert_allclose((over_r * weight * RADIUS) @ over_r.T, np.eye(5), atol=1e-12)
    r, weight = gauss(0.0, GUIDE.radius)
    over_r = HalfPlaneModes(GUIDE, 5).functions(None, r)
    np.testing.assert_allclose((over_r * weight * r) @ over_r.T, np.eye(5), atol=1e-12)


def test_cutoffs_and_phase_constants_are_those_of_tm0n():
    modes = HalfPlaneModes(GUIDE, 3)
    roots = np.array([float(mpmath.besseljzero(0, n)) for n in (1, 2, 3)])
    listed = modes.port_modes(2)
    assert [(mode.port, mode.name) for mode in listed] == [(2, "TM01"), (2, "TM02"), (2, "TM03")]
    cutoff = roots * SPEED_OF_LIGHT / (math.pi * 27e-3)
    np.testing.assert_allclose([mode.cutoff for mode in listed], cutoff, rtol=1e-14)
    frequency = np.array([1.25 * cutoff[0]])
    beta = modes.phase_constants(modes.wavenumber_squared(frequency))[0]
    # beta = kc sqrt((f/fc)^2 - 1)
    assert beta[0] == pytest.approx(0.75 * roots[0] / GUIDE.radius, rel=1e-12)
    below = np.sqrt(1 - (frequency / cutoff[1:]) ** 2) * roots[1:] / GUIDE.radius
    np.testing.assert_allclose(beta[1:], -1j * below, rtol=1e-12)


@pytest.mark.parametrize("distance", [2e-3, 9e-3])
def test_what_the_first_wave_left_out_returns(distance):
    highest, leftover = 11e9, 1e-8
    k = 2 * np.pi * highest / SPEED_OF_LIGHT

    def returned(cutoff):
        return np.exp(-2 * distance * np.sqrt(cutoff**2 - k**2)) if cutoff > k else 1.0

    kept = half_plane_modes(GUIDE, highest, distance, leftover).count
    roots = [float(mpmath.besseljzero(0, n)) / GUIDE.radius for n in (kept, kept + 1)]
    assert returned(roots[1]) < leftover <= returned(roots[0])
    rim = half_plane_rim(GAP, highest, (RADIUS, RADIUS + distance), leftover, "slot")
    assert (rim.radius, rim.name) == (RADIUS + distance, "slot")
    assert returned(rim.count * np.pi / GAP) < leftover <= returned(rim.wavenumbers[-1])
