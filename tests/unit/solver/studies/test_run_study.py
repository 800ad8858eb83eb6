"""Run files: what they give, and one line for each way in which they can be wrong."""

import math
import tomllib

import pytest

from geometries.shapes.guides import CircularGuide
from geometries.shapes.transitions import Transition
from solver.errors import StudyError
from solver.studies.run_study import read_run, run_of

START = 'guide = "WR-90"\nband = { from_ghz = 8.2, to_ghz = 12.4, points = 5 }\n'
STRAIGHT = '[[part]]\nkind = "straight"\nlength_mm = 100.0\n'
BEND = '[[part]]\nkind = "bend"\nplane = "E"\nangle_deg = 90.0\nmean_radius_mm = 40.0\n'
TO_ROUND = '[[part]]\nkind = "transition"\nto_diameter_mm = 24.0\nlength_mm = 60.0\n'


def read(text, tmp_path):
    return run_of(tomllib.loads(START + text), tmp_path / "run.toml")


def test_parts_in_order_with_their_guides(tmp_path):
    back = '[[part]]\nkind = "transition"\nto_guide = "WR-90"\nlength_mm = 60.0\nname = "back"\n'
    run = read(STRAIGHT + BEND + "turn_deg = 180.0\n" + TO_ROUND + STRAIGHT + back, tmp_path)
    assert [part.name for part in run.parts] == [
        "1 straight",
        "2 bend",
        "3 transition",
        "4 straight",
        "back",
    ]
    assert run.parts[1].turn == pytest.approx(math.pi)
    assert run.parts[3].guides == (CircularGuide(0.024),) * 2
    assert isinstance(run.parts[4].component, Transition)
    assert run.parts[4].backwards
    assert run.parts[4].guides[-1].name == "WR-90"


@pytest.mark.parametrize(
    ("text", "told"),
    [
        ("", "part: missing"),
        ("part = []", "must not be empty"),
        ("part = [3]", r"part\[0\] must be a table"),
        ('[[part]]\nkind = "bent"\n', r'part\[0\].kind = "bent": must be one of'),
        ('[[part]]\nname = "x"\n', r"part\[0\].kind: missing"),
        (STRAIGHT + '[[part]]\nkind = "straight"\n', r"part\[1\].length_mm: missing"),
        (STRAIGHT + "lenght = 3\n", r"part\[0\].lenght = 3: unknown key"),
        (BEND.replace("40.0", "4.0"), r"part\[0\].mean_radius_mm = 4.0: must be more than half"),
        (BEND + "turn_deg = 45.0\n", "only turned by 0 or 180 degrees"),
        (BEND + 'turn_deg = "up"\n', r"part\[0\].turn_deg"),
        (
            BEND + 'guide = "WR-75"\n',
            r"part\[0\] \(1 bend\) has the guide WR-75 .* the transmitter",
        ),
        (TO_ROUND + BEND, r"part\[1\].kind = \"bend\": needs a rectangular guide"),
        (STRAIGHT + "[end]\nvswr = 0.9\n", "end.vswr = 0.9: must be at least 1"),
        (TO_ROUND.replace("24.0", "12.0"), r"cutoff of TE11 in the guide behind part\[0\]"),
        ("[[part]]\nfile = 3\n", r"part\[0\].file = 3: must be text"),
        (BEND + 'name = "a\\nb"\n', r"part\[0\].name"),
        (
            '[[part]]\nkind = "taper"\nto_guide = "WR-42"\nlength_mm = 50.0\n',
            "cutoff of TE10 in the guide behind",
        ),
    ],
)
def test_what_is_wrong_is_told_in_one_line(text, told, tmp_path):
    with pytest.raises(StudyError, match=told) as caught:
        read(text, tmp_path)
    assert "\n" not in str(caught.value)
    assert str(caught.value).startswith(str(tmp_path / "run.toml"))


def test_modes_of_circular_parts_have_to_agree(tmp_path):
    joint = '[[part]]\nkind = "rotating-joint"\nmode = "TM01"\ngap_mm = 0.8\nrim_radius_mm = 34.0\n'
    with pytest.raises(StudyError, match=r"takes TM01, but .* brings TE11"):
        read(TO_ROUND.replace("24.0", "27.0") + joint, tmp_path)


def test_a_file_that_is_not_there(tmp_path):
    with pytest.raises(StudyError, match="does not exist"):
        read_run(tmp_path / "none.toml")
