"""Grooves of chokes: which dimensions go together, and how far a gap is meshed."""

from dataclasses import replace

import pytest

from geometries.errors import InvalidDimensionError
from geometries.shapes.choke_flanges import ChokeFlange
from geometries.shapes.grooves import Groove, gap_end, last_edge
from geometries.shapes.guides import CircularGuide, standard_guide
from geometries.shapes.rotating_joints import RotatingJoint

FLANGE = ChokeFlange(standard_guide("WR-90"), 0.2e-3, 25e-3, 14e-3, 16e-3, 8.2e-3)
JOINT = RotatingJoint(CircularGuide(26e-3), 0.5e-3, 40e-3, 20e-3, 22e-3, 7.5e-3)
SECOND = {
    "second_groove_inner_radius": 29e-3,
    "second_groove_outer_radius": 31e-3,
    "second_groove_depth": 9e-3,
}


def test_grooves_of_a_joint():
    assert FLANGE.grooves == (Groove(14e-3, 16e-3, 8.2e-3, 2),)
    assert replace(FLANGE, groove_depth=0.0).grooves == ()
    both = replace(JOINT, **SECOND, second_groove_flange=1)
    assert both.grooves == (Groove(20e-3, 22e-3, 7.5e-3, 2), Groove(29e-3, 31e-3, 9e-3, 1))


@pytest.mark.parametrize(
    ("part", "changed", "named"),
    [
        (FLANGE, {"gap": 0.0}, "gap"),
        (FLANGE, {"gap": -1e-3}, "gap"),
        # half the diagonal of 22.86 x 10.16 mm is 12.508 mm
        (FLANGE, {"rim_radius": 12.5e-3}, "rim_radius"),
        (FLANGE, {"groove_inner_radius": 12.5e-3}, "groove_inner_radius"),
        (FLANGE, {"groove_outer_radius": 14e-3}, "groove_outer_radius"),
        (FLANGE, {"groove_outer_radius": 25.1e-3}, "groove_outer_radius"),
        (FLANGE, {"groove_depth": -1e-3}, "groove_depth"),
        (JOINT, SECOND | {"second_groove_inner_radius": 13e-3}, "second_groove_inner_radius"),
        (JOINT, SECOND | {"second_groove_outer_radius": 41e-3}, "second_groove_outer_radius"),
        (
            JOINT,
            SECOND | {"second_groove_inner_radius": 22e-3, "second_groove_flange": 2},
            "second_groove_inner_radius",
        ),
        (
            JOINT,
            SECOND
            | {
                "second_groove_inner_radius": 15e-3,
                "second_groove_outer_radius": 20e-3,
                "second_groove_flange": 2,
            },
            "second_groove_inner_radius",
        ),
    ],
)
def test_what_no_flange_can_have_is_named(part, changed, named):
    with pytest.raises(InvalidDimensionError) as told:
        replace(part, **changed)
    assert told.value.quantity == named
    assert "\n" not in str(told.value)


def test_grooves_may_overlap_in_two_flanges_and_reach_the_rim():
    across = {"second_groove_inner_radius": 21e-3, "second_groove_outer_radius": 40e-3}
    found = replace(JOINT, **SECOND | across, second_groove_flange=1)
    assert len(found.grooves) == 2
    assert replace(FLANGE, rim_radius=12.51e-3, groove_depth=0.0).grooves == ()


def test_a_gap_is_meshed_until_what_decays_has_done_so():
    assert last_edge(FLANGE) == pytest.approx(16e-3)
    assert last_edge(replace(FLANGE, groove_depth=0.0)) == pytest.approx(12.508e-3, rel=1e-4)
    assert gap_end(FLANGE) == 25e-3
    # one and a half gaps beyond the groove, where the rim is nearer
    near = replace(FLANGE, gap=2e-3, rim_radius=17e-3)
    assert gap_end(near) == pytest.approx(19e-3)
    assert gap_end(replace(near, rim="closed")) == 17e-3
