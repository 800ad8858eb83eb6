"""Members joined with several modes, on made-up matrices and falls that are known."""

from dataclasses import replace

import numpy as np
import pytest

from geometries.shapes.guides import RectangularGuide
from solver.runs.cluster import (
    Cluster,
    NearJoint,
    NearMember,
    highest_kept,
    left_out_in_plane,
    left_out_in_space,
)
from solver.waves.cascade import Junction, joined
from solver.waves.guide_modes import SPEED_OF_LIGHT
from solver.waves.matched_ports import outgoing_root
from solver.waves.space_modes import SpaceMode

GUIDE = RectangularGuide(22.86e-3, 10.16e-3)
MODES = tuple(SpaceMode(GUIDE, "TE", m, 0) for m in (1, 2, 3))
FREQUENCY = np.array([9e9, 12e9])
#: Straight guide between two planes of reference, and between a plane and a port.
LENGTH, FEED = 9e-3, 2.5e-3


def beta(frequency=FREQUENCY):
    k = 2 * np.pi * frequency[:, None] / SPEED_OF_LIGHT
    return outgoing_root(k**2 - np.array([mode.wavenumber for mode in MODES]) ** 2)


def scattering(seed, size=0.4):
    """Symmetric, of three modes at each of two ports, nothing in it above `size`."""
    rng = np.random.default_rng([seed, 30881])
    s = rng.normal(size=(6, 6)) + 1j * rng.normal(size=(6, 6))
    s = s + s.T
    return size * s / np.linalg.norm(s, 2)


def member(seed, changes=(0.0, 0.0), **others):
    """A member whose three spaces differ by so much from one to the next, in every element."""
    best = scattering(seed)
    levels = [best - sum(changes), best - changes[-1], best]

    def waves(s):
        return lambda f: np.broadcast_to(s, (len(f), 6, 6)).copy()

    return NearMember(
        **{
            "first": tuple(mode.port_mode(1) for mode in MODES),
            "second": tuple(mode.port_mode(2) for mode in MODES),
            "sides": (MODES, MODES),
            "feeds": (FEED, FEED),
            "levels": tuple(waves(s) for s in levels),
            "fewer": lambda share: waves(best),
            "before": None,
            "lossy": None,
            "share": np.zeros_like,
            "least_ratio": 0.05,
        }
        | others
    )


def between(passing=(1, 1, 1)):
    """Waves that run count from the planes, those that die out from the ports."""
    length = np.where(beta().real > 0, LENGTH, LENGTH - 2 * FEED)
    past = np.exp(-1j * beta() * length)[:, :, None] * np.diag(passing)
    return Junction(0 * past, past, past, 0 * past)


def pair(*members, turn=0.0):
    return Cluster(members, (NearJoint(LENGTH, turn),))


def whole(first, second, passing=(1, 1, 1)):
    one, two = (Junction.of_matrix(np.tile(s, (2, 1, 1)), 3) for s in (first, second))
    return joined(joined(one, between(passing)), two).matrix


def largest(change):
    """Largest change between modes that run, (n,)."""
    runs = np.tile(beta().real > 0, (1, 2))
    return np.where(runs[:, :, None] & runs[:, None, :], np.abs(change), 0).max(axis=(1, 2))


def test_two_members_are_joined_by_the_guide_between_their_ports():
    found = pair(member(1), member(2)).waves(FREQUENCY)
    np.testing.assert_allclose(found, whole(scattering(1), scattering(2)), atol=1e-13)


def test_half_a_turn_between_reverses_the_modes_that_are_odd():
    """Half a turn maps E of TE_m0 on itself times (-1)^m (see the test of `share_after_turn`)."""
    found = pair(member(1), member(2), turn=np.pi).waves(FREQUENCY)
    sign = np.array([1, -1, 1]) * -1.0
    turned = np.diag([*sign, 1, 1, 1]) @ scattering(2) @ np.diag([*sign, 1, 1, 1])
    exact = whole(scattering(1), turned)
    # the sign of all at once turns the second port over, and nothing else
    size = np.abs(found)
    np.testing.assert_allclose(size, np.abs(exact), atol=1e-13)
    assert np.abs(size - np.abs(pair(member(1), member(2)).waves(FREQUENCY))).max() > 1e-3


def test_a_run_backwards_is_the_same_seen_from_the_other_end():
    ahead = pair(member(1), replace(member(2), feeds=(FEED, 1e-3)))
    back = Cluster(tuple(m.reversed for m in ahead.members[::-1]), ahead.joints)
    order = [3, 4, 5, 0, 1, 2]
    turned = back.waves(FREQUENCY)[:, order][:, :, order]
    np.testing.assert_allclose(turned, ahead.waves(FREQUENCY), atol=1e-13)
    assert (ahead.feeds, back.feeds) == ((FEED, 1e-3), (1e-3, FEED))
    assert [mode.port for mode in back.port_modes] == [1, 1, 1, 2, 2, 2]


