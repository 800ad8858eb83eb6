"""Keys of flexible guides that do not fit together are refused in one line."""

import re

import pytest

from solver.errors import StudyError
from solver.studies.study import read_study

GOOD = """
title = "flexible run"
guide = "WR-90"
[component]
kind = "flexible"
pitch_mm = 6.0
convolution_depth_mm = 1.2
count = 10
plane = "E"
angle_deg = 60.0
[band]
frequencies_ghz = [10.0]
"""
FAULTS = {
    "plane alone": ("angle_deg = 60.0\n", "", 'component.plane = "E": needs angle_deg too'),
    "angle alone": ('plane = "E"\n', "", "component.angle_deg = 60.0: needs plane too"),
    "half a convolution": ("count = 10", "count = 10.5", "component.count = 10.5: must be a whole"),
    "none": ("count = 10", "count = 0", "component.count = 0"),
    "folds": ("count = 10", "count = 1", "component.angle_deg"),
    "too deep": ("= 1.2", "= 7.0", "component.convolution_depth_mm"),
    "round guide": ('"WR-90"', "{diameter_mm = 27.0}", "rectangular"),
    "profile": ("count = 10", 'count = 10\nprofile = "square"', "sinusoidal"),
}


def read(tmp_path, text):
    path = tmp_path / "study.toml"
    path.write_text(text, encoding="utf-8")
    return read_study(path)


def test_keys_build_the_part(tmp_path):
    part = read(tmp_path, GOOD).component
    assert part.pitch == pytest.approx(6e-3)
    assert (part.count, part.plane) == (10, "E")
    straight = GOOD.replace('plane = "E"\nangle_deg = 60.0\n', "")
    assert read(tmp_path, straight).component.mirrors == {"x", "y"}


@pytest.mark.parametrize("fault", FAULTS)
def test_faults_are_told_in_one_line(tmp_path, fault):
    old, new, said = FAULTS[fault]
    assert old in GOOD
    with pytest.raises(StudyError, match=re.escape(said)) as refused:
        read(tmp_path, GOOD.replace(old, new))
    assert "\n" not in str(refused.value)
