"""Shifts of reference planes on made-up scattering: their sign, their bounds, what stays open."""

import numpy as np
import pytest

from solver.measured.planes import fit_planes, lever, shifted

C, CUTOFF = 299792458.0, 6.557e9
FREQUENCY = np.linspace(8.2e9, 12.4e9, 61)
BETA = np.repeat(2 * np.pi / C * np.sqrt(FREQUENCY**2 - CUTOFF**2)[:, None], 2, axis=1)
PORT = np.array([0, 1])
ONES = np.ones((2, 2))


def filter_like(size=0.4):
    """Reflects much and passes much, lossless and reciprocal."""
    through = np.sqrt(1 - size**2) * np.exp(-1j * BETA[:, 0] * 0.03)
    s11 = size * np.exp(-2j * BETA[:, 0] * 0.004)
    s22 = -through * s11.conj() / through.conj()
    return np.stack([np.stack([s11, through], -1), np.stack([through, s22], -1)], -2)


def test_planes_farther_out_delay_what_passes_them():
    """A length L of guide at port 1 gives S11 exp(-2j beta L) and S21 exp(-j beta L)."""
    s, length = filter_like(), 7e-3
    found = shifted(s, BETA, PORT, np.array([length, 0.0]))
    turn = np.exp(-1j * BETA[:, 0] * length)
    np.testing.assert_allclose(found[:, 0, 0], s[:, 0, 0] * turn**2)
    np.testing.assert_allclose(found[:, 1, 0], s[:, 1, 0] * turn)
    np.testing.assert_allclose(found[:, 1, 1], s[:, 1, 1])
    back = shifted(found, BETA, PORT, np.array([-length, 0.0]))
    np.testing.assert_allclose(back, s, atol=1e-14)


@pytest.mark.parametrize("shift", [(0.0, 0.0), (3.1e-3, -0.7e-3), (0.05, 0.045)])
def test_exact_shifts_are_found_exactly(shift):
    s = filter_like()
    found = fit_planes(shifted(s, BETA, PORT, np.array(shift)), s, BETA, PORT, ONES)
    np.testing.assert_allclose(found.shift, shift, atol=1e-12)
    assert found.total == pytest.approx(sum(shift), abs=1e-12)
    assert found.misfit < 1e-20


def test_uncertainty_is_twice_the_scatter_of_noise():
    s, sigma, rng = filter_like(), 3e-3, np.random.default_rng(66103)
    fits = []
    for _ in range(60):
        noise = sigma * (rng.normal(size=s.shape) + 1j * rng.normal(size=s.shape))
        fits.append(fit_planes(s + noise, s, BETA, PORT, ONES / sigma))
    scatter = np.std([fit.shift for fit in fits], axis=0)
    told = np.mean([fit.uncertainty for fit in fits], axis=0)
    # a deviation read from 60 of them is itself known to one part in eleven
    np.testing.assert_allclose(told, 2 * scatter, rtol=0.3)
    total = np.std([fit.total for fit in fits])
    assert fits[0].total_uncertainty == pytest.approx(2 * total, rel=0.3)


def test_a_part_that_reflects_nothing_tells_the_sum_alone():
    through = np.exp(-1j * BETA[:, 0] * 0.03)
    nothing = 0 * through
    s = np.stack([np.stack([nothing, through], -1), np.stack([through, nothing], -1)], -2)
    found = fit_planes(shifted(s, BETA, PORT, np.array([2e-3, 1e-3])), s, BETA, PORT, ONES)
    assert np.isinf(found.uncertainty).all()
    assert found.total == pytest.approx(3e-3, abs=1e-9)
    assert np.isfinite(found.total_uncertainty)


def test_one_port():
    s = np.exp(-2j * BETA[:, 0] * 0.01)[:, None, None]
    beta, port = BETA[:, :1], np.zeros(1, dtype=int)
    farther = shifted(s, beta, port, np.array([4e-3]))
    found = fit_planes(farther, s, beta, port, ONES[:1, :1])
    np.testing.assert_allclose(found.shift, [4e-3], atol=1e-12)


@pytest.mark.parametrize("what", [0, 1, "sum"])
def test_the_worst_error_of_a_size_moves_the_planes_by_the_lever(what):
    """Least squares, solved densely: the error whose signs are those of the inverse's row."""
    s, size, step = filter_like(), 1e-5, 1e-7
    sides = [shifted(s, BETA, PORT, step * np.eye(2)[p]) for p in range(2)]
    slope = np.stack([((side - s) / step).ravel() for side in sides], axis=1)
    inverse = np.linalg.pinv(np.concatenate([slope.real, slope.imag]))
    row = inverse.sum(axis=0) if what == "sum" else inverse[what]
    real, imaginary = np.sign(row).reshape(2, *s.shape)
    found = fit_planes(s + size * (real + 1j * imaginary), s, BETA, PORT, ONES)
    each, total = lever(s, BETA, PORT, ONES, np.zeros(2))
    moved, most = (found.total, total) if what == "sum" else (found.shift[what], each[what])
    assert moved == pytest.approx(most * size, rel=1e-3)
