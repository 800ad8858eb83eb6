"""Waves at a rim: Maxwell's equations by differences, and what their matrices have to obey."""

import numpy as np
import pytest
from scipy.special import h2vp, hankel2

from solver.waves.open_boundaries import power_half
from solver.waves.rim_waves import RimColumn, RimWaves, half_waves, rim_waves

RADIUS, GAP, EPS = 0.03, 0.016, 2.3
K = np.array([150.0, 209.0, 320.0])


def waves(*orders, odd=True):
    columns = [RimColumn(m, n, along) for m, n in orders for along in (True, False)[: 1 + bool(n)]]
    return RimWaves(tuple(columns), RADIUS, GAP, EPS, odd)


def field(kind, m, n, k, point):
    """E (x, y, z) of a wave from its potential along z, and its curl, both by differences."""
    p = n * np.pi / GAP
    across = np.sqrt(k**2 * EPS - p**2 + 0j)
    across = np.conj(across) if across.imag > 0 else across

    def electric(at):
        x, y, z = at
        r, angle = np.hypot(x, y), np.arctan2(y, x)
        h, slope = hankel2(m, across * r), across * h2vp(m, across * r)
        s, c = np.sin(m * angle), np.cos(m * angle)
        radial, around = np.array([x, y, 0]) / r, np.array([-y, x, 0]) / r
        if kind == "E":
            # E = (k^2 + grad div) (psi z), psi = H_m cos(p z) sin(m phi)
            along = -p * np.sin(p * z)
            transverse = along * (slope * s * radial + m / r * h * c * around)
            return transverse + across**2 * h * np.cos(p * z) * s * np.array([0, 0, 1])
        # E = curl (psi z), psi = H_m sin(p z) cos(m phi)
        return np.sin(p * z) * (-m / r * h * s * radial - slope * c * around)

    step, gradient = 1e-6, np.zeros((3, 3), dtype=complex)
    for i, shift in enumerate(np.eye(3) * step):
        gradient[i] = (electric(point + shift) - electric(point - shift)) / (2 * step)
    d = gradient
    curl = np.array([d[1, 2] - d[2, 1], d[2, 0] - d[0, 2], d[0, 1] - d[1, 0]])
    return electric(point), curl


@pytest.mark.parametrize(("m", "n"), [(1, 0), (1, 1), (3, 1), (1, 2), (5, 2)])
@pytest.mark.parametrize("kind", ["E", "H"])
def test_admittance_is_that_of_maxwells_equations(m, n, kind):
    if n == 0 and kind == "H":
        pytest.skip("a wave that is uniform across the gap is of E type")
    rim = waves((m, n))
    for k in K:
        y = rim.admittance(np.array([k**2]))[0]
        y = y if y.ndim == 2 else np.diag(y)
        # two points tell the two components apart, each at its largest
        at_z, at_phi = 0.0 if n == 0 else GAP / (3 * n), GAP / (2.5 * n or 1.0)
        for angle, z in ((0.4, at_z), (0.9, at_phi)):
            normal = np.array([np.cos(angle), np.sin(angle), 0.0])
            point = RADIUS * normal + np.array([0, 0, z])
            e, curl = field(kind, m, n, k, point)
            shapes = rim.fields(point[:, None])[:, :, 0]
            over = (shapes**2).sum(axis=1)
            amplitude = shapes @ e / over
            expected = shapes @ np.cross(normal, curl) / over
            assert np.abs(1j * y @ amplitude - expected).max() < 1e-6 * np.abs(expected).max()


def test_fields_are_orthonormal_on_a_quarter_of_the_rim():
    x, w = np.polynomial.legendre.leggauss(40)
    angle, z = np.meshgrid(np.pi / 4 * (x + 1), GAP / 2 * (x + 1), indexing="ij")
    weight = np.outer(w, w).ravel() * np.pi / 4 * GAP / 2 * RADIUS
    points = np.stack([RADIUS * np.cos(angle), RADIUS * np.sin(angle), z]).reshape(3, -1)
    for mirrors in (("magnetic", "electric"), ("magnetic", "magnetic"), ("electric", "electric")):
        rim = rim_waves(RADIUS, GAP, 320.0, EPS, mirrors=mirrors, stretches=[(0.02, EPS)])
        assert rim.coupled
        values = rim.fields(points)
        gram = np.einsum("itq,jtq,q->ij", values, values, weight)
        assert np.abs(gram - np.eye(len(gram))).max() < 1e-10


def test_power_belongs_to_the_admittance():
    rim = waves((1, 0), (3, 0), (1, 1), (3, 1), (1, 2), (40, 2))
    squared = np.linspace(100.0, 400.0, 31) ** 2
    # the cutoff of n = 1 itself
    squared = np.append(squared, (np.pi / GAP) ** 2 / EPS)
    y = rim.admittance(squared)
    half = power_half(y)
    size = np.abs(y).max(axis=(1, 2))
    assert np.abs(y - y.swapaxes(1, 2)).max() < 1e-9 * size.max()
    assert (np.abs(half @ half - y.real).max(axis=(1, 2)) < 1e-9 * size).all()
    # lossless where it decays, and continuous through the cutoff
    decaying = squared * EPS < (np.pi / GAP) ** 2
    assert np.abs(y.real[decaying][:, 2:, 2:]).max() < 1e-12 * size.max()
    near = (np.pi / GAP) ** 2 / EPS * (1 + np.array([-1e-7, 1e-7]))
    low, high = rim.admittance(near)[:, 4:6, 4:6]
    assert np.abs(low - high).max() < 1e-5 * np.abs(high).max()


def test_half_waves_that_travel_or_have_not_decayed_are_kept():
    k = 209.0
    assert half_waves(0.2e-3, k, 1.0, [(9e-3, 1.0)], 1e-5) == 0
    assert half_waves(16e-3, k, 1.0, [(24e-3, 1.0)], 1e-5) == 1
    assert half_waves(11.5e-3, 260.0, 1.0, [(17e-3, 1.0)], 1e-5) == 1
    # a dense gasket lets travel what has not decayed before it
    assert half_waves(6e-3, k, 9.0, [(6e-3, 1.0), (4e-3, 9.0)], 1e-5) == 1
    assert half_waves(6e-3, k, 9.0, [(200e-3, 1.0), (4e-3, 9.0)], 1e-5) == 0


def test_admittances_are_those_of_the_q_asked_for_last():
    def made():
        return rim_waves(0.02, 0.3e-3, 260.0, mirrors=("magnetic", "electric"))

    rim = made()
    for squared in (np.array([4e4, 5e4]), np.array([4e4, 6e4]), np.array([5e4])):
        assert np.array_equal(rim.admittance(squared), made().admittance(squared))
        assert np.array_equal(rim.leaves(squared), made().leaves(squared))
