"""Searches over made-up parts whose least value is known on paper."""

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from solver.errors import LinearSolveError, StudyError
from solver.output.seek_answer import seek_result_of, seek_text
from solver.searches.point_store import PointStore
from solver.searches.seek import seek
from solver.searches.varied_keys import Span
from solver.waves.scattering import PortMode
from tests.unit.solver.made_up_curves import leaking_as, made_up_curves

PATH = Path("joint.toml")
JOINT = {
    "title": "made-up joint",
    "guide": {"diameter_mm": 27.0},
    "component": {
        "kind": "rotating-joint",
        "gap_mm": 0.5,
        "rim_radius_mm": 50.0,
        "groove_inner_radius_mm": 20.0,
        "groove_outer_radius_mm": 24.0,
        "groove_depth_mm": 8.0,
    },
    "band": {"from_ghz": 9.0, "to_ghz": 10.0, "points": 11},
}
DEPTH = Span("component.groove_depth_mm", 5.0, 12.0)
RADIUS = Span("component.groove_inner_radius_mm", 15.0, 23.0)


def bowl(study, error=1e-6, leaks=True):
    """Leakage in dB: -50 at depth 7.3 and radius 18.2 mm and 9.5 GHz, a parabola each way."""
    joint, frequency = study.component, study.band.frequencies
    depth, radius = 1e3 * joint.groove_depth - 7.3, 1e3 * joint.groove_inner_radius - 18.2
    away = 20.0 * (frequency / 1e9 - 9.5) ** 2
    decibels = -50.0 + 4.0 * depth**2 + 0.25 * (radius + 0.5 * depth) ** 2 + away
    n = len(frequency)
    modes = (PortMode(1, "TM01", 8.5e9), PortMode(2, "TM01", 8.5e9))
    leaked = 10.0 ** (decibels / 10.0) if leaks else np.zeros(n)
    return made_up_curves(frequency, modes, 0.01 * (1 + np.abs(depth)), error, leaked, np.ones(n))


def sought(*spans, quantity="leakage", tables=JOINT, **options):
    return seek(tables, PATH, spans, quantity, **({"compute": bowl} | options))


def test_the_least_over_one_key_and_how_flat_it_is():
    # the radius stays at 20 mm: 4 d^2 + (1.8 + d/2)^2 / 4 is least at d = -0.225 / 4.0625
    d = -0.225 / 4.0625
    result = sought(DEPTH, at=9.5e9)
    assert result.values[DEPTH.key] == pytest.approx(7.3 + d, abs=2e-3)
    least = -50.0 + 4 * d**2 + 0.25 * (1.8 + d / 2) ** 2
    assert 20 * np.log10(result.least.value) == pytest.approx(least, abs=1e-3)
    assert result.least.at_hz == 9.5e9
    (flat,) = result.flat
    # 4.0625 (x - d)^2 = 1 dB
    half = 1 / np.sqrt(4.0625)
    assert flat.low == pytest.approx(7.3 + d - half, abs=flat.within + 2e-3)
    assert flat.high == pytest.approx(7.3 + d + half, abs=flat.within + 2e-3)
    assert flat.within < 0.02
    assert (flat.low_end, flat.high_end) == ("1 dB more", "1 dB more")
    assert result.exit_code == 0
    assert result.evaluations < 45
    assert result.at_ends == ()


def test_the_least_over_two_keys():
    result = sought(DEPTH, RADIUS, at=9.5e9)
    assert result.values[DEPTH.key] == pytest.approx(7.3, abs=0.1)
    assert result.values[RADIUS.key] == pytest.approx(18.2, abs=0.4)
    assert 20 * np.log10(result.least.value) == pytest.approx(-50.0, abs=0.05)
    depth, radius = result.flat
    # 4.0625 x^2 = 1 dB along the one, x^2 / 4 = 1 dB along the other
    assert depth.high - depth.low == pytest.approx(2 / np.sqrt(4.0625), abs=0.1)
    assert radius.high - radius.low == pytest.approx(4.0, abs=0.3)
    assert result.evaluations < 160


def test_without_a_frequency_the_worst_in_the_band_counts():
    result = sought(DEPTH)
    assert result.least.at_hz in (9e9, 10e9)
    assert 20 * np.log10(result.least.value) == pytest.approx(-45.0 + 0.7975, abs=0.01)


def test_the_worst_frequency_decides_not_the_best():
    def drifting(study):
        # each frequency is best at a depth of its own: 7.3 mm + 2 mm for each GHz above 9.5
        depth = 1e3 * study.component.groove_depth - 7.3
        away = depth - 2.0 * (study.band.frequencies / 1e9 - 9.5)
        return leaking_as(bowl(study), 10.0 ** (-5.0 + 0.4 * away**2))

    result = sought(DEPTH, compute=drifting)
    # both ends of the band are 1 mm off there
    assert result.values[DEPTH.key] == pytest.approx(7.3, abs=2e-3)
    assert 20 * np.log10(result.least.value) == pytest.approx(-46.0, abs=0.01)


