"""What short dipoles on a metal wall radiate, from their one spherical wave.

Over the wall a short vertical dipole has the directivity 3 sin(theta)^2; so has, by duality, a
magnetic one that lies on it: 3 along the wall's normal, all round the plane across it
(C. A. Balanis, Antenna Theory, 3rd ed., section 4.7.2, eq. 4-103: D = 3 at height 0; from memory).
"""

import numpy as np
import pytest

from solver.fem.band_answers import BandAnswers
from solver.waves.guide_modes import SPEED_OF_LIGHT
from solver.waves.radiation import radiation_of
from solver.waves.spherical_waves import RevolvedWaves, SphericalWave, SphericalWaves

FREQUENCY = np.linspace(8e9, 10e9, 5)
MAGNETIC = SphericalWave(1, 1, "TE")
LEAST = 0.05


def answers(*waves, changes=(1e-3, 1e-4), added=0.0):
    """A guided mode and waves of given amplitudes, in three spaces so far apart."""
    n, m = len(FREQUENCY), 1 + len(waves)
    s = np.zeros((n, m, m), dtype=complex)
    s[:, 1:, 0] = s[:, 0, 1:] = waves
    compared = []
    for off in (sum(changes), changes[-1], 0.0):
        here = s.copy()
        here[:, 1, 0] += off
        compared.append(here)
    steps = tuple(np.full(n, change) for change in changes)
    return BandAnswers(
        FREQUENCY, s, steps, np.full(n, added), LEAST, False, compared=tuple(compared)
    )


def test_a_magnetic_dipole_along_the_wall():
    waves = SphericalWaves((MAGNETIC,), 0.02)
    found = radiation_of(answers(0.6j), waves, 1, np.ones(2))
    np.testing.assert_allclose(found.power, 0.36)
    np.testing.assert_allclose(found.axial, 3.0, rtol=1e-12)
    np.testing.assert_allclose(found.largest, 3.0, rtol=1e-12)
    # E lies in the plane across the dipole, where it is the same all round
    np.testing.assert_allclose(found.e_plane, 3.0, rtol=1e-12)
    cosine = np.cos(found.angle) ** 2
    np.testing.assert_allclose(found.h_plane, np.tile(3 * cosine, (5, 1)), atol=1e-11)


def test_an_electric_dipole_upright_on_the_wall():
    found = radiation_of(answers(0.3), RevolvedWaves((1,), 0.02), 1, np.ones(2))
    sine = 3 * np.sin(found.angle) ** 2
    for plane in (found.e_plane, found.h_plane):
        np.testing.assert_allclose(plane, np.tile(sine, (5, 1)), atol=1e-11)
    np.testing.assert_allclose(found.largest, 3.0, rtol=1e-12)
    np.testing.assert_allclose(found.largest_at, np.pi / 2)
    assert not found.axial.any()


def test_power_of_two_waves_is_the_integral_of_their_pattern():
    waves = SphericalWaves((MAGNETIC, SphericalWave(2, 1, "TM")), 0.02)
    found = radiation_of(answers(0.6, 0.3 - 0.4j), waves, 1, np.ones(3))
    np.testing.assert_allclose(found.power, 0.36 + 0.25)
    # both waves go as sin(phi) and cos(phi): the two planes hold all of the half space
    node, weight = np.polynomial.legendre.leggauss(200)
    cosine, weight = (node + 1) / 2, weight / 2
    angle = np.arccos(cosine)
    for e_plane, h_plane in zip(found.e_plane, found.h_plane, strict=True):
        both = np.interp(angle, found.angle, e_plane + h_plane)
        assert np.pi * (both @ weight) == pytest.approx(4 * np.pi, rel=1e-3)


def test_a_wave_turns_on_its_way_as_hankels_function_says():
    # far off h(kr) goes to j^(n+1) exp(-jkr); at kR it is j kR h_1(2), of the closed form
    waves = RevolvedWaves((1,), 0.02)
    q = (2 * np.pi * FREQUENCY / SPEED_OF_LIGHT) ** 2
    x = np.sqrt(q) * 0.02
    riccati = -np.exp(-1j * x) * (1 - 1j / x)
    phase = waves.far_phases(q)[:, 0] * riccati / np.abs(riccati)
    np.testing.assert_allclose(phase, -1.0, atol=1e-12)


def test_bars_hold_what_a_next_space_would_change():
    """Amplitudes that fall by a ratio of 0.1: what is left is a ninth of the last change."""
    changes, weights = (1e-2, 1e-3), np.array([1.0, 0.5])
    waves = SphericalWaves((MAGNETIC,), 0.02)
    made = answers(0.6, changes=[weights[1] * c for c in changes])
    found = radiation_of(made, waves, 1, weights)
    left = changes[-1] / 9
    assert (found.power_error > 2 * 0.6 * left).all()
    assert (found.power_error < 20 * 2 * 0.6 * left).all()
    # one wave alone keeps its pattern, whatever its amplitude
    assert (found.axial_error < 1e-6).all()
    # what is added to S is added to the wave, divided by its weight
    more = radiation_of(
        answers(0.6, changes=[weights[1] * c for c in changes], added=1e-3), waves, 1, weights
    )
    assert (more.power_error - found.power_error >= 2 * 0.6 * 2e-3).all()
    assert (more.axial_error >= 2 * np.sqrt(3.0) * 2e-3 / 0.6).all()
    assert (more.pattern_error > 0).all() and more.pattern_error.shape == (5, 91)
