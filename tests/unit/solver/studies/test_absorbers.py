"""Loads whose material is named."""

from pathlib import Path

import pytest

from solver.errors import StudyError
from solver.studies.run_study import read_run
from solver.studies.study import study_of

LOAD = {
    "kind": "load",
    "plane": "H",
    "position": "wall",
    "taper_length_mm": 40.0,
    "base_length_mm": 10.0,
}


def load(**keys):
    band = {"from_ghz": 8.2, "to_ghz": 12.4, "points": 5}
    tables = {"guide": "WR-90", "component": LOAD | keys, "band": band}
    return study_of(tables, Path("load.toml")).component


def test_a_name_stands_for_numbers_at_its_frequency():
    # Wollack et al. 2008, 10 GHz, by a public copy of their table: eps = 12.5 - 2.5j; not magnetic
    named = load(material="steel-epoxy-10ghz")
    assert named == load(permittivity=12.5, loss_tangent=0.2)
    assert named.complex_permittivity == pytest.approx(12.5 - 2.5j)
    assert named.complex_permeability == 1.0


def test_a_run_takes_names_too(tmp_path):
    path = tmp_path / "run.toml"
    part = "\n".join(f"{key} = {value!r}" for key, value in LOAD.items()).replace("'", '"')
    path.write_text(
        'guide = "WR-90"\n[band]\nfrom_ghz = 9.0\nto_ghz = 10.0\npoints = 3\n'
        f'[[part]]\n{part}\nmaterial = "steel-epoxy-22ghz"\n'
    )
    assert read_run(path).parts[0].component.permittivity == 11.3


@pytest.mark.parametrize(
    ("keys", "told"),
    [
        ({"material": "rubber"}, "material = \"rubber\": must be 'steel-epoxy-3.2ghz'"),
        (
            {"material": "steel-epoxy-10ghz", "permittivity": 4.0},
            "permittivity = 4.0: material says it already; give one of the two",
        ),
        ({"permittivity": 4.0}, "loss_tangent: missing; add it"),
    ],
)
def test_what_does_not_fit_is_told_in_one_line(keys, told):
    with pytest.raises(StudyError) as caught:
        load(**keys)
    assert told in str(caught.value)
    assert "\n" not in str(caught.value)
