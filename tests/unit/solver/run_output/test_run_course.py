"""The course of a run in space, by rotations that close, and its words."""

import math
from pathlib import Path

import numpy as np
import pytest

from geometries.shapes.bends import Bend
from geometries.shapes.corners import Corner
from geometries.shapes.flexibles import Flexible
from geometries.shapes.guides import RectangularGuide, standard_guide
from geometries.shapes.offsets import Offset
from geometries.shapes.straights import Straight
from geometries.shapes.tapers import Taper
from geometries.shapes.transitions import Transition
from geometries.shapes.twists import Twist
from solver.run_output.run_course import course_of
from solver.run_output.run_json import described_part
from solver.run_output.run_wording import HEADS, power_text, row_of
from solver.runs.run_result import PartLine
from solver.studies.run_chain import MeasuredPart, RunPart

GUIDE = standard_guide("WR-90")
RIGHT = math.pi / 2


def run(*parts):
    return course_of([part if isinstance(part, RunPart) else RunPart(part) for part in parts])


def end(course):
    """Where a run ends, and the broad wall, the narrow wall and the axis there."""
    last = course[-1]
    across, up = last.across[-1], last.up[-1]
    return last.points[-1], across, up, np.cross(across, up)


@pytest.mark.parametrize(("plane", "to"), [("E", [0, 1, 0]), ("H", [1, 0, 0])])
def test_a_right_angle_turns_the_axis_in_its_plane(plane, to):
    radius = 30e-3
    place, across, up, ahead = end(run(Bend(GUIDE, plane, RIGHT, radius)))
    np.testing.assert_allclose(ahead, to, atol=1e-12)
    np.testing.assert_allclose(place, radius * np.add(to, [0, 0, 1]), atol=1e-9)
    # the wall across the plane keeps its direction
    still = across if plane == "E" else up
    np.testing.assert_allclose(still, [1, 0, 0] if plane == "E" else [0, 1, 0], atol=1e-12)


def test_the_axes_of_a_corner_meet_half_a_tangent_from_its_planes():
    """Planes through the inner edge, across each arm: the axes meet b/2 tan(angle/2) beyond."""
    angle, arm = 0.8, 5.08e-3 * math.tan(0.4)
    place, *_ = end(run(Corner(GUIDE, "E", angle)))
    exact = arm * np.array([0.0, math.sin(angle), 1 + math.cos(angle)])
    np.testing.assert_allclose(place, exact, atol=1e-12)


@pytest.mark.parametrize("plane", ["E", "H"])
@pytest.mark.parametrize(
    "part",
    [
        lambda plane: Bend(GUIDE, plane, RIGHT, 30e-3),
        lambda plane: Corner(GUIDE, plane, RIGHT),
        lambda plane: Flexible(GUIDE, 7e-3, 1e-3, 8, plane=plane, angle=RIGHT),
    ],
)
def test_four_right_angles_close(part, plane):
    four = [part(plane), Straight(GUIDE, 40e-3)] * 4
    place, across, up, _ = end(run(*four))
    np.testing.assert_allclose(place, 0.0, atol=1e-9)
    np.testing.assert_allclose([across, up], np.eye(3)[:2], atol=1e-9)


def test_half_a_turn_before_a_bend_turns_it_the_other_way():
    s_shape = run(Bend(GUIDE, "E", 1.0, 0.03), RunPart(Bend(GUIDE, "E", 1.0, 0.03), turn=math.pi))
    *_, ahead = end(s_shape)
    np.testing.assert_allclose(ahead, [0, 0, 1], atol=1e-12)
    place, *_ = end(s_shape)
    exact = 2 * 0.03 * np.array([0.0, 1 - math.cos(1.0), math.sin(1.0)])
    np.testing.assert_allclose(place, exact, atol=1e-9)


def test_a_twist_turns_the_walls_and_not_the_axis():
    place, across, up, ahead = end(run(Twist(GUIDE, RIGHT, 60e-3)))
    np.testing.assert_allclose(place, [0, 0, 60e-3], atol=1e-12)
    np.testing.assert_allclose([across, up, ahead], [[0, 1, 0], [-1, 0, 0], [0, 0, 1]], atol=1e-12)


def test_points_along_a_bend_lie_on_its_arc():
    (only,) = run(Bend(GUIDE, "H", 2.0, 30e-3))
    away = np.linalg.norm(only.points - [30e-3, 0, 0], axis=1)
    np.testing.assert_allclose(away, 30e-3, rtol=1e-9)
    np.testing.assert_allclose(np.einsum("ni,ni->n", only.across, only.up), 0.0, atol=1e-12)


def test_sizes_go_over_from_one_guide_to_the_other():
    wide = RectangularGuide(30e-3, 12e-3)
    taper, measured, offset = run(
        Taper(GUIDE, wide, 50e-3),
        RunPart(MeasuredPart(wide, Path("a.s2p"))),
        Offset(wide, 1e-3, 0.5e-3, 0.1),
    )
    np.testing.assert_allclose(taper.half[[0, -1]], [[11.43e-3, 5.08e-3], [15e-3, 6e-3]])
    assert np.ptp(measured.points, axis=0).max() == 0.0
    np.testing.assert_allclose(offset.points[-1] - offset.points[0], [1e-3, 0.5e-3, 0.0])
    circle = Transition(GUIDE, 27e-3, 50e-3)
    ahead, back = run(circle, RunPart(circle, backwards=True))
    assert ahead.round and not back.round
    np.testing.assert_allclose(back.half[[0, -1]], ahead.half[[-1, 0]])


def test_parts_by_the_keys_of_a_run_file():
    told = described_part(RunPart(Straight(GUIDE, 20e-3), "riser", turn=math.pi))
    assert told == {"name": "riser", "kind": "straight", "length_mm": 20.0, "turn_deg": 180.0}
    told = described_part(RunPart(MeasuredPart(GUIDE, Path("a.s2p")), "window"))
    assert told == {"name": "window", "kind": "measured", "file": "a.s2p"}
    circle = Transition(GUIDE, 27e-3, 50e-3)
    told = described_part(RunPart(circle, "back", backwards=True))
    assert told["length_mm"] == 50.0 and set(told) == {"name", "kind", "to_guide", "length_mm"}


@pytest.mark.parametrize(
    ("watts", "text"),
    [(None, "-"), (12.34, "12.3 W"), (999.0, "999 W"), (1.234e3, "1.23 kW"), (2.5e6, "2.5 MW")],
)
def test_powers_have_their_unit(watts, text):
    assert power_text(watts) == text


def test_a_row_of_the_table_of_parts():
    line = PartLine("horn", "horn", 0.12345, 2.6e-5, None, 1.2e6, None, 0.2, "solved")
    row = row_of(line)
    assert row == ("horn", "horn", "0.1235", "3e-05", "-", "1.2 MW", "0.2")
    assert len(row) == len(HEADS)
    # round-off is no gain
    still = PartLine("a", "straight", 0.0, 0.0, -1e-17, None, None, 0.3, "closed form")
    assert row_of(still) == ("a", "straight", "0", "", "under 0.001 dB", "-", "0.3")
