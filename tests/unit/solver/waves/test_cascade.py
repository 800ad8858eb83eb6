"""Joining by scattering against the same by impedances, and against what is known exactly."""

import numpy as np
import pytest

from solver.waves.cascade import (
    Junction,
    ended,
    joined,
    moved,
    repeated,
    straight_junction,
)
from solver.waves.matched_ports import matched_scattering, outgoing_root

RANDOM = np.random.default_rng(20391)
#: Phase constants of four modes at two frequencies: one or two propagate.
BETA = np.array([[150.0, -210j, -390j, -800j], [260.0, 90.0, -310j, -750j]])


def impedance(ports, count=2):
    """Real symmetric matrices, as lossless parts have them."""
    z = RANDOM.normal(size=(count, ports, ports)) * 2e-3
    return z + z.transpose(0, 2, 1)


def junction(z, first, second):
    admittance = np.concatenate([first, second], axis=1)
    s = matched_scattering(z, admittance, np.zeros_like(admittance))
    return Junction.of_matrix(s, first.shape[1])


def test_parts_joined_by_scattering_are_those_joined_by_impedance():
    # fields v = Z i with the flux i into each part: v is the same where they meet, i opposite
    outer, inner, last = BETA[:, :2], BETA, BETA[:, :3]
    z, w = impedance(6), impedance(7)
    found = joined(junction(z, outer, inner), junction(w, inner, last))
    sum_inside = z[:, 2:, 2:] + w[:, :4, :4]
    coupled = np.concatenate([z[:, :2, 2:], -w[:, 4:, :4]], axis=1)
    alone = np.zeros((2, 5, 5))
    alone[:, :2, :2], alone[:, 2:, 2:] = z[:, :2, :2], w[:, 4:, 4:]
    whole = alone - coupled @ np.linalg.solve(sum_inside, coupled.transpose(0, 2, 1))
    expected = junction(whole, outer, last)
    np.testing.assert_allclose(found.matrix, expected.matrix, rtol=1e-9, atol=1e-9)


def test_a_thousand_lengths_of_guide_are_one_long_one():
    # 3 m at 800 Np/m: a transfer matrix would hold exp(2400)
    found = repeated(straight_junction(BETA, 3e-3), 1000)
    expected = straight_junction(BETA, 3.0)
    np.testing.assert_allclose(found.matrix, expected.matrix, rtol=1e-9, atol=1e-12)


@pytest.mark.parametrize("count", [1, 2, 3, 7, 12])
def test_doubling_is_joining_one_after_the_other(count):
    cell = junction(impedance(8), BETA, BETA)
    whole = cell
    for _ in range(count - 1):
        whole = joined(whole, cell)
    np.testing.assert_allclose(repeated(cell, count).matrix, whole.matrix, rtol=1e-8, atol=1e-8)


def test_planes_moved_out_and_in_again():
    cell = junction(impedance(8), BETA, BETA)
    length = 4e-3
    guide = straight_junction(BETA, length)
    longer = joined(joined(guide, cell), guide)
    back = moved(longer, (BETA, BETA), (np.full(4, length), np.full(4, length)))
    np.testing.assert_allclose(back.matrix, cell.matrix, rtol=1e-9, atol=1e-12)


def test_a_short_at_the_end():
    # a length of guide before a short turns each mode twice
    length = 7e-3
    short = -np.eye(4) * np.ones((2, 1, 1))
    found = ended(straight_junction(BETA, length), short)
    expected = -np.exp(-2j * BETA * length)[:, :, None] * np.eye(4)
    np.testing.assert_allclose(found, expected, rtol=1e-12, atol=1e-15)


def test_a_reversed_part_joined_is_the_mirror_image():
    one, two = junction(impedance(8), BETA, BETA), junction(impedance(8), BETA, BETA)
    found = joined(one, two).reversed
    expected = joined(two.reversed, one.reversed)
    np.testing.assert_allclose(found.matrix, expected.matrix, rtol=1e-9, atol=1e-9)


def test_waves_below_cutoff_carry_power_between_near_parts():
    # two irises as shunt reactances in two modes: what only the evanescent mode carries is lost
    # when it is left out
    k2 = np.array([200.0**2])
    beta = outgoing_root(k2[:, None] - np.array([100.0, 400.0]) ** 2)
    z = np.array([[1.0, 0.5, 1.0, 0.5], [0.5, 2.0, 0.5, 2.0]] * 2)[None] * 5e-3
    iris = junction(z, beta, beta)
    near, far = (
        joined(joined(iris, straight_junction(beta, length)), iris) for length in (1e-3, 40e-3)
    )
    for whole, length, differs in ((near, 1e-3, True), (far, 40e-3, False)):
        one = Junction.of_matrix(iris.matrix[:, [0, 2]][:, :, [0, 2]], 1)
        alone = joined(joined(one, straight_junction(beta[:, :1], length)), one)
        apart = np.abs(whole.s21[0, 0, 0] - alone.s21[0, 0, 0])
        assert apart > 1e-3 if differs else apart < 1e-7


@pytest.mark.parametrize("count", [0, -2])
def test_no_part_cannot_be_joined(count):
    with pytest.raises(ValueError, match="at least 1"):
        repeated(straight_junction(BETA, 1e-3), count)


def test_other_modes_cannot_meet():
    with pytest.raises(ValueError, match="do not fit"):
        joined(straight_junction(BETA, 1e-3), straight_junction(BETA[:, :3], 1e-3))
