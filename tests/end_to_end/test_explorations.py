"""Grids that are computed, broken off and continued."""

import csv
import json
import re
import signal
import subprocess
import sys
import time
from pathlib import Path

import pytest

from solver.commands.command_line import main

ROOT = Path(__file__).parents[2]
STUDY = """
title = "riser"
guide = "WR-90"
component = { kind = "bend", plane = "E", angle_deg = 90.0, mean_radius_mm = 45.0 }
band = { from_ghz = 8.2, to_ghz = 12.4, points = 9 }
limit = { vswr = 1.05 }
"""
RADII = "component.mean_radius_mm=4,10,13,16,19,22,25,28"


@pytest.fixture
def study(tmp_path):
    path = tmp_path / "riser.toml"
    path.write_text(STUDY, encoding="utf-8")
    return str(path)


def points_in(folder):
    path = folder / "points.jsonl"
    return path.read_bytes().count(b"\n") if path.is_file() else 0


def undated(page):
    """A page without its date and the command that made it."""
    page, _, record = page.partition("How this report came about")
    assert "guideproof explore" in record
    return re.sub(r"\d{4}-\d\d-\d\d \d\d:\d\d", "", page)


@pytest.mark.slow
@pytest.mark.parametrize("workers", ["1", "2"])
@pytest.mark.parametrize("stop", ["SIGINT", "SIGKILL"])
@pytest.mark.skipif(sys.platform == "win32", reason="no such signals for other processes")
def test_a_broken_run_goes_on_without_loss(study, tmp_path, workers, stop, capsys):
    folder, whole = tmp_path / "out", tmp_path / "whole"
    command = ["explore", study, "--vary", RADII, "--workers", workers]
    run = subprocess.Popen(
        [sys.executable, "-m", "solver", *command, "-o", str(folder)],
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
        cwd=ROOT,
    )
    partial = tmp_path / "out.partial"
    deadline = time.monotonic() + 120
    while points_in(partial) < 2:
        assert run.poll() is None
        assert time.monotonic() < deadline
        time.sleep(0.02)
    run.send_signal(getattr(signal, stop))
    out, err = run.communicate(timeout=60)
    assert out == ""
    assert not (folder / "result.json").exists()
    if stop == "SIGINT":
        assert run.returncode == 130
        assert "finished points kept in" in err.splitlines()[-1]
    kept = (partial / "points.jsonl").read_bytes()
    assert 2 <= kept.count(b"\n") < 8

    assert main([*command, "-o", str(folder)]) == 0
    assert not partial.exists()
    # what was done before the break was taken, not computed again
    assert set(kept.splitlines()) <= set((folder / "points.jsonl").read_bytes().splitlines())
    assert main([*command[:-1], "1", "-o", str(whole)]) == 0
    names = {path.name for path in whole.iterdir()}
    assert {"result.json", "table.csv", "report.html", "points.jsonl"} < names
    for name in names - {"report.html"}:
        assert (folder / name).read_bytes() == (whole / name).read_bytes(), name
    resumed, at_once = (undated((out / "report.html").read_text()) for out in (folder, whole))
    assert resumed == at_once
    assert "written: " in capsys.readouterr().out


@pytest.mark.slow
def test_the_answer_as_json_and_as_a_table(study, tmp_path, capsys):
    folder = tmp_path / "out"
    command = ["explore", study, "--vary", "component.mean_radius_mm=4,10,13,16", "--at-ghz", "12"]
    assert main([*command, "--json", "-o", str(folder), "--workers", "1"]) == 0
    result = json.loads(capsys.readouterr().out)
    assert result == json.loads((folder / "result.json").read_text())
    outcomes = [point["outcome"] for point in result["points"]]
    assert outcomes == ["refused", "exceeds", "exceeds", "meets"]
    # half the height of WR-90, 10.16 mm by EIA RS-261-B, is the least radius of an E-plane bend
    assert "5.08 mm" in result["points"][0]["reasons"][0]
    rows = list(csv.DictReader((folder / "table.csv").read_text().splitlines()))
    assert [row["outcome"] for row in rows] == outcomes
    partly = result["points"][2]["holds"]["with_bar_against"]
    # between the two frequencies of the edge the limit is passed
    level, worst = 0.05 / 2.05, [
        abs(complex(re, im))
        for re, im in zip(
            result["points"][2]["s11_re"], result["points"][2]["s11_im"], strict=True
        )
    ]  # fmt: skip
    after = next(i for i, f in enumerate(result["frequency_hz"]) if f > partly["low_hz"])
    assert worst[after - 1] > level > worst[after]
    # the band is followed between its nine points, 0.525 GHz apart
    assert 0 < partly["low_within_hz"] < 0.1e9
    assert partly["high_at_least"] is True


@pytest.mark.parametrize(
    ("options", "word"),
    [
        (["--vary", "component.gap_mm=1,2"], "known here: component.angle_deg"),
        (["--vary", "component.plane=1,2"], "holds a number"),
        (["--vary", "guide.width_mm=20,21"], "write it as a table"),
        (["--vary", "component.mean_radius_mm"], "FROM:TO:COUNT"),
        (["--vary", "component.mean_radius_mm=1,2"], "all are refused"),
        (["--vary", "component.mean_radius_mm=20,30", "--at-ghz", "5"], "8.2 to 12.4 GHz"),
        ([], "--vary"),
    ],
)
def test_bad_input_gives_one_line_and_exit_2(study, options, word, capsys):
    assert main(["explore", study, *options]) == 2
    out, err = capsys.readouterr()
    assert out == ""
    assert len(err.splitlines()) == 1
    assert word in err


@pytest.mark.slow
def test_a_search_prints_what_it_found(study, tmp_path, capsys):
    command = ["seek", study, "--vary", "component.mean_radius_mm=14:17", "--least", "reflection"]
    command += ["--at-ghz", "10", "--workers", "2"]
    assert main([*command, "-o", str(tmp_path / "out"), "--json"]) == 0
    found = json.loads(capsys.readouterr().out)
    assert found["least"] == "reflection"
    assert found["lowest"] <= found["amplitude"] <= found["highest"]
    assert found == json.loads((tmp_path / "out" / "result.json").read_text())
    assert main([*command, "-o", str(tmp_path / "out")]) == 0
    assert "Least reflection (at 10 GHz)" in capsys.readouterr().out


@pytest.mark.parametrize(
    ("options", "word"),
    [
        (["--vary", "component.mean_radius_mm=14:17"], "--least"),
        (["--vary", "component.mean_radius_mm=14:17:3", "--least", "reflection"], "FROM:TO"),
        (["--vary", "component.mean_radius_mm=1:2", "--least", "reflection"], "all are refused"),
        (["--vary", "component.gap_mm=1:2", "--least", "leakage"], "known here"),
    ],
)
def test_a_search_that_cannot_be_gives_one_line_and_exit_2(study, options, word, capsys):
    assert main(["seek", study, *options]) == 2
    out, err = capsys.readouterr()
    assert out == ""
    assert len(err.splitlines()) == 1
    assert word in err
