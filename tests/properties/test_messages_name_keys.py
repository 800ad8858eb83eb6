"""A part that refuses a dimension names it as the study file does."""

import ast
import dataclasses
from pathlib import Path
from typing import get_args, get_type_hints

import pytest

from geometries.shapes.units import ANGLE, LENGTH
from solver.errors import StudyError
from solver.studies.component_keys import KNOWN_KINDS, ComponentTable
from solver.studies.starters import STARTS
from solver.studies.study import study_of

SHAPES = Path(__file__).parents[2] / "geometries" / "shapes"
TABLES = dict(zip(KNOWN_KINDS, get_args(get_args(ComponentTable)[0]), strict=True))
BUILT = {kind: get_type_hints(table.build)["return"] for kind, table in TABLES.items()}
#: A kind may build one of several parts.
PARTS = [(kind, part) for kind, built in BUILT.items() for part in get_args(built) or (built,)]


@pytest.mark.parametrize(("kind", "part"), PARTS)
def test_every_field_of_a_part_has_its_key(kind, part):
    keys = TABLES[kind].model_fields
    for item in dataclasses.fields(part):
        ending = {LENGTH["measure"]: "_mm", ANGLE["measure"]: "_deg"}.get(item.metadata["measure"])
        if item.name != "guide":
            assert item.name + (ending or "") in keys, item.name


def refused_quantities(path):
    """Names that a module gives to `InvalidDimensionError`, where they are written out."""
    for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
        called = isinstance(node, ast.Call) and getattr(node.func, "id", "")
        if called == "InvalidDimensionError" and isinstance(node.args[0], ast.Constant):
            yield node.args[0].value


def test_every_quantity_that_is_refused_is_a_field():
    known = {item.name for _, part in PARTS for item in dataclasses.fields(part)}
    known |= {"broad_width", "narrow_height", "diameter"}
    found = {q for path in SHAPES.glob("*.py") for q in refused_quantities(path)}
    assert len(found) > 10
    assert found <= known


@pytest.mark.parametrize("kind", [kind for kind in KNOWN_KINDS if kind != "mesh"])
def test_a_refusal_names_a_key_of_the_component(kind, tmp_path):
    """Every number of a starter study, set to what no part can have, is named in the message."""
    circular = kind == "rotating-joint"
    tables = {
        "guide": {"diameter_mm": 27.0} if circular else "WR-90",
        "band": {"from_ghz": 9.3, "to_ghz": 10.7},
    }
    for key, value in STARTS[kind].items():
        if not isinstance(value, float | int):
            continue
        component = {"kind": kind} | STARTS[kind] | {key: -1e4 if key != "count" else -1}
        with pytest.raises(StudyError) as refused:
            study_of(tables | {"component": component}, tmp_path / "study.toml")
        assert f"component.{key} = -1" in str(refused.value)
