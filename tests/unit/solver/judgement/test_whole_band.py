"""Where frequencies are added between the known ones, and which lie about a resonance."""

import numpy as np
import pytest

from solver.judgement.whole_band import groups, points_to_add
from solver.waves.resonances import Resonance

GHZ = 1e9


def followed(curve, frequency, rounds=16):
    """Frequencies after rounds of adding, by a curve (n,) or (n, c) of the frequency."""
    for _ in range(rounds):
        values = curve(frequency).reshape(len(frequency), -1)
        more = points_to_add(frequency, values)
        if not more.size:
            break
        assert not np.isin(more, frequency).any()
        assert (more > frequency[0]).all() and (more < frequency[-1]).all()
        frequency = np.sort(np.concatenate([frequency, more]))
    return frequency


START = np.linspace(8 * GHZ, 12 * GHZ, 65)


@pytest.mark.parametrize("top", [9.987 * GHZ, 10.031 * GHZ])
def test_a_peak_between_the_points_is_followed_to_its_top(top):
    def curve(f):
        return 0.1 / np.sqrt(1 + ((f - top) / (0.1 * GHZ)) ** 2)

    points = followed(curve, START)
    assert curve(points).max() > 0.1 * (1 - 2e-6)
    assert len(points) < 300


@pytest.mark.parametrize("within", np.linspace(0.05, 0.95, 10))
@pytest.mark.parametrize("end", [8 * GHZ, 12 * GHZ])
@pytest.mark.parametrize("skew", [-0.3, 0.0, 0.3])
def test_a_peak_between_the_end_of_the_band_and_its_neighbour_is_followed(end, within, skew):
    inward = 1.0 if end < 10 * GHZ else -1.0
    top = end + inward * within * (START[1] - START[0])

    def curve(f):
        x = (f - top) / (0.5 * GHZ)
        return 0.1 * (1 - 0.5 * x**2 + skew * x**3) / (1 + x**4)

    points = followed(curve, START)
    assert curve(points).max() > 0.1 * (1 - 2e-6)
    assert len(points) < 100


@pytest.mark.parametrize("past", [0.02, 0.5, 3.0])
def test_a_curve_that_rises_to_the_end_of_the_band_needs_little_more(past):
    def curve(f):
        return 0.1 * (1 - ((f - 12 * GHZ - past * (START[1] - START[0])) / (4 * GHZ)) ** 2)

    assert len(followed(curve, START)) < len(START) + 30


def test_a_curve_of_small_worth_beside_a_large_one_has_its_own_scale():
    def curves(f):
        small = 1e-4 / (1 + ((f - 9.01 * GHZ) / (0.1 * GHZ)) ** 2)
        large = 0.5 / (1 + ((f - 11.02 * GHZ) / (0.1 * GHZ)) ** 2)
        return np.stack([small, large], axis=1)

    points = followed(curves, START)
    np.testing.assert_allclose(curves(points).max(axis=0), [1e-4, 0.5], rtol=3e-6)


def test_a_cusp_is_closed_in_on():
    def curve(f):
        return 0.2 - 0.19 * np.sqrt(np.abs(f - 10.0123 * GHZ) / (2 * GHZ))

    points = followed(curve, START)
    assert curve(points).max() > 0.2 - 0.005


def test_a_straight_line_and_a_low_ripple_need_no_more():
    assert points_to_add(START, 0.1 + 1e-12 * START[:, None]).size == 0

    def rippled(f):
        return 0.1 * f / f[-1] + 0.001 * np.cos(2 * np.pi * f / (1 * GHZ))

    assert points_to_add(START, rippled(START)[:, None]).size == 0


def test_two_points_get_one_between():
    pair = np.array([9.0, 11.0]) * GHZ
    np.testing.assert_array_equal(points_to_add(pair, np.ones((2, 1))), [10 * GHZ])


def resonance(frequency, quality, error=0.0, driven=True):
    return Resonance(frequency * GHZ, error, quality, "", driven)


def test_a_group_reaches_thirty_half_widths():
    found = resonance(10.0, 1000.0)  # half width 5 MHz
    f = np.array([9.849, 9.851, 10.0, 10.149, 10.151]) * GHZ
    np.testing.assert_array_equal(groups(f, (found,)), [0, 1, 1, 1, 0])


def test_a_broad_or_an_undriven_resonance_has_no_group():
    f = np.array([10.0]) * GHZ
    assert not groups(f, (resonance(10.0, 250.0), resonance(10.0, 1e8, driven=False))).any()


def test_between_two_resonances_the_nearer_by_its_reach_has_the_frequency():
    wide, narrow = resonance(10.0, 500.0), resonance(10.2, 5000.0)  # reach 300 and 30 MHz
    f = np.array([10.0, 10.15, 10.175, 10.19, 10.2, 10.25]) * GHZ
    np.testing.assert_array_equal(groups(f, (wide, narrow)), [1, 1, 1, 2, 2, 1])


def test_an_unsettled_place_widens_the_group_but_not_without_end():
    f = np.array([9.9, 9.97, 10.0, 10.03, 10.1]) * GHZ
    settled = resonance(10.0, 1e6)
    np.testing.assert_array_equal(groups(f, (settled,)), [0, 0, 1, 0, 0])
    unsure = resonance(10.0, 1e6, error=0.02 * GHZ)
    np.testing.assert_array_equal(groups(f, (unsure,)), [0, 1, 1, 1, 0])
    lost = resonance(10.0, 1e6, error=np.inf)
    np.testing.assert_array_equal(groups(f, (lost,)), [0, 0, 1, 0, 0])
    wild = resonance(10.0, 1e6, error=5 * GHZ)
    far = np.array([9.79, 9.81, 10.19, 10.21]) * GHZ
    np.testing.assert_array_equal(groups(far, (wild,)), [0, 1, 1, 0])
