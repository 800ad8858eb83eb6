"""What lies between the points of a band: hidden resonances, and random parts looked at closely.

No case here rests on what the verdict itself says: each is followed on a frequency grid of its
own, far closer than the listed points.
"""

import math

import numpy as np
import pytest

from geometries.shapes.bends import Bend
from geometries.shapes.choke_flanges import ChokeFlange
from geometries.shapes.corners import Corner
from geometries.shapes.guides import CircularGuide, RectangularGuide, standard_guide
from geometries.shapes.offsets import Offset
from geometries.shapes.rotating_joints import RotatingJoint
from solver.judgement.assess_part import assess, solve_part
from solver.judgement.quantities import amplitude_over_band
from solver.judgement.verdict import judge
from solver.judgement.whole_band import groups, whole_band
from solver.studies.band import Band
from solver.studies.limits import Limit
from solver.waves.walls import Walls

MM = 1e-3
SPEED_OF_LIGHT = 299_792_458.0
SIZES = {
    "WR-284": (72.14, 34.04),
    "WR-112": (28.5, 12.6),
    "WR-90": (22.86, 10.16),
    "WR-75": (19.05, 9.525),
    "WR-62": (15.8, 7.9),
}


def guide(name):
    return RectangularGuide(*(side * MM for side in SIZES[name]))


def under_te20(name, share):
    """A band that ends this share of the cutoff under the cutoff of TE20."""
    cutoff = SPEED_OF_LIGHT / guide(name).broad_width
    return Band(0.915 * cutoff, cutoff * (1 - share))


#: H bends that trap TE20 just under its cutoff: guide, angle, mean radius, share, VSWR limit.
BENDS = [
    ("WR-284", 150, 62.79, 5e-5, 1.3),
    ("WR-90", 150, 39.97, 5e-5, 1.1),
    ("WR-62", 120, 23.23, 1e-4, 1.6),
    ("WR-284", 150, 116.63, 5e-5, 1.5),
    ("WR-62", 75, 20.05, 2e-5, 2.0),
    ("WR-112", 120, 32.47, 2e-5, 1.25),
    ("WR-90", 75, 34.09, 2e-5, 1.8),
    ("WR-90", 75, 18.7, 1e-4, 1.2),
    ("WR-75", 120, 30.12, 5e-5, 1.15),
    ("WR-75", 60, 22.05, 2e-5, 1.1),
    ("WR-90", 75, 38.18, 5e-5, 1.3),
    ("WR-90", 150, 20.93, 3e-4, 1.5),
    ("WR-90", 150, 36.72, 5e-5, 1.6),
    ("WR-90", 90, 36.62, 5e-5, 1.25),
    ("WR-284", 120, 112.57, 5e-5, 1.2),
    ("WR-90", 90, 50.582, 3e-6, 1.05),
    ("WR-90", 45, 34.984, 3e-6, 1.05),
    ("WR-284", 60, 156.58, 2e-5, 1.05),
]


def judged_at_points(part, band, limit, s_error=1e-4):
    """Outcome by the listed points alone, and over the whole band."""
    solved, listed = solve_part(part, band, s_error=s_error)
    whole = whole_band(solved, band.frequencies)
    over = judge(whole.scattering, limit, resonances=whole.resonances, unsampled=whole.unsampled)
    return judge(listed, limit).outcome, over


@pytest.mark.parametrize(("name", "angle", "radius", "share", "vswr"), BENDS)
def test_a_bend_that_traps_te20_is_not_said_to_meet(name, angle, radius, share, vswr):
    part = Bend(guide(name), "H", math.radians(angle), radius * MM)
    at_points, verdict = judged_at_points(part, under_te20(name, share), Limit(vswr=vswr))
    assert at_points == "meets"
    assert verdict.outcome in ("exceeds", "undecided")
    assert any("resonance" in reason and "Q " in reason for reason in verdict.reasons)


def test_a_known_bend_fails_where_its_field_is_trapped():
    # curved-guide modes: VSWR of 34 at 13.1127 GHz
    part = Bend(standard_guide("WR-90"), "H", math.radians(60), 27.432 * MM)
    result = assess(part, Band(12e9, 13.114e9), limit=Limit(vswr=1.2))
    assert (result.verdict.outcome, result.verdict.exit_code) == ("exceeds", 1)
    assert result.verdict.at_hz == pytest.approx(13.11272e9, abs=2e4)
    assert len(result.scattering.frequency) == 201
    assert result.peak_field.frequency == pytest.approx(13.11272e9, abs=2e5)
    assert any("cutoff of TE20" in reason for reason in result.verdict.reasons)


