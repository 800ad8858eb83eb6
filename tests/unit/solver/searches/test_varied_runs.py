"""Keys of the parts of a run: how they are named, and what tells two runs apart."""

from pathlib import Path

import pytest

from solver.errors import StudyError
from solver.searches.part_curves import Refusal
from solver.searches.varied_keys import parse_variation
from solver.searches.varied_parts import built_part, checked_keys, fingerprint_of
from solver.searches.varied_runs import numbered_key, run_in_words, run_keys
from solver.studies.run_study import run_of

PATH, GUIDE = Path("mast.toml"), "22.86 x 10.16 mm"
RUN = {
    "guide": {"width_mm": 22.86, "height_mm": 10.16},
    "part": [
        {"kind": "straight", "length_mm": 100.0},
        {
            "name": "riser v. 2",
            "kind": "bend",
            "plane": "E",
            "angle_deg": 90.0,
            "mean_radius_mm": 30,
        },
        {"name": "1", "kind": "straight", "length_in": 2.0},
        {
            "kind": "taper",
            "to_guide": {"width_mm": 22.86, "height_mm": 8.0},
            "length_mm": 40.0,
        },
    ],
    "band": {"from_ghz": 8.2, "to_ghz": 12.4, "points": 5},
    "end": {"vswr": 1.2},
    "walls": {"conductivity_s_per_m": 5.8e7},
}


def test_every_number_of_every_part_can_be_varied():
    assert run_keys(RUN) == (
        "part.1.length_mm",
        "part.2.angle_deg",
        "part.2.mean_radius_mm",
        "part.2.onset",
        "part.3.length_mm",
        "part.4.length_mm",
        "part.4.to_guide.width_mm",
        "part.4.to_guide.height_mm",
        "guide.width_mm",
        "guide.height_mm",
        "end.vswr",
        "walls.conductivity_s_per_m",
    )


@pytest.mark.parametrize(
    ("key", "numbered"),
    [
        ("part.4.length_mm", "part.4.length_mm"),
        ("part.riser v. 2.mean_radius_mm", "part.2.mean_radius_mm"),
        ("part.4.to_guide.height_mm", "part.4.to_guide.height_mm"),
        ("end.vswr", "end.vswr"),
    ],
)
def test_a_part_is_named_by_its_number_or_its_name(key, numbered):
    assert parse_variation(f"{key}=1,2").key == key
    assert checked_keys(RUN, PATH, (key,)) == (numbered,)


@pytest.mark.parametrize(
    ("key", "words"),
    [
        ("part.5.length_mm", "no part of the run; give its number or name, of: 1, 2 riser v. 2"),
        ("part.1.length_mm", "several parts may be meant"),
        ("part.2.length_mm", "known here: part.1.length_mm, part.2.angle_deg"),
        ("component.length_mm", "known here"),
    ],
)
def test_other_keys_are_refused_in_one_line(key, words):
    with pytest.raises(StudyError, match=words) as refused:
        checked_keys(RUN, PATH, (key,))
    assert "\n" not in str(refused.value)


def test_two_parts_of_one_name_need_their_numbers():
    twins = {"part": [{"name": "arm"}, {"name": "arm"}]}
    with pytest.raises(StudyError, match="several parts"):
        numbered_key(twins, "part.arm.length_mm")
    assert numbered_key(twins, "part.2.length_mm") == "part.2.length_mm"


def test_words_number_the_parts_as_their_keys_do():
    words = "1 straight, 2 riser v. 2, 3 1, 4 taper"
    assert run_in_words(run_of(RUN, PATH)).endswith(f"run of 4 parts from {GUIDE}: {words}")


def test_values_go_to_their_part_and_leave_the_others():
    found = built_part(RUN, PATH, {"part.3.length_mm": 60.0, "end.vswr": 1.5})
    lengths = [part.component.axis_length for part in found.parts]
    assert lengths[2] == pytest.approx(0.06)
    assert lengths[0] == pytest.approx(0.1)
    assert found.end_vswr == 1.5
    assert RUN["part"][2] == {"name": "1", "kind": "straight", "length_in": 2.0}


def test_a_refusal_counts_parts_as_their_keys_do():
    refused = built_part(RUN, PATH, {"part.2.mean_radius_mm": 3.0})
    assert isinstance(refused, Refusal)
    assert "part.2.mean_radius_mm" in refused.reason


def test_a_fingerprint_knows_all_that_a_curve_depends_on():
    seen = {fingerprint_of(run_of(RUN, PATH))}
    changes = [
        {"part.1.length_mm": 101.0},
        {"part.2.mean_radius_mm": 31.0},
        {"part.4.to_guide.height_mm": 7.0},
        {"guide.height_mm": 10.0},
        {"end.vswr": 1.3},
        {"walls.conductivity_s_per_m": 1e7},
    ]
    for change in changes:
        seen.add(fingerprint_of(built_part(RUN, PATH, change)))
    turned = [dict(part) for part in RUN["part"]]
    turned[1]["turn_deg"] = 180.0
    seen.add(fingerprint_of(run_of(RUN | {"part": turned}, PATH)))
    seen.add(fingerprint_of(run_of(RUN | {"accuracy": {"s_error": 1e-3}}, PATH)))
    assert len(seen) == len(changes) + 3
    named = [dict(part) for part in RUN["part"]]
    named[0]["name"] = "first"
    assert fingerprint_of(run_of(RUN | {"part": named, "title": "other"}, PATH)) in seen
