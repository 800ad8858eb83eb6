"""A new user's first hour, from an empty folder: each step uses what the one before left."""

import csv
import io
import json
import re
import tomllib

import pytest

import solver
from solver.commands.command_line import main

pytestmark = pytest.mark.slow


def told(capsys, *arguments, code=0):
    """Run a command and return what it says on standard output."""
    assert main(list(arguments)) == code
    return capsys.readouterr().out


def a_starter_study_is_printed_into_a_file(capsys, folder):
    assert "bend" in told(capsys, "study").split()
    text = told(capsys, "study", "bend")
    assert tomllib.loads(text)["component"]["kind"] == "bend"
    # the user thinks in inches and asks for fewer points
    text = text.replace("mean_radius_mm = 30.0", "mean_radius_in = 0.5")
    text = text.replace("# points = 201", "points = 11").replace("s_error = 1e-4", "s_error = 1e-3")
    (folder / "riser.toml").write_text(text, encoding="utf-8")


def the_guide_is_looked_up(capsys, folder):
    assert "WG16" in told(capsys, "guides", "WR-90")
    assert "TE20" in told(capsys, "modes", "0.9x0.4in")


def the_part_is_judged_and_fails_a_tight_limit(capsys, folder):
    text = told(capsys, "assess", "riser.toml", "-o", "riser")
    assert "MEETS THE LIMIT" in text
    assert "mean radius 0.5 in" in text
    assert "12.7 mm" not in text
    assert {"report.html", "result.json", "scattering.s2p"} <= {
        path.name for path in (folder / "riser").iterdir()
    }
    tight = (folder / "riser.toml").read_text(encoding="utf-8").replace("vswr = 1.1", "vswr = 1.03")
    (folder / "tight.toml").write_text(tight, encoding="utf-8")
    both = told(capsys, "assess", "riser.toml", "tight.toml", code=1)
    assert "exceeds" in both and "meets" in both


def how_gradual_it_must_be_is_found_and_is_enough(capsys, folder):
    found = json.loads(told(capsys, "gradual", "tight.toml", "--json"))
    enough = found["smallest_mm"] + found["uncertainty_mm"]
    assert 12.7 < enough < 100.0
    text = (folder / "tight.toml").read_text(encoding="utf-8")
    text = text.replace("mean_radius_in = 0.5", f"mean_radius_mm = {enough + 0.5:.3f}")
    (folder / "mended.toml").write_text(text, encoding="utf-8")
    assert "MEETS THE LIMIT" in told(capsys, "assess", "mended.toml", "--shape", "mended.step")
    assert (folder / "mended.step").read_bytes().startswith(b"ISO-10303-21")


def a_grid_and_its_files(capsys, folder):
    vary = ["--vary", "component.mean_radius_in=0.4,0.5,0.6"]
    out = told(capsys, "explore", "riser.toml", *vary, "--workers", "1", "-o", "radii")
    assert "mean radius / in" in out
    assert re.search(r"[123] of 3 combinations meet", out)
    rows = list(csv.reader(io.StringIO((folder / "radii" / "table.csv").read_text())))
    assert len(rows) == 4


def reference_values_for_a_course(capsys, folder):
    rows = list(csv.DictReader(io.StringIO(told(capsys, "reference", "riser.toml"))))
    assert len(rows) == 11
    assert all(float(row["s_error"]) <= 1e-3 for row in rows)


def the_same_in_a_notebook(capsys, folder):
    result = solver.assess("riser.toml")
    html = result._repr_html_()
    assert "Meets the limit" in html
    assert not re.search(r"\\|\bNone\b", re.sub(r"<svg.*?</svg>", "", html, flags=re.DOTALL))
    assert result.to_dataset().sizes["frequency"] == result.to_network().f.size == 11


def test_every_step_finds_what_the_one_before_left(capsys, tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    for step in (
        a_starter_study_is_printed_into_a_file,
        the_guide_is_looked_up,
        the_part_is_judged_and_fails_a_tight_limit,
        how_gradual_it_must_be_is_found_and_is_enough,
        a_grid_and_its_files,
        reference_values_for_a_course,
        the_same_in_a_notebook,
    ):
        step(capsys, tmp_path)


def test_a_guide_asked_for_in_inches_is_told_in_inches(capsys):
    """0.95 by 0.4 in; half its broad side has a cutoff of c / 2a = 6.212 GHz."""
    assert main(["guides", "0.95x0.4in"]) == 0
    text = capsys.readouterr().out
    assert "0.95 in by 0.4 in" in text and "6.212" in text and " mm" not in text
    assert main(["guides", "24.13x10.16"]) == 0
    assert "24.13 mm by 10.16 mm" in capsys.readouterr().out
