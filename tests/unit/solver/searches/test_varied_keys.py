from pathlib import Path

import pytest

from solver.errors import StudyError
from solver.searches.varied_keys import (
    Span,
    check_keys,
    key_in_words,
    numeric_keys,
    parse_span,
    parse_variation,
    values_in_words,
    with_values,
)
from solver.studies.study import study_of

PATH = Path("bend.toml")
TABLES = {
    "guide": {"width_mm": 22.86, "height_mm": 10.16},
    "component": {"kind": "bend", "plane": "E", "angle_deg": 37.0, "mean_radius_mm": 45},
    "band": {"from_ghz": 8.2, "to_ghz": 12.4},
}
JOINT = {
    "guide": {"diameter_mm": 27.0},
    "component": {"kind": "rotating-joint", "gap_mm": 0.5, "rim_radius_mm": 50.0},
    "walls": {"conductivity_s_per_m": 5.8e7},
}


def test_a_grid_holds_its_ends_and_round_steps():
    found = parse_variation("component.gap_mm=0.1:1.0:10")
    assert found.key == "component.gap_mm"
    assert found.values == (0.1, 0.2, 0.3, 0.4, 0.5, 0.6, 0.7, 0.8, 0.9, 1.0)
    assert parse_variation("a.b=3:1:3").values == (3.0, 2.0, 1.0)


def test_a_list_keeps_its_order():
    assert parse_variation("component.groove_depth_mm=9,6,7.5").values == (9.0, 6.0, 7.5)
    assert parse_variation("component.groove_depth_mm=6").values == (6.0,)


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("component.gap_mm", "must read KEY="),
        ("gap_mm=1,2", "component.gap_mm=1,2"),
        ("width_mm=1,2", "guide.width_mm=1,2"),
        ("component.gap_mm=1:2,5:3", "decimal point: 2.5"),
        ("component.gap_mm=1:2", "must read KEY="),
        ("component.gap_mm=1:2:3:4", "must read KEY="),
        ("component.gap_mm=1:2:2.5", "COUNT is 2.5"),
        ("component.gap_mm=1:2:1", "2 to 1000"),
        ("component.gap_mm=1:2:100000", "2 to 1000"),
        ("component.gap_mm=1:1:3", "twice"),
        ("component.gap_mm=1,2,1", "twice"),
        ("component.gap_mm=1,,2", "no finite number"),
        ("component.gap_mm=nan:1:3", "no finite number"),
        ("component.gap_mm=wide", "'wide' is no finite number"),
        ("component.gap_mm=1\n2,3", "no finite number"),
    ],
)
def test_what_is_no_grid_is_refused_in_one_line(text, words):
    with pytest.raises(StudyError, match=words) as refused:
        parse_variation(text)
    assert "\n" not in str(refused.value)


def test_a_span_has_two_ends_that_ascend():
    assert parse_span("component.gap_mm=0.1:2") == Span("component.gap_mm", 0.1, 2.0)
    with pytest.raises(StudyError, match="FROM must be below TO"):
        parse_span("component.gap_mm=2:0.1")
    with pytest.raises(StudyError, match="must read KEY=FROM:TO"):
        parse_span("component.gap_mm=0.1:2:5")


def test_known_keys_are_the_numbers_of_the_part_its_guide_and_its_walls():
    assert numeric_keys(TABLES) == (
        "component.angle_deg",
        "component.mean_radius_mm",
        "component.onset",
        "guide.width_mm",
        "guide.height_mm",
    )
    joint = numeric_keys(JOINT)
    assert {"component.gap_mm", "component.groove_depth_mm", "guide.diameter_mm"} <= set(joint)
    assert "walls.conductivity_s_per_m" in joint
    assert not any(key.endswith(("mode", "flange", "kind")) for key in joint)


@pytest.mark.parametrize("key", ["component.gap_mm", "component.plane", "limit.vswr", "guide"])
def test_a_key_that_is_not_there_is_refused_with_those_that_are(key):
    with pytest.raises(StudyError, match=r"known here: component\.angle_deg, component\.mean") as e:
        check_keys(TABLES, PATH, (key,))
    assert str(e.value).startswith(key)


def test_a_guide_by_name_has_no_width_to_vary():
    with pytest.raises(StudyError, match="write it as a table"):
        check_keys(TABLES | {"guide": "WR-90"}, PATH, ("guide.width_mm",))
    with pytest.raises(StudyError, match="twice"):
        check_keys(TABLES, PATH, ("guide.width_mm", "guide.width_mm"))


def test_values_are_placed_in_a_copy():
    changed = with_values(TABLES, {"component.mean_radius_mm": 30.0, "guide.width_mm": 20.0})
    assert changed["component"]["mean_radius_mm"] == 30.0
    assert changed["guide"] == {"width_mm": 20.0, "height_mm": 10.16}
    assert TABLES["component"]["mean_radius_mm"] == 45
    assert TABLES["guide"]["width_mm"] == 22.86


def test_keys_in_words():
    assert key_in_words("component.groove_depth_mm") == ("groove depth", "mm")
    assert key_in_words("component.to_guide.width_mm") == ("to guide width", "mm")
    assert key_in_words("walls.conductivity_s_per_m") == ("walls conductivity", "S/m")
    assert values_in_words({"component.gap_mm": 0.3, "component.gasket_permittivity": 2.1}) == (
        "gap 0.3 mm, gasket permittivity 2.1"
    )


@pytest.mark.parametrize(
    ("component", "words"), [({"kind": "bnd"}, 'kind = "bnd": must be one of'), (None, "component")]
)
def test_a_study_without_a_part_is_told_so(component, words):
    with pytest.raises(StudyError, match=words) as refused:
        check_keys(TABLES | {"component": component}, PATH, ("component.gap_mm",))
    assert str(refused.value).startswith("bend.toml: ")


def test_what_is_counted_takes_whole_numbers_only():
    flexible = {
        "guide": "WR-90",
        "component": {"kind": "flexible", "pitch_mm": 4.0, "convolution_depth_mm": 1.0, "count": 8},
        "band": {"from_ghz": 8.2, "to_ghz": 12.4},
    }
    assert "component.count" in numeric_keys(flexible)
    changed = with_values(flexible, {"component.count": 12.0})
    assert study_of(changed, PATH).component.count == 12
    with pytest.raises(StudyError, match="count"):
        study_of(with_values(flexible, {"component.count": 12.5}), PATH)
