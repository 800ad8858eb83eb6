"""The table of tolerances: its keys, units, and what it refuses."""

import math

import pytest

from solver.errors import StudyError
from solver.studies.study import read_study

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
