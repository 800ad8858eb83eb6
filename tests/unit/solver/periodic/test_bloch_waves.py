"""Waves of chains of two masses and springs, whose phase and stopband are known.

For masses m, M and springs s in turn: (2s - M q)(2s - m q) = 2 s^2 (1 + cos(theta)), q being the
squared frequency (C. Kittel, Introduction to Solid State Physics, 8th ed., chapter 4, eq. 20).
"""

import numpy as np
import pytest

from solver.periodic.bloch_waves import PeriodicPiece, dies_out, phase_of
from solver.periodic.condensed_piece import CondensedPiece

LIGHT, HEAVY, SPRING = 1.0, 2.6, 1.7


def diatomic(light=LIGHT, heavy=HEAVY, spring=SPRING):
    """K and M of half a light mass, a heavy one, half a light one; the cuts first."""
    stiffness = spring * np.array([[1.0, 0, -1], [0, 1, -1], [-1, -1, 2]])
    return stiffness, np.diag([0.5 * light, 0.5 * light, heavy])


def piece_of(stiffness, mass, on_cut):
    inside = len(mass) - 2 * on_cut
    return CondensedPiece(
        stiffness, mass, np.zeros((len(mass), 0)), np.eye(len(mass)), 2, on_cut, np.ones(inside)
    )


def cosine(q, light=LIGHT, heavy=HEAVY, spring=SPRING):
    return (2 * spring - heavy * q) * (2 * spring - light * q) / (2 * spring**2) - 1


CHAIN = PeriodicPiece(piece_of(*diatomic(), 1), np.ones(1))
EDGES = 2 * SPRING / HEAVY, 2 * SPRING / LIGHT
TOP = 2 * SPRING * (1 / LIGHT + 1 / HEAVY)


def test_phase_of_a_period():
    q = np.linspace(0.01, 1.1 * TOP, 23)
    np.testing.assert_allclose(CHAIN.cosines(q), cosine(q), rtol=1e-9, atol=1e-12)


def test_matrix_is_the_one_with_the_inside_solved_for():
    q = 1.234
    k, m = diatomic()
    d = k - q * m
    dense = d[:2, :2] - d[:2, 2:] @ np.linalg.inv(d[2:, 2:]) @ d[2:, :2]
    np.testing.assert_allclose(CHAIN.matrix(q), dense, rtol=1e-12)


def test_standing_waves_are_the_edges():
    # at the top both kinds of masses move against each other, all cells alike
    np.testing.assert_allclose(CHAIN.standing(0.1, 1.1 * TOP), [*EDGES, TOP], rtol=1e-12)


def test_stopband_between_the_branches():
    (only,) = CHAIN.stopbands(0.1, 0.9 * TOP)
    np.testing.assert_allclose(only, EDGES, rtol=1e-12)
    above = CHAIN.stopbands(0.9 * TOP, 1.2 * TOP)
    np.testing.assert_allclose(above, [(TOP, 1.2 * TOP)], rtol=1e-12)
    # an interval that ends inside
    middle = 0.5 * sum(EDGES)
    np.testing.assert_allclose(CHAIN.stopbands(0.1, middle), [(EDGES[0], middle)], rtol=1e-12)


def test_equal_masses_have_no_stopband():
    folded = PeriodicPiece(piece_of(*diatomic(LIGHT, LIGHT), 1), np.ones(1))
    assert folded.stopbands(0.1, 0.99 * 4 * SPRING / LIGHT) == []


def mixed(other, followed):
    """Two chains that do not touch, seen through fields that mix them."""
    parts = [diatomic(), diatomic(*other)]
    k, m = (np.zeros((6, 6)) for _ in range(2))
    for i, (stiffness, mass) in enumerate(parts):
        place = np.ix_([i, 2 + i, 4 + i], [i, 2 + i, 4 + i])
        k[place], m[place] = stiffness, mass
    turn = np.array([[0.8, 0.6], [-0.6, 0.8]])
    mix = np.eye(6)
    mix[:2, :2] = mix[2:4, 2:4] = turn
    return PeriodicPiece(piece_of(mix.T @ k @ mix, mix.T @ m @ mix, 2), turn[followed])


@pytest.mark.parametrize("followed", [0, 1])
def test_the_wanted_one_of_two_waves_is_followed(followed):
    other, q = (0.4, 0.7, 2.9), np.linspace(0.05, 1.2, 7)
    exact = cosine(q, *other) if followed else cosine(q)
    np.testing.assert_allclose(mixed(other, followed).cosines(q), exact, rtol=1e-9)


def test_edges_of_another_wave_do_not_part_a_stopband():
    # the other's branches end at 1.5 and 3.0, inside the gap
    (only,) = mixed((1.0, 2.0, 1.5), 0).stopbands(0.1, 4.4)
    np.testing.assert_allclose(only, EDGES, rtol=1e-12)


def test_which_cosines_die_out():
    found = dies_out(np.array([0.3, -1.0, 1 + 1e-12, 1.001, -1.2, 0.3 + 1e-3j, 0.3 + 1e-8j]))
    np.testing.assert_array_equal(found, [False, False, False, True, True, True, False])


def test_phase_is_the_arccosine_on_the_branch_asked_for():
    exact = np.array([0.4, 2.9, 4.4, 7.0, 11.9, -1.2])
    about = exact + np.array([0.2, -0.1, 0.3, -0.2, 0.1, 0.3])
    found = phase_of(np.cos(exact).astype(complex), about)
    np.testing.assert_allclose(found.real, exact, atol=1e-7)
    np.testing.assert_allclose(found.imag, 0.0, atol=1e-7)


def test_a_wave_that_dies_out_has_its_phase_below_the_axis():
    # cos(pi - j alpha) = -cosh(alpha)
    found = phase_of(np.array([-np.cosh(0.7) + 0j, np.cosh(1.1) + 0j]), np.array([3.0, 6.4]))
    np.testing.assert_allclose(found, [np.pi - 0.7j, 2 * np.pi - 1.1j], atol=1e-12)
