"""The bar of wall loss, on made-up losses that converge as currents at an edge do.

At an edge of an angle A of field the currents go as r^(n - 1) with n = pi/A (J. Meixner, IEEE
Trans. AP-20 (1972) 442, from memory), so that their squares fall short by c p^(-2(2n - 1)).
"""

from types import SimpleNamespace

import numpy as np
import pytest

from solver.fem.loss_doubt import lossy_answer

FREQUENCY = np.array([9e9, 10e9, 11e9])
LOSSLESS = 0.9


class Problem:
    """One port, whose second mode does not count."""

    def squared_at(self, frequency):
        return np.asarray(frequency) / 1e9

    def counted(self, squared):
        counted = np.zeros((len(squared), 2, 2), dtype=bool)
        counted[:, 0, 0] = True
        return counted

    def scattering(self, mesh, impedance, squared):
        return np.tile(impedance * np.eye(2), (len(squared), 1, 1))


def solved(order, before, last):
    """Levels that answer without loss by some numbers."""
    sweeps = [SimpleNamespace(model=SimpleNamespace(impedance=lambda q, v=v: v))
              for v in (before, last)]  # fmt: skip
    return SimpleNamespace(before=sweeps[0], last=sweeps[1], order=order, mesh=None)


def losing(loss_of_order, uncounted=0.0):
    def with_walls(sweep, order):
        def at(frequency):
            s = np.tile(np.zeros((2, 2), dtype=complex), (len(frequency), 1, 1))
            s[:, 0, 0] = sweep.model.impedance(None) - loss_of_order(order)
            s[:, 1, 1] = uncounted * order
            return s

        return at

    return with_walls


@pytest.mark.parametrize("order", [4, 6, 9])
@pytest.mark.parametrize("angle", [200, 270, 320])
def test_the_share_holds_what_an_edge_leaves_open(order, angle):
    rate = 2 * (2 * 180 / angle - 1)

    def loss(p):
        return 0.01 * (1 - 0.3 * p**-rate)

    found = lossy_answer(Problem(), solved(order, LOSSLESS, LOSSLESS), losing(loss))(FREQUENCY)
    left = 0.01 - loss(order)
    # the change over an order is the slope, rate/p of what is left, somewhere between the two
    most = 4 * rate * (order / (order - 1)) ** (rate + 1)
    assert (found.share > left).all() and (found.share < most * left).all()
    # without an edge the lossless answers agree here, so that all of S is as unsure
    np.testing.assert_allclose(found.whole, found.share)
    np.testing.assert_allclose(found.s[:, 0, 0], LOSSLESS - loss(order))


def test_only_what_walls_change_is_in_the_share():
    levels = solved(5, LOSSLESS - 1e-3, LOSSLESS)
    found = lossy_answer(Problem(), levels, losing(lambda _: 0.01, uncounted=1.0))(FREQUENCY)
    np.testing.assert_allclose(found.share, 0.0, atol=1e-15)
    # about a sharp resonance all of S counts: 4 p times the change of 1e-3
    np.testing.assert_allclose(found.whole, 20e-3)


def test_smooth_walls_converge_geometrically():
    def loss(p):
        return 0.01 * (1 - 4.0**-p)

    found = lossy_answer(Problem(), solved(5, LOSSLESS, LOSSLESS), losing(loss), smooth=True)
    np.testing.assert_allclose(found(FREQUENCY).share, 4 * 0.01 * (4.0**-4 - 4.0**-5))


def test_without_the_order_below_there_is_no_doubt_to_tell():
    lone = SimpleNamespace(before=None, last=None, order=3, mesh=None)
    with pytest.raises(ValueError, match="needs the sweep of the next lower order"):
        lossy_answer(Problem(), lone, losing(lambda _: 0.0))
