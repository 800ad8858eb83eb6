"""Keys of horns, joints, files and runs, built one by one; the pieces of a refusal's line."""

import math
from pathlib import Path

import pytest
from pydantic import TypeAdapter, ValidationError

from geometries.shapes.guides import CircularGuide, RectangularGuide, standard_guide
from geometries.shapes.horns import ConicalHorn, RectangularHorn
from geometries.user_files.step_bodies import PortPoint
from solver.errors import StudyError
from solver.studies.component_keys import KNOWN_KINDS, ComponentTable
from solver.studies.guide_keys import CircularSection, RectangularSection, build_guide
from solver.studies.horn_keys import HornTable, built_horn
from solver.studies.joint_keys import ChokeFlangeKeys, RotatingJointKeys
from solver.studies.kind_keys import ComponentKeys
from solver.studies.mesh_keys import MeshKeys
from solver.studies.messages import (
    MISSING,
    TEXTS,
    WHOLE_TABLE,
    comma_hint,
    first_problem,
    key_path,
    one_line,
    refusal,
    shown_value,
    unknown_key,
)
from solver.studies.run_keys import (
    BackwardsTransitionKeys,
    MeasuredKeys,
    RunKeys,
    WholeLineError,
    part_keys,
)
from solver.studies.run_study import run_of
from solver.studies.tables import RefusedKeyError

WR90, ROUND = standard_guide("WR-90"), CircularGuide(24e-3)


def test_guides_by_name_and_by_their_sides():
    assert build_guide("guide", "WR-90") == WR90
    sides = RectangularSection(width_mm=20.0, height_mm=10.0)
    assert build_guide("guide", sides) == RectangularGuide(20e-3, 10e-3)
    assert build_guide("guide", CircularSection(diameter_mm=24.0)) == ROUND


@pytest.mark.parametrize(
    ("entry", "key", "words"),
    [
        (RectangularSection(width_mm=10.0, height_mm=20.0), "to_guide.height_mm", "broad side"),
        ("WR-91", "to_guide", "WR-90"),
        ("10x20", "to_guide", "exchange the two"),
    ],
)
def test_a_guide_that_cannot_be_is_refused_under_its_key(entry, key, words):
    with pytest.raises(RefusedKeyError) as told:
        build_guide("to_guide", entry)
    assert told.value.key == key and words in told.value.text


def test_horns_take_the_keys_of_their_guide():
    keys = HornTable(aperture_width_mm=60.0, aperture_height_mm=40.0, length_mm=100.0)
    assert built_horn(keys, WR90) == RectangularHorn(WR90, 60e-3, 40e-3, 0.1)
    keys = HornTable(aperture_diameter_mm=50.0, length_mm=80.0)
    assert built_horn(keys, ROUND) == ConicalHorn(ROUND, 50e-3, 80e-3, mode="TE11")
    keys = HornTable(aperture_diameter_mm=50.0, length_mm=80.0, mode="TM01")
    assert built_horn(keys, ROUND).mode == "TM01"


@pytest.mark.parametrize(
    ("guide", "given", "key", "words"),
    [
        (WR90, {"aperture_diameter_mm": 50.0}, "component.aperture_diameter_mm", "rectangular"),
        (WR90, {"mode": "TE11"}, "component.mode", "rectangular guide"),
        (ROUND, {"aperture_width_mm": 50.0}, "component.aperture_width_mm", "circular guide"),
        (WR90, {"aperture_width_mm": 50.0}, "component", "aperture_height_mm is missing"),
        (ROUND, {}, "component", "aperture_diameter_mm is missing"),
    ],
)
def test_keys_of_the_other_horn_are_refused(guide, given, key, words):
    with pytest.raises(RefusedKeyError) as told:
        built_horn(HornTable(length_mm=80.0, **given), guide)
    assert told.value.key == key and words in told.value.text


def test_joints_are_built_in_metres():
    given = {
        "gap_mm": 0.5,
        "rim_radius_mm": 40.0,
        "groove_inner_radius_mm": 20.0,
        "groove_outer_radius_mm": 22.0,
        "groove_depth_mm": 7.5,
    }
    joint = RotatingJointKeys(kind="rotating-joint", **given).build(ROUND)
    assert (joint.gap, joint.rim_radius, joint.mode) == (0.5e-3, 40e-3, "TM01")
    assert joint.grooves[0].depth == pytest.approx(7.5e-3) and len(joint.grooves) == 1
    flange = ChokeFlangeKeys(
        kind="choke-flange", gasket_permittivity=2.1, gasket_inner_radius_mm=25.0, **given
    ).build(WR90)
    assert flange.gasket_permittivity == 2.1
    assert flange.gasket_inner_radius == pytest.approx(25e-3)


