"""Starter studies: one for every kind, with every key that a study may have."""

import re
import tomllib
from typing import get_args

import pytest

from geometries.shapes.guides import CircularGuide
from geometries.shapes.horns import ConicalHorn
from solver.commands.command_line import main
from solver.errors import StudyError
from solver.studies.component_keys import KNOWN_KINDS, ComponentTable
from solver.studies.run_study import run_of
from solver.studies.starters import STARTS, starter_study
from solver.studies.study import study_of
from solver.studies.study_keys import CoolingKeys, StudyKeys

TABLES = dict(zip(KNOWN_KINDS, get_args(get_args(ComponentTable)[0]), strict=True))


@pytest.mark.parametrize("kind", KNOWN_KINDS)
def test_every_kind_has_one_that_can_be_read_as_it_is(kind, tmp_path):
    study = study_of(tomllib.loads(starter_study(kind)), tmp_path / "starter.toml")
    assert study.component.kind == kind
    assert study.limit is not None


@pytest.mark.parametrize("kind", KNOWN_KINDS)
def test_every_key_stands_there_once_with_its_meaning(kind):
    text = starter_study(kind)
    component = text[text.index("[component]") : text.index("[band]")]
    keys = re.findall(r"^(?:# )?(\w+) =", component, re.MULTILINE)
    assert keys == list(TABLES[kind].model_fields)
    for key in keys[1:]:
        before = component.partition(f"{key} =")[0].splitlines()
        notes = [line for line in before if line.startswith("# ") and " = " not in line]
        assert notes, key


@pytest.mark.parametrize("kind", KNOWN_KINDS)
def test_what_is_a_comment_can_be_made_active(kind, tmp_path):
    """Every optional line, alone, gives a study that can be read, or a refusal of its value."""
    lines = starter_study(kind).splitlines()
    for at, line in enumerate(lines):
        if not re.match(r"# \w+ = ", line) or "..." in line:
            continue
        tables = tomllib.loads("\n".join([*lines[:at], line[2:], *lines[at + 1 :]]))
        commented = ("conductivity", "= 0.05", *CoolingKeys.model_fields)
        instead = ("frequencies_ghz", "material = ")
        if any(key in line for key in (*instead, *commented)):
            continue  # it stands instead of others, or in a table that is a comment as well
        study_of(tables, tmp_path / "starter.toml")


def test_every_table_of_a_study_is_shown():
    assert "[cooling]" not in starter_study("bend")
    text = starter_study("load")
    for name in StudyKeys.model_fields:
        if name not in ("title", "guide"):
            assert re.search(rf"^(# )?\[{name}\]", text, re.MULTILINE), name


def test_a_limit_of_leakage_is_offered_where_something_can_leak():
    offered = {kind for kind in KNOWN_KINDS if "leakage_db" in starter_study(kind)}
    assert offered == {"choke-flange", "rotating-joint"}


def test_a_key_without_a_value_is_missed(monkeypatch):
    monkeypatch.setitem(STARTS, "twist", {"angle_deg": 90.0})
    with pytest.raises(StudyError, match="no value for length_mm"):
        starter_study("twist")


def test_the_command_prints_it_or_lists_the_kinds(capsys):
    assert main(["study", "bend"]) == 0
    assert tomllib.loads(capsys.readouterr().out)["component"]["kind"] == "bend"
    assert main(["study"]) == 0
    assert capsys.readouterr().out.split() == [*KNOWN_KINDS, "run"]
    assert main(["study", "knot"]) == 2
    assert "must be one of: straight, bend" in capsys.readouterr().err
    assert main(["study", "bends"]) == 2
    assert "did you mean bend" in capsys.readouterr().err


def test_a_run_to_start_from_can_be_read_with_all_its_comments_active(tmp_path):
    text = starter_study("run")
    run = run_of(tomllib.loads(text), tmp_path / "run.toml")
    assert [part.component.kind for part in run.parts] == ["straight", "bend"] * 2
    active = re.sub(r"^# (\[|\w+ = )", r"\1", text, flags=re.MULTILINE)
    run = run_of(tomllib.loads(active), tmp_path / "run.toml")
    assert run.walls is not None and run.parts[-1].component.kind == "measured"


def test_tolerances_can_be_made_active(tmp_path):
    text = starter_study("bend").replace("# [tolerance]", "[tolerance]")
    text = text.replace("# mean_radius_mm = 0.05", "mean_radius_mm = 0.05")
    assert study_of(tomllib.loads(text), tmp_path / "starter.toml").tolerances


@pytest.mark.slow
@pytest.mark.parametrize("kind", ["taper", "load", "rotating-joint"])
def test_who_changes_nothing_sees_a_limit_met(kind, tmp_path, capsys):
    path = tmp_path / "starter.toml"
    path.write_text(starter_study(kind), encoding="utf-8")
    assert main(["assess", str(path)]) == 0
    assert "MEETS THE LIMIT" in capsys.readouterr().out


def test_a_horn_may_start_on_a_circular_guide(tmp_path):
    study = study_of(tomllib.loads(starter_study("horn", circular=True)), tmp_path / "horn.toml")
    assert isinstance(study.component, ConicalHorn)
    assert isinstance(study.component.guide, CircularGuide)
    for kind in ("bend", "run"):
        with pytest.raises(StudyError, match=f"{kind}: .*--circular, which is for: horn"):
            starter_study(kind, circular=True)
