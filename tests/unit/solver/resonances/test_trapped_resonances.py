"""Complex resonances of made-up pencils whose eigenvalues are known."""

from types import SimpleNamespace

import numpy as np
import pytest

from solver.fem.lossy_model import LossyModel
from solver.fem.reduced_model import ReducedModel
from solver.resonances.damped_resonances import damped_resonances
from solver.resonances.trapped_resonances import (
    LEAST_Q,
    _NearPoles,
    complex_resonances,
    trapped_resonances_of,
)
from solver.waves.resonances import UNDRIVEN_Q, resonance_text, too_sharp
from tests.unit.solver.made_up_pencils import frequency_of

BAND = tuple(frequency_of(np.array([180.0**2, 240.0**2])))


def model(poles, columns):
    columns = np.asarray(columns, dtype=float).reshape(len(poles), -1)
    return ReducedModel(np.asarray(poles, dtype=float), columns, np.eye(0), np.eye(0))


def carrying(count):
    """Admittance k of waves that leave: it changes with q."""
    return lambda q: np.sqrt(np.asarray(q))[:, None] * np.ones(count)


def listed(coarse, fine, admittance=None):
    found = SimpleNamespace(levels=(coarse, fine))
    return trapped_resonances_of(found, admittance or carrying(1), BAND, "m = 0")


def test_one_pole_loses_by_an_admittance_that_follows_the_frequency():
    """k^2 - j c^2 k - p = 0 by the quadratic formula; far poles are eliminated exactly."""
    for pole, c in ((200.0**2, 0.5), (215.0**2, 1.5), (225.0**2, 2.5)):
        (found,) = complex_resonances(model([pole], [c]), carrying(1), BAND)
        expected = (1j * c**2 + np.sqrt(4 * pole - c**4 + 0j)) / 2
        assert abs(found - expected) < 1e-9 * abs(expected)


def test_many_poles_and_two_ports_against_the_companion_matrix():
    """(P + j k C C^T - k^2) v = 0 is quadratic in k: its linearisation has every k."""
    rng = np.random.default_rng(11)
    poles = np.sort(rng.uniform(100.0, 320.0, 14)) ** 2
    columns = rng.normal(size=(14, 2)) * 1.2
    loss, n = columns @ columns.T, len(poles)
    companion = np.block([[np.zeros((n, n)), np.eye(n)], [np.diag(poles), 1j * loss]])
    every = np.linalg.eigvals(companion)
    low, high = (2 * np.pi * f / 299792458.0 for f in BAND)
    sharp = every.real > 20.0 * 2 * np.abs(every.imag)
    expected = every[(every.real > low) & (every.real < high) & sharp]
    found = complex_resonances(model(poles, columns), carrying(2), BAND)
    assert len(found) == len(expected) > 2
    np.testing.assert_allclose(found, expected[np.argsort(expected.real)], rtol=1e-8)


def test_crossings_are_the_eigenvalues_with_stored_energy_at_the_ports():
    """A wave that does not carry power off, Y = -j alpha, adds alpha c c^T."""
    poles = np.array([150.0, 195.0, 205.0, 206.0, 230.0, 290.0]) ** 2
    columns = np.array([3.0, 2.0, 1.0, 4.0, 2.0, 5.0])
    alpha = 40.0
    near = _NearPoles(
        model(poles, columns),
        lambda q: np.full((len(q), 1), -1j * alpha),
        180.0**2,
        240.0**2,
    )
    exact = np.linalg.eigvalsh(np.diag(poles) + alpha * np.outer(columns, columns))
    exact = exact[(exact > 180.0**2) & (exact < 240.0**2)]
    np.testing.assert_allclose(near.crossings(180.0**2, 240.0**2), exact, rtol=1e-8)
    assert near.closed_between(180.0**2, 240.0**2) == len(exact) == 4


def test_a_crossing_is_found_however_steep_the_stored_energy():
    pole, cutoff = 4.0, 9.0
    for coupling in (1e-4, 0.3, 1.0, 2.2):
        model = ReducedModel(
            np.array([pole]), np.array([[coupling]]), np.zeros((0, 0)), np.zeros((0, 0))
        )
        near = _NearPoles(model, lambda q: -1j * np.sqrt(cutoff - q)[:, None], 2.0, 8.999)
        # pole + c^2 s = q with s = sqrt(cutoff - q), a quadratic in s
        s = 0.5 * (-(coupling**2) + np.sqrt(coupling**4 + 4 * (cutoff - pole)))
        assert near.crossings(2.0, 8.999) == [pytest.approx(cutoff - s**2, rel=2e-9)]


