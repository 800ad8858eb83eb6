"""The table of tolerances: its keys, units, and what it refuses."""

import math

import pytest

from geometries.shapes.guides import standard_guide
from geometries.shapes.loads import Load
from solver.errors import StudyError
from solver.studies.study import read_study
from solver.studies.tables import RefusedKeyError
from solver.studies.tolerances import tolerances_of

STUDY = """
guide = "WR-90"
[component]
kind = "corner"
plane = "E"
angle_deg = 90.0
cut_mm = 3.0
[band]
from_ghz = 8.2
to_ghz = 12.4
[tolerance]
{lines}
"""


def _read(folder, *lines):
    path = folder / "study.toml"
    path.write_text(STUDY.format(lines="\n".join(lines)), encoding="utf-8")
    return read_study(path)


def test_amounts_in_si(tmp_path):
    cut, angle = _read(tmp_path, "cut_mm = 0.1", "angle_deg = 0.5").tolerances
    assert (cut.key, cut.amount, cut.scale) == ("cut_mm", pytest.approx(1e-4), 1e-3)
    assert angle.amount == pytest.approx(math.radians(0.5))
    study = _read(tmp_path, "cut_in = 0.01")
    assert study.tolerances[0].amount == pytest.approx(0.254e-3)
    assert study.tolerances[0].moved(study.component, 1e-4).cut == pytest.approx(3.1e-3)


@pytest.mark.parametrize(
    ("line", "told"),
    [
        ("cut = 0.1", r"tolerance.cut = 0.1: unknown key; did you mean cut_mm\?"),
        ("plane = 1.0", "unknown key"),
        ("cut_mm = 0", "must be above 0"),
        ("cut_mm = inf", "finite"),
        ('cut_mm = "0.1"', "must be a number"),
        ("cut_mm = 3.5", r"tolerance.cut_mm = 3.5: a part so far off cannot be made.*reduce it"),
        ("", "must not be empty"),
    ],
)
def test_refusals_are_one_line(tmp_path, line, told):
    with pytest.raises(StudyError, match=told) as caught:
        _read(tmp_path, line)
    assert "\n" not in str(caught.value)


def test_a_material_may_be_off_too():
    load = Load(
        standard_guide("WR-90"),
        "H",
        "wall",
        20e-3,
        8e-3,
        permittivity=4.0,
        loss_tangent=0.2,
        permeability=1.5,
    )
    found = tolerances_of(load, {"permittivity": 0.3, "taper_length_mm": 0.5})
    assert [(t.key, t.scale, t.amount) for t in found] == [
        ("permittivity", 1.0, 0.3),
        ("taper_length_mm", 1e-3, pytest.approx(0.5e-3)),
    ]
    assert found[0].moved(load, -0.3).permittivity == pytest.approx(3.7)
    with pytest.raises(RefusedKeyError, match="loss_tangent"):
        tolerances_of(load, {"loss_tangent": 0.3})