def test_a_kind_has_to_say_how_it_is_built():
    class Bare(ComponentKeys):
        pass

    with pytest.raises(NotImplementedError, match="Bare has to say"):
        Bare(kind="bare").build(WR90)


def test_ports_of_a_file_by_name_and_by_a_point():
    keys = MeshKeys(kind="mesh", file="a.msh", units="mm")
    part = keys.build(WR90)
    assert (part.file, part.ports, part.walls) == (Path("a.msh"), ("port1", "port2"), None)
    keys = MeshKeys(
        kind="mesh",
        file="a.step",
        units="mm",
        ports=[{"point_mm": [1.0, 2.0, 3.0]}, {"point_in": [1, 0, 0]}],
        walls="rest",
    )
    part = keys.build(WR90)
    assert part.ports[0] == PortPoint("port1", (1e-3, 2e-3, 3e-3))
    assert part.ports[1].point == pytest.approx((25.4e-3, 0.0, 0.0))
    assert part.walls == ()
    named = MeshKeys(kind="mesh", file="a.msh", units="m", walls=["tube", "rest"]).build(WR90)
    assert named.walls == ("tube",)


@pytest.mark.parametrize(
    ("given", "words"),
    [
        ({"ports": "port1"}, "list of the two ports"),
        ({"ports": ["a"]}, "list of the two ports"),
        ({"ports": ["a", "a"]}, "two different ports"),
        ({"ports": ["a", ""]}, "a name, as"),
        ({"ports": ["a", {"point_mm": [1.0, 2.0]}]}, "a name, as"),
        ({"ports": ["a", {"point_mm": [1.0, 2.0, math.nan]}]}, "a name, as"),
        ({"ports": ["a", {"point_mm": [1.0, 2.0, "x"]}]}, "a name, as"),
        ({"ports": ["a", {"point_mm": [1, 2, 3], "more": 1}]}, "a name, as"),
        ({"walls": []}, "list of names"),
        ({"walls": [1]}, "list of names"),
    ],
)
def test_ports_and_walls_that_are_none_are_refused(given, words):
    with pytest.raises(ValidationError) as told:
        MeshKeys(kind="mesh", file="a.msh", units="mm", **given)
    line = first_problem(told.value)
    assert words in line and "\n" not in line


def test_parts_of_a_run():
    place, keys = part_keys(
        {"kind": "straight", "length_mm": 20.0, "name": "riser", "turn_deg": 180.0}, 0
    )
    assert (place.name, place.turn_deg, keys.length_mm) == ("riser", 180.0, 20.0)
    _, measured = part_keys({"file": "a.s2p"}, 1)
    assert measured == MeasuredKeys(file="a.s2p")
    _, back = part_keys({"kind": "transition", "to_guide": "WR-90", "length_mm": 50.0}, 2)
    assert isinstance(back, BackwardsTransitionKeys)
    # an offset has a turn of its own, which is its own key
    place, offset = part_keys({"kind": "offset", "turn_deg": 3.0}, 3)
    assert (place.turn_deg, offset.turn_deg) == (0.0, 3.0)


@pytest.mark.parametrize(
    ("table", "line"),
    [
        ({"kind": "strait"}, 'part[4].kind = "strait": must be one of: '),
        ({"length_mm": 3.0}, "part[4].kind: missing; must be one of: "),
        ({"kind": "straight"}, "part[4].length_mm: missing; add it"),
        ({"kind": "straight", "length_mm": "3"}, 'part[4].length_mm = "3": must be a number'),
        ({"kind": "straight", "length_mm": 3.0, "turn_deg": 400.0}, "part[4].turn_deg = 400.0: "),
        ({"kind": "straight", "length_mm": 3.0, "name": ""}, 'part[4].name = "": must not be'),
        ({"kind": "straight", "lengths_mm": 3.0}, "part[4].lengths_mm = 3.0: unknown key; did"),
        ({"file": "a.s2p", "length_mm": 3.0}, "part[4].length_mm = 3.0: unknown key;"),
    ],
)
def test_what_is_wrong_with_a_part_of_a_run_names_its_place(table, line):
    with pytest.raises(WholeLineError) as told:
        part_keys(table, 4)
    assert told.value.line.startswith(line) and "\n" not in told.value.line


