"""Fields of order 1 about an axis at a port and on a half sphere: orthonormal, and by hand."""

import numpy as np
import pytest
from scipy.special import jn_zeros, jnp_zeros

from geometries.shapes.guides import CircularGuide
from solver.waves.guide_modes import SPEED_OF_LIGHT
from solver.waves.harmonic_modes import HarmonicModes, half_sphere_fields, harmonic_modes
from solver.waves.spherical_waves import harmonic_waves

GUIDE = CircularGuide(24e-3)


def rule(stop, count=60):
    x, w = np.polynomial.legendre.leggauss(count)
    return 0.5 * stop * (x + 1), 0.5 * stop * w


def test_modes_are_orthonormal_over_the_guide():
    r, w = rule(GUIDE.radius)
    fields = HarmonicModes(GUIDE, 9).fields(r)
    products = np.einsum("amq,anq,q->mn", fields, fields, r * w)
    assert np.abs(products - np.eye(9)).max() < 1e-12


def test_modes_are_listed_by_their_cutoff():
    modes = HarmonicModes(GUIDE, 4)
    assert [mode.name for mode in modes.port_modes(1)] == ["TE11", "TM11", "TE12", "TM12"]
    roots = np.array([jnp_zeros(1, 2)[0], jn_zeros(1, 2)[0], jnp_zeros(1, 2)[1], jn_zeros(1, 2)[1]])
    assert modes.transverse == pytest.approx(roots / 12e-3)


def test_e_on_the_axis_lies_along_y():
    # E_r sin(phi) along r and E_phi cos(phi) about the axis add up to a vector along y
    _, r, around = HarmonicModes(GUIDE, 6).fields(np.array([1e-12]))
    assert r == pytest.approx(around)


def test_admittances_are_those_of_te_and_tm():
    modes, k = HarmonicModes(GUIDE, 2), 2 * np.pi * 20e9 / SPEED_OF_LIGHT
    beta = modes.phase_constants(np.array([k**2]))[0]
    te, tm = modes.admittances(np.array([k**2]))[0]
    assert (te, tm) == (pytest.approx(beta[0]), pytest.approx(k**2 / beta[1]))


def test_as_many_modes_as_the_feed_lets_through():
    modes = harmonic_modes(GUIDE, 10e9, 12e-3, 1e-6)
    k = 2 * np.pi * 10e9 / SPEED_OF_LIGHT
    decay = np.sqrt(HarmonicModes(GUIDE, modes.count + 1).transverse ** 2 - k**2 + 0j).real
    assert np.exp(-2 * 12e-3 * decay[-1]) < 1e-6 < np.exp(-2 * 12e-3 * decay[-2])


def test_waves_are_orthonormal_over_a_meridian():
    theta, w = rule(0.5 * np.pi)
    waves = harmonic_waves(20e-3, 12e-3, 300.0, 1e-6)
    place = 20e-3 * np.array([np.cos(theta), np.sin(theta)])
    fields = half_sphere_fields(waves, place)
    products = np.einsum("amq,anq,q->mn", fields, fields, 20e-3 * place[1] * w)
    assert {wave.m for wave in waves.waves} == {1}
    assert np.abs(products - np.eye(waves.count)).max() < 1e-12
    # nothing along the radius of the sphere
    assert np.abs(np.einsum("amq,aq->mq", fields[:2], place)).max() < 1e-12
