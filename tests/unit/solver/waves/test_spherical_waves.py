"""Spherical waves before a wall, against Hankel functions and integrals taken otherwise."""

import math

import numpy as np
import pytest
from scipy.special import hankel2, lpmv

from geometries.errors import MeshingError
from solver.waves.spherical_functions import hankel_slopes, legendre_over_sine, orders_needed
from solver.waves.spherical_waves import revolved_waves, spherical_waves

RADIUS = 0.02
K = np.array([150.0, 260.0])


def riccati(n, x):
    return np.sqrt(np.pi * x / 2) * hankel2(n + 0.5, x)


@pytest.mark.parametrize("x", [0.3, 4.0, 30.0, 4.0 + 0.2j])
def test_slopes_are_those_of_hankel_functions(x):
    step = 1e-4 * abs(x)
    for n in (0, 1, 5, 9):
        # a central difference of fourth order
        points = riccati(n, x + step * np.array([-2, -1, 1, 2]))
        slope = points @ np.array([1, -8, 8, -1]) / (12 * step)
        found = hankel_slopes(np.array([n]), np.array([x]))[0, 0]
        assert found == pytest.approx(slope / riccati(n, x), rel=1e-8)


def test_functions_of_the_angle_are_legendres():
    theta = np.array([0.2, 1.0, 1.5])
    for m in (1, 2, 5):
        over_sine, slopes = legendre_over_sine(m, m + 4, theta)
        for n in range(m, m + 5):
            size = math.sqrt((2 * n + 1) / 2 * math.factorial(n - m) / math.factorial(n + m))
            exact = (-1) ** m * size * lpmv(m, n, np.cos(theta))
            assert over_sine[n - m] * np.sin(theta) == pytest.approx(exact, rel=1e-10)
            ends = [(-1) ** m * size * lpmv(m, n, np.cos(theta + d)) for d in (-1e-5, 1e-5)]
            assert slopes[n - m] == pytest.approx((ends[1] - ends[0]) / 2e-5, abs=1e-6)


@pytest.fixture(scope="module")
def quarter():
    x, w = np.polynomial.legendre.leggauss(40)
    angle, w = (x + 1) * np.pi / 4, w * np.pi / 4
    theta, phi = (a.ravel() for a in np.meshgrid(angle, angle, indexing="ij"))
    return theta, phi, np.outer(w * np.sin(angle), w).ravel()


def test_fields_are_orthonormal_and_leave_no_field_along_the_wall(quarter):
    theta, phi, w = quarter
    waves = spherical_waves(RADIUS, 0.6 * RADIUS, 250.0, 1e-6)
    points = RADIUS * np.stack(
        [np.sin(theta) * np.cos(phi), np.sin(theta) * np.sin(phi), np.cos(theta)]
    )
    fields = waves.fields(points)
    overlap = np.einsum("iap,jap,p->ij", fields, fields, w * RADIUS**2)
    assert overlap == pytest.approx(np.eye(waves.count), abs=1e-12)
    # at the wall what is tangential on the sphere and along the wall is E_phi
    assert waves.components(np.array([np.pi / 2]), np.array([0.7]))[1] == pytest.approx(
        np.zeros((waves.count, 1)), abs=1e-12
    )
    # at x = 0, a magnetic wall, no E_phi; at y = 0, an electric wall, no E_theta
    assert np.abs(waves.components(np.array([0.8]), np.array([np.pi / 2]))[1]).max() < 1e-12
    assert np.abs(waves.components(np.array([0.8]), np.array([0.0]))[0]).max() < 1e-12


def test_a_field_that_travels_far_off_keeps_amplitude_and_phase():
    # h(x) goes over into j^(n+1) exp(-jx), and so does j h'(x), which is E of a TM wave
    waves = spherical_waves(RADIUS, 0.6 * RADIUS, 260.0, 1e-6)
    x, phases = K[0] * RADIUS, waves.far_phases(K**2)
    for number in (0, 1, 2, 3):
        wave = waves.waves[number]
        step = 1e-4
        h = riccati(wave.n, x + step * np.array([-1, 0, 1]))
        at_sphere = h[1] if wave.kind == "TE" else 1j * (h[2] - h[0]) / (2 * step)
        far = 1j ** (wave.n + 1)
        assert phases[0, number] == pytest.approx(far * abs(at_sphere) / at_sphere, rel=1e-6)


def test_waves_of_a_dipole_on_the_wall():
    # a dipole along the axis: psi = r H_phi goes as h_1(kr) sin^2, h_1 = (1 - j/x) exp(-jx) (-1)
    waves = revolved_waves(RADIUS, 0.5 * RADIUS, 260.0, 1e-6)
    x = K * RADIUS
    slope = -1j + (1j / x**2) / (1 - 1j / x)
    assert waves.admittance(K**2)[:, 0] == pytest.approx(1j * K * slope, rel=1e-12)
    theta = np.array([0.3, 1.2])
    up = waves.far_field(theta, theta)[0][0]
    # over the half sphere its square integrates to one: sqrt(3/(4 pi)) sin
    assert up == pytest.approx(math.sqrt(3 / (4 * math.pi)) * np.sin(theta), rel=1e-12)


def test_a_half_sphere_on_the_openings_edge_is_refused():
    with pytest.raises(MeshingError, match="too close"):
        orders_needed(RADIUS, 0.999 * RADIUS, 250.0, 1e-8)