@pytest.mark.slow
@pytest.mark.parametrize(
    ("gap", "limit", "points"),
    [
        (0.05, Limit(leakage_db=-30.0), 4),
        (0.05, Limit(vswr=1.3), 4),
        (0.1, Limit(leakage_db=-20.0), 4),
        (0.1, Limit(vswr=2.0), 4),
        (0.2, Limit(leakage_db=-16.0), 4),
    ],
)
def test_a_joint_that_rings_between_its_points_is_not_said_to_meet(gap, limit, points):
    part = RotatingJoint(
        CircularGuide(27 * MM),
        gap=gap * MM,
        rim_radius=40 * MM,
        groove_inner_radius=28 * MM,
        groove_outer_radius=30 * MM,
        groove_depth=9 * MM,
    )
    at_points, verdict = judged_at_points(part, Band(9.2e9, 10.6e9, points), limit)
    assert at_points == "meets"
    assert verdict.outcome == "exceeds"


@pytest.mark.slow
def test_a_closed_rim_with_a_thin_gap_is_not_said_to_meet():
    part = ChokeFlange(standard_guide("WR-90"), 0.02 * MM, rim_radius=24 * MM, rim="closed")
    band = Band(8.2e9, 12.4e9)
    at_points, verdict = judged_at_points(part, band, Limit(vswr=1.05), s_error=2e-3)
    assert at_points == "meets"
    assert verdict.outcome in ("exceeds", "undecided")
    assert any("12.308" in reason for reason in verdict.reasons)


@pytest.mark.slow
@pytest.mark.parametrize(("walls", "met"), [(None, False), (Walls(5.8e7), True)])
def test_walls_that_lose_damp_a_sharp_resonance_away(walls, met):
    # Q by what leaves is 5e7, that of copper at most 2e4: less than a thousandth is left of it
    part = Bend(standard_guide("WR-90"), "H", math.pi / 2, 0.4)
    result = assess(part, Band(12e9, 13.11428e9), limit=Limit(vswr=1.1), walls=walls)
    assert (result.verdict.outcome == "meets") == met


@pytest.mark.slow
def test_round_off_of_a_long_bend_is_no_resonance():
    part = Bend(standard_guide("WR-90"), "H", math.pi / 6, 2.0)
    result = assess(part, Band(12e9, 13.114275e9), limit=Limit(vswr=1.1))
    assert result.verdict.outcome == "meets"
    dense = np.linspace(12e9, 13.114275e9, 3001)
    solved, _ = solve_part(part, Band(12e9, 13.114275e9))
    assert np.abs(solved.answers(dense).s[:, 0, 0]).max() < 1e-2


def random_case(seed):
    """A part and a band at random; seeds are those of the list below."""
    draw = np.random.default_rng(seed)
    name = draw.choice(list(SIZES))
    own = guide(name)
    a, b = own.broad_width, own.narrow_height
    cutoff = SPEED_OF_LIGHT / (2 * a)
    low = draw.uniform(1.05, 1.6) * cutoff
    high = min(low * draw.uniform(1.02, 1.6), 1.9999 * cutoff)
    band = Band(low, high, int(draw.integers(2, 60)))
    plane = str(draw.choice(["E", "H"]))
    width = b if plane == "E" else a
    angle = math.radians(draw.uniform(10, 180))
    kind = draw.integers(4)
    if kind == 0:
        return Corner(own, plane, min(angle, math.radians(120)), 0.0), band
    if kind == 1:
        shifts = (draw.uniform(0.01, 0.2) * a, 0.0) if plane == "H" else (0.0, 0.1 * b)
        return Offset(own, *shifts), band
    return Bend(own, plane, angle, draw.uniform(0.55, 4.0) * width), band


@pytest.mark.parametrize("seed", [311, 402, 517, 608, 733, 846, 951, 1064, 1177, 1280, 1399, 1402])
def test_fifty_times_denser_nothing_lies_above_what_was_judged(seed):
    part, band = random_case(seed)
    solved, _ = solve_part(part, band, s_error=1e-4)
    whole = whole_band(solved, band.frequencies)
    amplitude, error = amplitude_over_band(whole.scattering, "vswr")
    dense = np.linspace(band.start, band.stop, 50 * max(band.points, 20))
    answers = solved.answers(dense)
    there = np.abs(answers.s[:, 0, 0])
    bar = answers.error(groups(dense, whole.resonances))
    top = amplitude.max()
    assert there.max() <= top * (1 + 1e-4) + 1e-9
    upper = np.minimum(amplitude + error, 1.0).max()
    assert np.minimum(there + bar, 1.0).max() <= upper * (1 + 1e-3) + 1e-9


def test_a_band_without_a_resonance_costs_few_more_frequencies():
    part = Bend(standard_guide("WR-90"), "H", math.radians(90), 30 * MM)
    band = Band(8.2e9, 12.4e9)
    solved, _ = solve_part(part, band)
    assert len(whole_band(solved, band.frequencies).scattering.frequency) < 1.3 * band.points
