"""The shortest bend for a limit: by the command line, against fields solved in the metal."""

import csv
import json
import math
from pathlib import Path

import numpy as np
import pytest

from geometries.shapes.guides import standard_guide
from solver.commands.command_line import main
from tests.references.bent_field import bend_field, raised_cosine_curvature

WR90 = standard_guide("WR-90")
STUDY = """
title = "under the deck"
guide = "WR-90"
component = { kind = "bend", plane = "H", angle_deg = 60.0, mean_radius_mm = 45.0 }
band = { from_ghz = 9.3, to_ghz = 9.5, points = 3 }
limit = { vswr = 1.004 }
accuracy = { s_error = 1e-4 }
"""


@pytest.fixture
def study(tmp_path):
    path = tmp_path / "deck.toml"
    path.write_text(STUDY, encoding="utf-8")
    return str(path)


def worst_by_field(length, onset):
    found = bend_field(
        "H",
        WR90.broad_width,
        WR90.broad_width,
        length,
        raised_cosine_curvature(length, math.pi / 3, onset),
        [0, onset, 1 - onset, 1] if onset < 0.5 else [0, 0.5, 1],
        np.linspace(9.3e9, 9.5e9, 3),
        cells=3,
    )
    return np.abs(found[:, 0, 0]).max()


@pytest.mark.slow
def test_the_shortest_bend_meets_the_limit_and_no_shorter_one_of_its_profile(
    study, tmp_path, capsys
):
    folder = tmp_path / "out"
    assert main(["gradual", study, "--shortest", "-o", str(folder), "--json"]) == 0
    told = json.loads(capsys.readouterr().out)
    assert told == json.loads((folder / "result.json").read_text())
    part, limit = told["shortest"]["component"], 0.004 / 2.004
    assert part["profile"] == "smooth"
    assert told["gain_mm"] > 5.0
    length, onset = told["shortest"]["length_mm"] * 1e-3, part["onset"]
    assert length == pytest.approx(part["mean_radius_mm"] * 1e-3 * math.pi / 3)
    worst = worst_by_field(length, onset)
    assert worst == pytest.approx(told["shortest"]["worst_s11"], abs=2e-6)
    assert worst < limit
    assert worst_by_field(length - 0.2e-3, onset) > limit
    assert worst_by_field(length + 3e-3, onset) < limit
    assert "<svg" in (folder / "report.html").read_text()
    rows = list(csv.DictReader((folder / "table.csv").read_text().splitlines()))
    assert [row["profile"] for row in rows] == [shape["profile"] for shape in told["tried"]]


@pytest.mark.parametrize(
    ("change", "options", "word"),
    [
        (("bend", "bend"), ["--tolerance-mm", "0.1"], "--tolerance-mm"),
        (("limit = { vswr = 1.004 }", ""), [], "no limit"),
        (("1.004", "1.0001"), [], "under twice the accuracy"),
        (("mean_radius_mm = 45.0", "mean_radius_mm = 45.0, onset = 0.3"), [], "component.onset"),
    ],
)
def test_what_cannot_be_searched_gives_one_line_and_exit_2(study, change, options, word, capsys):
    Path(study).write_text(STUDY.replace(*change), encoding="utf-8")
    assert main(["gradual", study, "--shortest", *options]) == 2
    out, err = capsys.readouterr()
    assert out == ""
    assert len(err.splitlines()) == 1
    assert word in err
