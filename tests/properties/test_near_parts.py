"""Parts that stand near each other, joined with several modes, against one solution of all."""

import math

import numpy as np
import pytest

from geometries.shapes.bends import Bend
from geometries.shapes.corners import Corner
from geometries.shapes.guides import standard_guide
from geometries.shapes.offsets import Offset
from geometries.shapes.straights import Straight
from geometries.shapes.twists import Twist
from solver.judgement.assess_part import solve_part
from solver.parts.plane_solver import solve_in_plane
from solver.parts.space_parts import space_problem
from solver.parts.space_solver import solve_in_space
from solver.runs.run_parts import run
from solver.studies.band import Band
from solver.studies.run_chain import RunPart
from tests.references.cornered_guides import CorneredGuide

GUIDE = standard_guide("WR-90")


def dominant(solution):
    """S of the dominant mode at both ports, of a solution in the plane."""
    count = solution.s.shape[1] // 2
    return solution.s[:, [0, count]][:, :, [0, count]]


def off(found, exact):
    """Largest difference of any element at each frequency, (n,)."""
    return np.abs(found - exact).reshape(len(found), -1).max(axis=1)


@pytest.mark.parametrize(
    ("plane", "radius"), [("E", 0.012), pytest.param("H", 0.02, marks=pytest.mark.slow)]
)
def test_two_half_bends_are_the_whole_bend(plane, radius):
    band = Band(8.2e9, 12.4e9, 5)
    whole = solve_in_plane(Bend(GUIDE, plane, math.pi / 2, radius), band.frequencies, 1e-6)
    half = Bend(GUIDE, plane, math.pi / 4, radius)
    joined = run([half, half], band, s_error=1e-5)
    assert joined.near
    assert joined.verdict.accuracy_reached
    difference = off(joined.scattering.s, dominant(whole))
    assert (difference <= joined.scattering.error + whole.error).all()
    # joined by one mode alone, two halves are not the bend
    one = solve_in_plane(half, band.frequencies, 1e-6)
    s = dominant(one)
    alone = s[:, 0, 0] + s[:, 0, 1] * s[:, 1, 0] * s[:, 0, 0] / (1 - s[:, 0, 0] ** 2)
    assert np.abs(alone - whole.s[:, 0, 0]).max() > 100 * joined.scattering.error.max()
    turned = run([RunPart(half, turn=math.pi), half], band, s_error=1e-5)
    assert off(turned.scattering.s, joined.scattering.s).max() < 1e-12


@pytest.mark.slow
@pytest.mark.parametrize(("plane", "side"), [("E", 1), ("H", -1)])
def test_two_corners_close_together_are_one_solution_of_both(plane, side):
    pytest.importorskip("ngsolve")
    width = GUIDE.narrow_height if plane == "E" else GUIDE.broad_width
    angle, distance = math.radians(60), 5e-3
    parts = [
        Corner(GUIDE, plane, angle),
        Straight(GUIDE, distance),
        RunPart(Corner(GUIDE, plane, angle), turn=0.0 if side > 0 else math.pi),
    ]
    band = Band.at([9.1e9, 11.7e9])
    joined = run(parts, band, s_error=1e-5)
    sizes = (plane, width, GUIDE.broad_width, [angle, side * angle], [distance])
    fine, rough = (CorneredGuide(*sizes, degree=d, layers=n) for d, n in ((7, 5), (6, 5)))
    for i, frequency in enumerate(band.frequencies):
        exact = fine.scattering(frequency)
        doubt = np.abs(exact - rough.scattering(frequency)).max() + 1e-6
        assert np.abs(joined.scattering.s[i] - exact).max() < joined.scattering.error[i] + doubt
        assert joined.scattering.error[i] < 1e-5


@pytest.mark.slow
def test_ten_corners_are_one_solution_of_all_ten():
    pytest.importorskip("ngsolve")
    random = np.random.default_rng(5081)
    angles = random.uniform(math.radians(20), math.radians(70), 10)
    sides = random.choice([-1, 1], 10)
    distances = random.uniform(3e-3, 25e-3, 9)
    parts, before = [], 1
    for number, (angle, side) in enumerate(zip(angles, sides, strict=True)):
        turn = 0.0 if side == before else math.pi
        parts.append(RunPart(Corner(GUIDE, "E", float(angle)), turn=turn))
        if number < 9:
            parts.append(Straight(GUIDE, float(distances[number])))
        before = side
    band = Band.at([9.9e9])
    joined = run(parts, band, s_error=1e-4)
    guide = CorneredGuide(
        "E", GUIDE.narrow_height, GUIDE.broad_width, angles * sides, distances, degree=6, layers=4
    )
    for i, frequency in enumerate(band.frequencies):
        exact = guide.scattering(frequency, modes=12)
        assert np.abs(joined.scattering.s[i] - exact).max() < joined.scattering.error[i] + 2e-5


@pytest.mark.slow
def test_two_half_twists_are_the_whole_twist():
    band = Band(8.6e9, 11.6e9, 3)
    whole, exact = solve_part(Twist(GUIDE, math.pi / 2, 0.04), band, s_error=1e-4)
    assert whole.reached
    joined = run([Twist(GUIDE, math.pi / 4, 0.02)] * 2, band, s_error=1e-3)
    assert "in space" in joined.near[0]
    difference = off(joined.scattering.s, exact.s)
    assert (difference <= joined.scattering.error + exact.error).all()
    assert joined.scattering.error.max() < 3e-3


@pytest.mark.slow
def test_a_mirrored_run_is_seen_alike():
    # the same shape from below: shift and bend reversed together
    band = Band.at([9.4e9])
    bend = Bend(GUIDE, "E", math.pi / 4, 0.015)
    gap = Straight(GUIDE, 5e-3)
    up = run([Offset(GUIDE, shift_y=1e-3), gap, bend], band, s_error=1e-4)
    down = run([Offset(GUIDE, shift_y=-1e-3), gap, RunPart(bend, turn=math.pi)], band, s_error=1e-4)
    other = run([Offset(GUIDE, shift_y=-1e-3), gap, bend], band, s_error=1e-4)
    same = off(up.scattering.s, down.scattering.s).max()
    assert same < up.scattering.error.max() + down.scattering.error.max()
    assert off(up.scattering.s, other.scattering.s).max() > 10 * up.scattering.error.max()


@pytest.mark.slow
@pytest.mark.parametrize(
    ("plane", "flat", "solid", "offset"),
    [
        ("E", "LSE11", "TE11", Offset(GUIDE, shift_y=1e-3)),
        ("H", "TE20", "TE20", Offset(GUIDE, shift_x=1e-3)),
    ],
)
def test_offsets_and_bends_count_across_from_the_same_wall(plane, flat, solid, offset):
    # the frames of both in space are the same by construction
    frequency = np.array([9.4e9])
    ratios = []
    for part in (Bend(GUIDE, plane, math.pi / 4, 0.02), offset):
        in_plane = solve_in_plane(part, frequency, 1e-4)
        in_space = solve_in_space(space_problem(part, frequency, 1e-3), frequency, 1e-3)
        first, second = (
            solution.s[0, [f"2:{name}" == mode.label for mode in solution.problem.port_modes], 0]
            for solution, name in ((in_plane, flat), (in_space, solid))
        )
        ratios.append(complex(first[0] / second[0]))
    assert ratios[0] == pytest.approx(ratios[1], rel=1e-3)