def test_the_least_reflection_is_another():
    # |S11| is least at a depth of 7.3 mm whatever leaks, and 1 dB more 0.122 mm to either side
    result = sought(DEPTH, quantity="reflection", at=9.5e9)
    assert result.values[DEPTH.key] == pytest.approx(7.3, abs=2e-3)
    (flat,) = result.flat
    side = 10 ** (1 / 20) - 1
    assert flat.high == pytest.approx(7.3 + side, abs=flat.within + 2e-3)


def test_an_end_of_the_interval_is_named():
    result = sought(Span(DEPTH.key, 9.0, 12.0), at=9.5e9)
    assert result.values[DEPTH.key] == pytest.approx(9.0, abs=5e-3)
    assert result.at_ends == (DEPTH.key,)
    assert result.flat[0].low == pytest.approx(9.0, abs=5e-3)
    assert "widen it" in seek_text(result)


def test_parts_that_cannot_be_are_walked_round():
    def shallow(study):
        if study.component.groove_depth > 7.5e-3:
            raise LinearSolveError("too deep")
        return bowl(study)

    result = sought(DEPTH, at=9.5e9, compute=shallow)
    assert result.values[DEPTH.key] == pytest.approx(7.245, abs=5e-3)
    assert result.refused > 0
    assert result.flat[0].high_end == "no part beyond"
    assert result.flat[0].high == pytest.approx(7.5, abs=result.flat[0].within + 1e-6)
    # radii that the geometry refuses: the groove's outer radius is 24 mm, the guide's 13.5 mm
    wide = sought(Span(RADIUS.key, 10.0, 30.0), at=9.5e9)
    assert wide.values[RADIUS.key] == pytest.approx(18.2 - 0.35, abs=0.1)
    assert wide.refused > 0


def test_a_null_ends_at_the_accuracy_asked_for():
    def null(study):
        # the root of the leaked power is 0.01 for each mm off 7.3 mm, without end below
        away = abs(1e3 * study.component.groove_depth - 7.3)
        return leaking_as(bowl(study), 1e-4 * away**2)

    result = sought(DEPTH, at=9.5e9, compute=null)
    assert not result.resolved
    assert result.exit_code == 0
    # s_error is 1e-4, 1 dB more of it is 0.0112 mm off
    (flat,) = result.flat
    side = 0.01 * 10 ** (1 / 20)
    assert flat.low == pytest.approx(7.3 - side, abs=flat.within)
    assert flat.high == pytest.approx(7.3 + side, abs=flat.within)
    assert flat.within < 0.5 * side
    assert "Within 1 dB of -80.0 dB" in seek_text(result)
    both = sought(DEPTH, RADIUS, at=9.5e9, compute=null)
    assert both.least.value <= 1e-4
    assert both.evaluations < 110


def test_an_accuracy_that_was_missed_is_told():
    result = sought(DEPTH, at=9.5e9, compute=lambda study: replace(bowl(study), reached=False))
    assert result.exit_code == 3
    assert "was not reached" in seek_text(result)


@pytest.mark.parametrize(
    ("spans", "options", "words"),
    [
        ((), {}, "0 keys"),
        ((DEPTH, DEPTH), {}, "twice"),
        ((Span("component.mean_radius_mm", 1.0, 2.0),), {}, "known here: component.gap_mm"),
        ((Span(RADIUS.key, 30.0, 40.0),), {}, "all are refused"),
        ((DEPTH,), {"compute": lambda study: bowl(study, leaks=False)}, "nothing leaks"),
        ((DEPTH,), {"at": 5e9}, "cutoff"),
    ],
)
def test_unusable_searches(spans, options, words):
    with pytest.raises(StudyError, match=words):
        sought(*spans, **options)


def test_a_closed_part_is_refused_before_anything_is_computed():
    tables = JOINT | {
        "guide": "WR-90",
        "component": {"kind": "corner", "plane": "E", "angle_deg": 90.0},
    }

    def never(study):
        raise AssertionError("computed")

    span = Span("component.cut_mm", 5.0, 10.0)
    with pytest.raises(StudyError, match=r"nothing leaks .* least reflection"):
        sought(span, tables=tables, compute=never)


def test_a_search_that_was_broken_off_goes_on(tmp_path):
    asked = []

    def counting(study):
        asked.append(study.component.groove_depth)
        if len(asked) == 12:
            raise KeyboardInterrupt
        return bowl(study)

    with pytest.raises(KeyboardInterrupt):
        sought(DEPTH, compute=counting, store=PointStore(tmp_path / "out"))
    again = sought(DEPTH, compute=counting, store=PointStore(tmp_path / "out"))
    # only the part that was broken off was asked for twice
    assert len(asked) - len(set(asked)) == 1
    assert seek_result_of(again) == seek_result_of(sought(DEPTH))


def test_text_and_json_say_the_same():
    result = sought(DEPTH, RADIUS, at=9.5e9)
    told = seek_result_of(result)
    assert told["values"] == result.values
    assert told["evaluations"] == len(told["tried"])
    assert [flat["key"] for flat in told["within_1_db"]] == [DEPTH.key, RADIUS.key]
    text = seek_text(result)
    assert "Least leakage (at 9.5 GHz): -50.00 dB" in text
    assert "never a clearance" in text
