from pathlib import Path

import pytest

from solver.errors import StudyError
from solver.output.wording import part_text
from solver.searches.varied_keys import with_values
from solver.studies.inches import length_text, told_in_inches, uses_inches
from solver.studies.study import read_study, study_of

TABLES = {
    "guide": {"width_in": 0.9, "height_in": 0.4},
    "component": {"kind": "bend", "plane": "E", "angle_deg": 90.0, "mean_radius_in": 1.5},
    "band": {"from_ghz": 8.2, "to_ghz": 12.4},
}


def with_component(**keys):
    return TABLES | {"component": TABLES["component"] | keys}


def test_inches_give_the_part_that_millimetres_give(tmp_path):
    in_mm = TABLES | {
        "guide": {"width_mm": 22.86, "height_mm": 10.16},
        "component": {"kind": "bend", "plane": "E", "angle_deg": 90.0, "mean_radius_mm": 38.1},
    }
    assert study_of(TABLES, tmp_path).component == study_of(in_mm, tmp_path).component


@pytest.mark.parametrize(
    ("tables", "words"),
    [
        (with_component(mean_radius_in=0.1), "component.mean_radius_in = 0.1: must be more"),
        (with_component(mean_radius_in="1"), 'component.mean_radius_in = "1": must be a number'),
        (
            with_component(mean_radius_in=1e7),
            "10000000.0: must be at most 100000 mm",
        ),
        (with_component(mean_radius_mm=38.1), "mean_radius_mm says the same"),
        (with_component(angle_in=1.0), "component.angle_in = 1.0: unknown key"),
        (TABLES | {"guide": {"width_in": 0.9, "height_in": 1.4}}, "guide.height_in = 1.4"),
    ],
)
def test_messages_name_the_key_as_it_was_written(tables, words, tmp_path):
    with pytest.raises(StudyError) as caught:
        study_of(tables, tmp_path)
    assert words in str(caught.value)


def test_a_varied_key_replaces_its_twin(tmp_path):
    for key, value in (("component.mean_radius_mm", 50.8), ("component.mean_radius_in", 2.0)):
        part = study_of(with_values(TABLES, {key: value}), tmp_path).component
        assert part.mean_radius == pytest.approx(50.8e-3, rel=1e-12)


def test_a_size_in_inches_stands_wherever_a_guide_does(tmp_path):
    path = tmp_path / "own.toml"
    path.write_text(
        'guide = "0.9 x 0.4 in"\n'
        'component = {kind = "taper", to_guide = "28.499x12.624", length_in = 2}\n'
        "band = {from_ghz = 8.2, to_ghz = 12.4}",
        encoding="utf-8",
    )
    part = read_study(path).component
    assert (part.guide.broad_width, part.length) == (22.86e-3, 50.8e-3)
    assert part.to_guide.narrow_height == 12.624e-3


@pytest.mark.parametrize(
    ("tables", "wanted"),
    [
        (TABLES, True),
        (TABLES | {"guide": "0.9x0.4in", "component": {"kind": "straight", "length_mm": 1}}, True),
        ({"guide": '0.9" x 0.4"'}, True),
        ({"guide": "0.9in x 0.4"}, True),
        ({"guide": "1.0 IN"}, True),
        ({"guide": "WR-90", "component": {"kind": "bend", "plane": "in"}}, False),
        ({"part": [{"kind": "straight", "length_in": 2.0}]}, True),
    ],
)
def test_who_writes_inches_is_known(tables, wanted):
    assert uses_inches(tables) is wanted


def test_lengths_are_told_in_inches_only_within():
    part = study_of(TABLES, Path("own.toml")).component
    with told_in_inches(True):
        assert part_text(part).endswith("mean radius 1.5 in")
        assert length_text(1e-3, 2) == "0.039 in"
    assert part_text(part).endswith("mean radius 38.1 mm")
