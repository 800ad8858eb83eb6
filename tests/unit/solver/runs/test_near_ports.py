"""How near a part's ports come to its neighbours, and how many modes pass between them."""

import math

import pytest

from geometries.shapes.bends import Bend
from geometries.shapes.corners import Corner
from geometries.shapes.guides import standard_guide
from geometries.shapes.offsets import Offset
from geometries.shapes.twists import Twist
from solver.runs import near_plane, near_space
from solver.runs.cluster import NearJoint

GUIDE = standard_guide("WR-90")
A, B = GUIDE.broad_width, GUIDE.narrow_height
BEND, OFFSET = Bend(GUIDE, "E", 1.0, 0.02), Offset(GUIDE, 0.0, 0.5e-3)


@pytest.mark.parametrize("distance", [2e-3, 4e-3, 9e-3])
def test_the_second_half_of_the_modes_carries_next_to_nothing(distance):
    wanted = 1e-5
    count = near_plane.modes_at(B, [NearJoint(30e-3), NearJoint(distance)], wanted)
    # there and back, the wave of n half waves across falls by exp(-2 n pi d/b)
    left = math.exp(-2 * (count / 2) * math.pi * distance / B)
    assert left < 0.01 * wanted or count == 20
    assert count >= 4


def test_without_guide_between_the_modes_are_as_many_as_there_are():
    assert near_plane.modes_at(B, [NearJoint(0.0), NearJoint(0.1)], 1e-3) == 20
    assert near_plane.modes_at(B, [NearJoint(0.1)], 1e-3) == 4
    highest = near_space.highest_wavenumber(GUIDE, NearJoint(0.0), 1e-3)
    assert highest == pytest.approx(near_space._WITHOUT_GUIDE * math.pi / A)


def test_beside_rough_cells_fewer_modes_are_kept_and_ports_keep_off_the_step():
    turned = Offset(GUIDE, turn=0.1)
    assert near_space.is_rough(turned) and not near_space.is_rough(OFFSET)
    assert not near_space.is_rough(BEND) and near_space.can_join([turned, BEND])
    rough = near_space.highest_wavenumber(GUIDE, NearJoint(0.0), 1e-3, [BEND, turned])
    assert rough < 0.6 * near_space.highest_wavenumber(GUIDE, NearJoint(0.0), 1e-3, [BEND, OFFSET])
    feeds = near_space.feeds_of([turned, BEND], [NearJoint(0.0)], [(GUIDE, GUIDE)] * 2)
    assert feeds[0][1] == pytest.approx(0.1 * B)


def test_modes_in_space_are_kept_to_twice_the_wavenumber_that_dies_out():
    joint, wanted = NearJoint(6e-3), 1e-3
    highest = near_space.highest_wavenumber(GUIDE, joint, wanted)
    assert highest < near_space.highest_wavenumber(GUIDE, NearJoint(0.0), wanted)
    assert math.exp(-2 * (highest / 2) * joint.length) == pytest.approx(0.03 * wanted)


def test_ports_stand_halfway_between_two_parts():
    joints = [NearJoint(6e-3), NearJoint(0.0)]
    feeds = near_plane.feeds_of([BEND, BEND, BEND], joints, B)
    far = feeds[0][0]
    assert feeds == [(far, 3e-3), (3e-3, 0.0), (0.0, far)]
    # never farther than where nothing is near
    assert near_plane.feeds_of([BEND, BEND], [NearJoint(1.0)], B) == [(far, far)] * 2
    twist = Twist(GUIDE, 1.0, 0.05)
    in_space = near_space.feeds_of([twist] * 3, joints, [(GUIDE, GUIDE)] * 3)
    far = in_space[0][0]
    assert in_space == [(far, 3e-3), (3e-3, 0.0), (0.0, far)]


def test_no_port_stands_in_a_step_or_in_a_cut():
    feeds = near_plane.feeds_of([OFFSET, BEND], [NearJoint(0.0)], B)
    assert feeds[0][1] == pytest.approx(0.1 * B) and feeds[1][0] == 0.0
    corner = Corner(GUIDE, "E", math.pi / 2, 1.5 * B)
    assert corner.overhang > 0
    feeds = near_plane.feeds_of([corner, BEND], [NearJoint(0.0)], B)
    assert feeds[0][1] == pytest.approx(corner.overhang)
    plain = near_plane.feeds_of([BEND, BEND], [NearJoint(0.0)], B)
    assert feeds[0][0] == pytest.approx(plain[0][0] + corner.overhang)
