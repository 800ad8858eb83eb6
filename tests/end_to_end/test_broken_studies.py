"""Whatever a study file does wrong: exit 2, one line, no traceback, nothing written."""

import subprocess
import sys
from pathlib import Path

import pytest

from solver.commands.command_line import main

GOOD = """
title = "riser"
guide = "WR-90"
[component]
kind = "bend"
plane = "E"
angle_deg = 37.0
mean_radius_mm = 45.0
[band]
from_ghz = 8.2
to_ghz = 12.4
points = 21
[limit]
vswr = 1.05
"""

# What is replaced in the good study, by what, and a word that the message must hold.
FAULTS = {
    "missing key": ("mean_radius_mm = 45.0\n", "", "component.mean_radius_mm"),
    "missing table": ("[limit]", "[limits]", "limits"),
    "unknown key": ("mean_radius_mm", "radius_mm", "did you mean mean_radius_mm?"),
    "wrong unit": ("mean_radius_mm = 45.0", "mean_radius_cm = 4.5", "mean_radius_cm"),
    "both units": ("45.0", "45.0\nmean_radius_in = 1.8", "mean_radius_mm says the same"),
    "decimal comma": ("45.0", "45,0", "write a decimal point: 45.0"),
    "decimal comma in quotes": ("45.0", '"45,0"', "write a decimal point: 45.0"),
    "inches taken for mm": ('"WR-90"', '"0.9x0.4"', "read as millimetres"),
    "negative": ("45.0", "-45.0", "-45.0"),
    "zero": ("45.0", "0.0", "0.0"),
    "not a number": ("45.0", "nan", "finite"),
    "infinite": ("45.0", "inf", "component.mean_radius_mm = inf"),
    "text for a number": ("45.0", '"45.0"', "without quotes"),
    "truth value for a number": ("45.0", "true", "true"),
    "list for a number": ("45.0", "[45.0]", "a list"),
    "table for a number": ("45.0", "{ value = 45.0 }", "a table"),
    "date for a number": ("45.0", "2026-01-31", "2026-01-31"),
    "beyond all sizes": ("45.0", "1e308", "at most"),
    "radius under half the width": ("45.0", "5.0", "5.08 mm"),
    "angle too large": ("37.0", "190.0", "from 1 to 180 degrees"),
    "angle beyond all circles": ("37.0", "400.0", "from 1 to 180 degrees"),
    "angle too small": ("37.0", "0.1", "1 to 180"),
    "no such plane": ('"E"', '"e"', "'E' or 'H'"),
    "no such kind": ('"bend"', '"knot"', "straight, bend, corner"),
    "no such guide": ('"WR-90"', '"WR-9000"', "nearest"),
    "guide of the wrong shape": ('"WR-90"', "{ diameter_mm = 27.0 }", "rectangular"),
    "guide on its side": ('"WR-90"', "{ width_mm = 5, height_mm = 9 }", "height_mm"),
    "band below cutoff": ("from_ghz = 8.2", "from_ghz = 5.0", "6.55714 GHz"),
    "band empty": ("from_ghz = 8.2", "from_ghz = 12.4", "band.to_ghz"),
    "band reversed": ("from_ghz = 8.2", "from_ghz = 13.0", "band.to_ghz"),
    "a million points": ("points = 21", "points = 1000000", "20001"),
    "one point": ("points = 21", "points = 1", "at least 2"),
    "half a point": ("points = 21", "points = 20.5", "whole number"),
    "two kinds of band": ("points = 21", "frequencies_ghz = [9.0]", "beside frequencies_ghz"),
    "VSWR of one": ("1.05", "1.0", "limit.vswr"),
    "accuracy out of reach": ("[limit]", "[accuracy]\ns_error = 1e-15\n[limit]", "s_error"),
    "accuracy of no use": ("[limit]", "[accuracy]\ns_error = 2.0\n[limit]", "at most 0.1"),
    "walls of wood": ("[limit]", "[walls]\nconductivity_s_per_m = 0.0\n[limit]", "conductivity"),
    "title that breaks lines": ('"riser"', '"a\\nb"', "title"),
    "title that drives the terminal": ('"riser"', '"\\u001b[2J"', "title"),
    "title without end": ('"riser"', f'"{"x" * 5000}"', "200"),
    "not TOML": ("[band]", "[band", "not a TOML file"),
    "key given twice": ("37.0", "37.0\nangle_deg = 38.0", "not a TOML file"),
}


def refused(path, capsys, *more):
    """Run the command in this process; return its one line."""
    code = main(["assess", str(path), *more])
    out, err = capsys.readouterr()
    assert code == 2
    assert out == ""
    assert len(err.splitlines()) == 1
    assert err.startswith("guideproof: ")
    assert "Traceback" not in err
    return err


@pytest.mark.parametrize("fault", FAULTS)
def test_a_broken_study_gives_one_line_and_no_output(fault, tmp_path, capsys):
    old, new, word = FAULTS[fault]
    assert GOOD.count(old) == 1
    path = tmp_path / "riser.toml"
    path.write_text(GOOD.replace(old, new), encoding="utf-8")
    line = refused(path, capsys, "-o", str(tmp_path / "out"), "--json")
    assert word in line
    assert "riser.toml" in line
    assert [p.name for p in tmp_path.iterdir()] == ["riser.toml"]


def test_files_that_are_no_study(tmp_path, capsys):
    out = ("-o", str(tmp_path / "out"))
    assert "does not exist" in refused(tmp_path / "none.toml", capsys, *out)
    assert "is a folder" in refused(tmp_path, capsys, *out)
    path = tmp_path / "riser.toml"
    path.write_bytes(b"\xff\xfe\x00\x01")
    assert "UTF-8" in refused(path, capsys, *out)
    path.write_bytes(b"#" * 1_000_001)
    assert "bytes" in refused(path, capsys, *out)
    path.write_bytes(b"")
    assert "missing" in refused(path, capsys, *out)
    assert "does not exist" in refused("two\nlines.toml", capsys, *out)
    assert [p.name for p in tmp_path.iterdir()] == ["riser.toml"]


def test_a_folder_that_cannot_be_written_is_refused_first(tmp_path, capsys):
    path = tmp_path / "riser.toml"
    path.write_text(GOOD, encoding="utf-8")
    (tmp_path / "taken").write_text("mine")
    assert "cannot be written" in refused(path, capsys, "-o", str(tmp_path / "taken"))
    assert "cannot be written" in refused(path, capsys, "-o", str(tmp_path / "taken" / "below"))
    assert "cannot be written" in refused(path, capsys, "-o", "/proc/nowhere")
    assert (tmp_path / "taken").read_text() == "mine"


def test_the_process_itself_behaves_so(tmp_path):
    path = tmp_path / "riser.toml"
    path.write_text(GOOD.replace("45.0", "4.0"), encoding="utf-8")
    run = subprocess.run(
        [sys.executable, "-m", "solver", "assess", str(path)],
        capture_output=True,
        text=True,
        cwd=Path(__file__).parents[2],
        check=False,
    )
    assert run.returncode == 2
    assert run.stdout == ""
    assert run.stderr.splitlines() == [
        f"guideproof: {path}: component.mean_radius_mm = 4.0: must be more than half the inside "
        "width in the plane of the bend (5.08 mm); raise the radius"
    ]