def test_a_run_is_a_list_of_tables():
    given = {"guide": "WR-90", "band": {"from_ghz": 9.0, "to_ghz": 10.0, "points": 3}}
    assert len(RunKeys.model_validate(given | {"part": [{"file": "a.s2p"}]}).part) == 1
    for part, words in (([], "must not be empty"), ([3], "part[0] must be a table")):
        with pytest.raises(ValidationError) as told:
            RunKeys.model_validate(given | {"part": part})
        assert words in first_problem(told.value)


@pytest.mark.parametrize(
    ("part", "line"),
    [
        ({"kind": "mesh", "file": "a.msh", "units": "mm"}, "part[0]: {folder}/a.msh: there is no"),
        (
            {"kind": "transition", "to_guide": "WR-75", "length_mm": 30.0},
            "part[0].to_guide: a transition to a rectangular guide starts from a circular one",
        ),
    ],
)
def test_a_part_that_is_refused_as_a_whole_is_told_in_plain_words(part, line, tmp_path):
    band = {"from_ghz": 9.0, "to_ghz": 10.0, "points": 3}
    with pytest.raises(StudyError) as told:
        run_of({"guide": "WR-90", "band": band, "part": [part]}, tmp_path / "run.toml")
    start = f"{tmp_path / 'run.toml'}: {line.format(folder=tmp_path)}"
    assert str(told.value).startswith(start)


def test_every_error_that_the_keys_can_give_has_a_text():
    """Wrong types and sizes in every key of every kind, once the kind is known."""
    adapter = TypeAdapter(ComponentTable)
    wrong = [True, "x", 3, -1e9, 1e9, math.nan, [], [1], {}, {"a": 1}, "x" * 2000, None]
    seen = set()
    for kind in KNOWN_KINDS:
        bare = {"kind": kind, "no_such_key": 1}
        with pytest.raises(ValidationError) as told:
            adapter.validate_python(bare)
        (unknown,) = (p for p in told.value.errors() if p["type"] == "unknown_key")
        for key in unknown["ctx"]["known"]:
            for value in wrong if key != "kind" else ():
                given = {"kind": kind, key: value}
                try:
                    adapter.validate_python(given)
                except ValidationError as error:
                    line = first_problem(error, given)
                    assert "\n" not in line and len(line) < 600
                    seen |= {problem["type"] for problem in error.errors()}
    assert {"float_type", "missing", "finite_number"} <= seen <= {*TEXTS, "unknown_key"}


@pytest.mark.parametrize(
    ("value", "shown"),
    [
        ({}, "a table"),
        ([1], "a list"),
        (True, "true"),
        (10**70, "a whole number with too many digits"),
        ("a\nb", '"a\\nb"'),
        (2.5, "2.5"),
        ("x" * 100, '"' + "x" * 56 + "..."),
    ],
)
def test_values_are_shown_in_one_short_line(value, shown):
    assert shown_value(value) == shown


def test_pieces_of_a_line():
    assert one_line("a\x1b[31m\u2028") == "a\\x1b[31m\\u2028"
    assert key_path(["band", "frequencies_ghz", 3]) == "band.frequencies_ghz[3]"
    assert key_path(["part", 0, "a\nb"]) == "part[0].a\\nb"
    assert refusal("a.b", 3, "no") == "a.b = 3: no"
    assert refusal("a.b", WHOLE_TABLE, "no key alone") == "a.b: no key alone"
    assert refusal("a.b", MISSING, "add it") == "a.b: missing; add it"
    assert comma_hint("-3,50") == "; write a decimal point: -3.50"
    assert comma_hint("1,2,3") == comma_hint("a,b") == ""
    assert unknown_key("lenght_mm", ["kind", "length_mm"]).startswith(
        "unknown key; did you mean length_mm?"
    )
    assert unknown_key("zzz", ["kind"]) == "unknown key; remove it; known here: kind"