def test_the_bar_holds_what_the_next_space_of_every_member_changes():
    """Spaces that go on drawing together by a tenth: 1/9 of the last change is left."""
    changes = (1e-3, 1e-4)
    cluster = pair(member(1, changes), member(2, changes))
    left = changes[-1] / 9
    exact = whole(scattering(1) + left, scattering(2) + left)
    off = largest(cluster.waves(FREQUENCY) - exact)
    bar = cluster.bar(FREQUENCY)
    assert (off < bar).all() and (bar < 30 * off).all()


def moved(by):
    return lambda f: np.broadcast_to(scattering(1) + by, (len(f), 6, 6)).copy()


def test_what_is_in_doubt_of_a_member_is_in_the_bar_as_it_changes_the_whole():
    sure = pair(member(1), member(2)).bar(FREQUENCY)
    open_ = pair(member(1, doubted=(moved(0.0), moved(2e-3))), member(2))
    change = whole(scattering(1), scattering(2)) - whole(scattering(1) + 2e-3, scattering(2))
    np.testing.assert_allclose(open_.bar(FREQUENCY) - sure, largest(change), atol=1e-12)
    back = open_.members[0].reversed.doubted[1](FREQUENCY)
    order = [3, 4, 5, 0, 1, 2]
    np.testing.assert_array_equal(back[:, order][:, :, order], moved(2e-3)(FREQUENCY))


def test_modes_are_left_out_where_members_meet_and_in_what_they_answer():
    """Half of three modes are two, three quarters all three."""
    told = []
    fewer = member(1, fewer=lambda share: moved(share * 1e-3))
    cluster = replace(pair(fewer, member(2)), left_out=lambda *both: told.append(both) or 1.0)
    least = pair(member(1), member(2)).bar(FREQUENCY)
    assert (cluster.bar(FREQUENCY) > 1.0).all() and (least < 1.0).all()
    best = whole(scattering(1), scattering(2))
    half = whole(scattering(1) + 5e-4, scattering(2), (1, 1, 0))
    most = whole(scattering(1) + 7.5e-4, scattering(2))
    np.testing.assert_allclose(told[0], [largest(best - half), largest(best - most)], rtol=1e-9)


def test_the_bar_counts_the_sweep_and_the_walls():
    least = pair(member(1), member(2)).bar(FREQUENCY)
    swept = pair(member(1, before=moved(1e-4)), member(2)).bar(FREQUENCY)
    assert (swept > least + 1e-4).all()
    walls = member(1, lossy=moved(-1e-3), share=lambda f: np.full(len(f), 2e-5))
    lossy = pair(walls, member(2))
    np.testing.assert_allclose(lossy.bar(FREQUENCY), least + 8e-5, rtol=1e-9)
    expected = whole(scattering(1) - 1e-3, scattering(2))
    np.testing.assert_allclose(lossy.waves(FREQUENCY), expected, atol=1e-13)


@pytest.mark.parametrize("power", [0.6, 4 / 3, 2.0, 3.0])
def test_modes_left_out_in_a_plane_fall_as_a_power(power):
    """c N^-p is left of N modes: half of them lack c N^-p (2^p - 1) beside all."""
    left = 1e-5 * np.array([1.0, 0.7])
    found = left_out_in_plane(left * (2**power - 1), left * ((4 / 3) ** power - 1))
    assert (found >= 2.9 * left).all() and (found <= 3.1 * left).all()


def test_a_fall_faster_than_is_believed_is_not():
    left = np.array([1e-5])
    found = left_out_in_plane(left * (2**6 - 1), left * ((4 / 3) ** 6 - 1))
    # the half lacks 63, taken as the 7 of the third power
    np.testing.assert_allclose(found, 3 * left * 63 / 7)
    assert left_out_in_plane(np.zeros(2), np.zeros(2)) == pytest.approx(0.0)


@pytest.mark.parametrize("power", [1.0, 1.5, 3.0])
def test_modes_left_out_in_space_are_less_than_what_a_quarter_lacks(power):
    """N modes go up to a wavenumber as N^(1/2), beyond which c times its power is left."""
    left = 1e-5
    quarter, half = left * (2**power - 1), left * (2 ** (power / 2) - 1)
    assert left_out_in_space(np.array([quarter]), np.array([half]))[0] >= left
    # one that passes through zero at one frequency counts beside the largest of the band
    found = left_out_in_space(np.array([1e-4, 0.0]), np.zeros(2))
    np.testing.assert_allclose(found, [1e-4, 3e-5])


def test_shares_of_modes_are_counted_by_their_cutoff():
    shuffled = [MODES[1], MODES[2], MODES[0]]
    one = np.pi / GUIDE.broad_width
    for share, highest in ((0.1, 1), (1 / 3, 1), (0.5, 2), (2 / 3, 2), (0.75, 3), (1.0, 3)):
        assert highest_kept(shuffled, share) == pytest.approx(highest * one, rel=1e-8)
        assert highest_kept(shuffled, share) > highest * one
