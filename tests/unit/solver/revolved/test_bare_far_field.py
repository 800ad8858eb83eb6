"""Far fields from a surface about short dipoles, whose fields are known in closed form.

With g = exp(-j k R)/R the dipole along a unit vector u has E = (k^2 + grad div)(u g) and
eta0 H = j k curl(u g); far off its E is k^2 (u - n n.u) exp(-j k R)/R in the direction n.
"""

from types import SimpleNamespace

import numpy as np
import pytest

from solver.revolved.bare_radiation import far_field, pattern_degrees
from solver.revolved.surface_readings import Part, Samples

K, RADIUS, FRONT, BACK = 209.0, 12e-3, 9e-3, 11e-3
#: Radius of the guide that runs on behind.
THIN = 3e-3
#: By which lengths grow in the layer.
GROWTH = 1 - 2j


def run(start, stop, cells=6, count=14):
    """Gauss points and weights of a stretch."""
    x, w = np.polynomial.legendre.leggauss(count)
    lines = np.linspace(start, stop, cells + 1)
    step = np.diff(lines)[:, None] / 2
    return ((lines[:-1, None] + step) + step * x).ravel(), (step * w).ravel()


def surface():
    """A cylinder that runs on into both layers, a disc before it and a ring behind."""
    middle, middle_step = run(-BACK, FRONT)
    tail, tail_step = run(0.0, 0.06, 12)
    disc, disc_step = run(0.0, RADIUS)
    ring, ring_step = run(THIN, RADIUS)
    pieces = [
        (Part.BETWEEN, middle, RADIUS, middle_step),
        (Part.BEFORE, FRONT + GROWTH * tail, RADIUS, GROWTH * tail_step),
        (Part.BEHIND, -BACK - GROWTH * tail, RADIUS, GROWTH * tail_step),
        (Part.DISC, FRONT, disc, disc_step),
        (Part.RING, -BACK, ring, ring_step),
    ]
    part, z, r, step = (
        np.concatenate([np.broadcast_to(piece[i], piece[3].shape) for piece in pieces])
        for i in range(4)
    )
    return Samples((), part, z + 0j, r, step + 0j)


def derivatives(z, r):
    """g, g_r, g_z, g_rr, g_rz, g_zz."""
    away = np.sqrt(z**2 + r**2)
    g = np.exp(-1j * K * away) / away
    first = -(1j * K + 1 / away) * g
    second = (2 / away**2 + 2j * K / away - K**2) * g
    mixed = (second - first / away) / away**2
    rest = first / away
    slopes = first * r / away, first * z / away
    return g, *slopes, mixed * r**2 + rest, mixed * r * z, mixed * z**2 + rest


def upright(z, r):
    """Dipole along y: E along z, r as sin phi, about the axis as cos phi."""
    g, by_r, by_z, by_rr, by_rz, _ = derivatives(z, r)
    electric = np.array([by_rz, K**2 * g + by_rr, K**2 * g + by_r / r])
    return electric, 1j * K * np.array([by_r, -by_z, by_z])


def along(z, r):
    """Dipole along z, which does not vary about the axis."""
    g, by_r, _, _, by_rz, by_zz = derivatives(z, r)
    none = np.zeros_like(g)
    return np.array([K**2 * g + by_zz, by_rz, none]), 1j * K * np.array([none, none, -by_r])


def found(order, dipole, angle, shift=0.0):
    samples = surface()
    electric, magnetic = dipole(samples.z - shift, samples.r)
    problem = SimpleNamespace(order=order, horn=SimpleNamespace(guide=SimpleNamespace(radius=THIN)))
    return far_field(samples, electric, magnetic, problem, K, angle)


ANGLE = np.radians(np.arange(0.0, 89.0, 8.0))


@pytest.mark.parametrize("shift", [0.0, 4e-3])
def test_a_dipole_across_the_axis(shift):
    """u.theta is cos(theta) in its own plane, u.phi is 1 across it; a shift turns the phase."""
    turn = np.exp(1j * K * shift * np.cos(ANGLE))
    exact = K**2 * np.array([np.cos(ANGLE), np.ones_like(ANGLE)]) * turn
    np.testing.assert_allclose(found(1, upright, ANGLE, shift), exact, atol=1e-6 * K**2)


@pytest.mark.parametrize("shift", [0.0, -3e-3])
def test_a_dipole_along_the_axis(shift):
    exact = -(K**2) * np.sin(ANGLE) * np.exp(1j * K * shift * np.cos(ANGLE))
    both = found(0, along, ANGLE, shift)
    np.testing.assert_allclose(both, [exact, exact], atol=1e-6 * K**2)
    assert not both[:, 0].any()


def test_a_source_outside_the_surface_makes_nothing_of_it():
    """Two fields without sources inside have no reaction on a closed surface."""
    outside, inside = (found(1, upright, ANGLE, shift) for shift in (FRONT + 20e-3, 0.0))
    assert np.abs(outside).max() < 1e-6 * np.abs(inside).max()


def test_patterns_end_before_the_guide_that_a_round_field_hangs_on_to():
    assert pattern_degrees(1)[-1] == 180.0 and pattern_degrees(0)[-1] == 175.0