def test_a_sharp_one_between_the_even_starts_is_found():
    pole, c = 203.7123**2, 1e-3
    (found,) = complex_resonances(model([pole, 210.0**2], [c, 2.5]), carrying(1), BAND)[:1]
    assert abs(found.real - 203.7123) < 1e-4
    assert 0 < found.imag < 1e-5


def test_the_error_is_four_times_the_change_of_the_space():
    (found,) = listed(model([200.0**2], [1.0]), model([200.02**2], [1.0]))
    before, after = ((1j + np.sqrt(4 * p - 1 + 0j)) / 2 for p in (200.0**2, 200.02**2))
    to_hertz = 299792458.0 / (2 * np.pi)
    assert found.error == pytest.approx(4 * abs(after - before) * to_hertz, rel=1e-6)
    assert found.frequency == pytest.approx(after.real * to_hertz, rel=1e-10)
    assert found.quality == pytest.approx(after.real / (2 * after.imag), rel=1e-6)
    assert found.driven and not too_sharp((found,))


def test_an_undriven_one_has_another_q_in_every_space():
    """What drives it is round-off, and round-off differs."""
    (found,) = listed(model([200.0**2], [3e-5]), model([200.0**2], [1e-6]))
    assert found.quality > UNDRIVEN_Q
    assert not found.driven and not too_sharp((found,))
    assert "not driven in the ideal shape" in resonance_text(found)
    # the same Q in both spaces is no accident
    (found,) = listed(model([200.0**2], [3e-5]), model([200.001**2], [3e-5]))
    assert found.driven and too_sharp((found,)) == (found,)


def test_one_that_the_finer_space_has_lost_is_listed_without_a_bound():
    both, one = model([200.0**2, 225.0**2], [1.0, 1.2]), model([200.0**2], [1.0])
    kept, lost = listed(both, one)
    assert np.isfinite(kept.error)
    assert lost.error == np.inf
    assert lost.frequency == pytest.approx(float(frequency_of(225.0**2)), rel=1e-4)
    # one that is new in the finer space has no bound either, and no partner
    _, new = listed(one, both)
    assert new.error == np.inf and new.before == ()


def test_a_steep_wave_is_found_from_its_crossing_and_by_newtons_slope():
    """A wave that stores gives the pole p - 3 (q - p): no even start sees it near itself.

    Halfway between two starts it lies two spacings off either; its crossing is p itself, and
    q = lambda(q) by itself runs away from there.
    """
    low, high = 180.0, 240.0
    pole = (low + 2.5 * (high - low) / 8) ** 2
    weak = 0.02

    def admittance(q):
        q = np.asarray(q)
        return np.stack([3j * (q - pole), np.sqrt(q)], axis=1)

    (found,) = complex_resonances(model([pole], [1.0, weak]), admittance, BAND)
    # 4 (k^2 - p) = j weak^2 k
    loss = weak**2 / 4
    expected = (1j * loss + np.sqrt(4 * pole - loss**2)) / 2
    assert abs(found - expected) < 1e-9 * abs(expected)


def lossy(poles, columns, damping=0.0):
    """The same made-up pencil as a model with losses, its basis turned at random."""
    n = len(poles)
    turn, _ = np.linalg.qr(np.random.default_rng(5).normal(size=(n, n)))
    poles = np.asarray(poles) * (1 + 1j * damping)
    columns = np.asarray(columns, dtype=float).reshape(n, -1)
    return LossyModel.of(turn.T @ np.diag(poles) @ turn, np.eye(n), turn.T @ columns, turn)


def test_losses_that_go_to_nothing_leave_the_resonances_where_they_were():
    rng = np.random.default_rng(4)
    poles = np.sort(rng.uniform(150.0, 270.0, 30)) ** 2
    columns = rng.normal(size=(30, 2)) * rng.choice([0.01, 1.0], size=(30, 1))
    expected = complex_resonances(model(poles, columns), carrying(2), BAND)
    found = damped_resonances(lossy(poles, columns), carrying(2), BAND, LEAST_Q)
    assert len(expected) > 5
    np.testing.assert_allclose(found, expected, rtol=1e-9)


def test_a_material_damps_every_field():
    """k^2 - j c^2 k - p (1 + j d) = 0 by the quadratic formula."""
    pole, c, damping = 210.0**2, 0.5, 0.004
    (found,) = damped_resonances(lossy([pole], [c], damping), carrying(1), BAND, LEAST_Q)
    expected = (1j * c**2 + np.sqrt(4 * pole * (1 + 1j * damping) - c**4)) / 2
    assert abs(found - expected) < 1e-9 * abs(expected)
    coarse = lossy([pole * 1.0001], [c], damping)
    (listed_one,) = listed(coarse, lossy([pole], [c], damping))
    assert listed_one.driven
    assert listed_one.error == pytest.approx(4 * 0.00005 * listed_one.frequency, rel=0.01)
