"""Runs over a grid and searched for their best, as people and other programs meet it."""

import json

import numpy as np
import pytest

from solver.commands.command_line import main
from solver.runs import part_task, run_curves
from solver.runs import solve_parts as solving

RUN = """
title = "two bends"
guide = "WR-90"
band = {{ from_ghz = 9.0, to_ghz = 9.6, points = 7 }}
limit = {{ vswr = 1.06 }}
[[part]]
name = "lower bend"
kind = "bend"
plane = "E"
angle_deg = 90.0
mean_radius_mm = 14.0
[[part]]
name = "riser"
kind = "straight"
length_mm = {length}
[[part]]
kind = "bend"
plane = "E"
angle_deg = 90.0
mean_radius_mm = {radius}
"""


@pytest.fixture
def solved(monkeypatch):
    """Mean radii of the parts that are solved."""
    radii = []

    def compute(task, report=None):
        radii.append(round(1e3 * task.component.mean_radius, 6))
        return part_task.compute_part(task, report)

    monkeypatch.setattr(run_curves, "compute_part", compute)
    monkeypatch.setattr(solving, "compute_part", compute)
    return radii


def _answer(capsys, *arguments):
    code = main([*arguments, "--json"])
    return code, json.loads(capsys.readouterr().out)


@pytest.mark.slow
def test_a_grid_of_runs_is_that_of_its_runs_and_solves_each_part_once(tmp_path, capsys, solved):
    path = tmp_path / "run.toml"
    path.write_text(RUN.format(length=120.0, radius=14.0), encoding="utf-8")
    vary = ["--vary", "part.riser.length_mm=110:130:3", "--vary", "part.3.mean_radius_mm=14,18"]
    folder = tmp_path / "found"
    code, told = _answer(capsys, "explore", str(path), *vary, "--workers", "1", "-o", str(folder))
    assert sorted(solved) == [14.0, 18.0]
    assert code == {"meets": 0, "exceeds": 1, "undecided": 3}[told["outcome"]]
    for point in told["points"]:
        length, radius = point["values"].values()
        path.write_text(RUN.format(length=length, radius=radius), encoding="utf-8")
        _, alone = _answer(capsys, "run", str(path), "--workers", "1")
        assert point["outcome"] == alone["verdict"]["outcome"]
        s11 = np.array(point["s11_re"]) + 1j * np.array(point["s11_im"])
        there = np.array(alone["s_re"])[:, 0, 0] + 1j * np.array(alone["s_im"])[:, 0, 0]
        assert np.abs(s11 - there).max() < 1e-12
        assert set(point["values"]) == {"part.2.length_mm", "part.3.mean_radius_mm"}
    assert len({point["outcome"] for point in told["points"]}) == 2
    assert (folder / "index.html").is_file() and (folder / "dataset.nc").is_file()
    path.write_text(RUN.format(length=120.0, radius=14.0), encoding="utf-8")
    seen = len(solved)
    main(["explore", str(path), *vary, "--workers", "1", "-o", str(folder)])
    assert len(solved) == seen


def test_seek_finds_the_spacing_at_which_two_bends_cancel(tmp_path, capsys):
    path = tmp_path / "run.toml"
    path.write_text(RUN.format(length=120.0, radius=14.0), encoding="utf-8")
    code, told = _answer(
        capsys, "seek", str(path), "--vary", "part.riser.length_mm=100:125", "--least",
        "reflection", "--at-ghz", "9.3", "--workers", "1",
    )  # fmt: skip
    assert code == 0
    best = told["values"]["part.2.length_mm"]
    # of equal parts that cancel nothing is left; half a guide wavelength on it is so again
    wave = 299.792458 / 9.3 / np.sqrt(1 - (299.792458 / 9.3 / (2 * 22.86)) ** 2)
    found = []
    for length in (best, best + wave / 2, best + wave / 4):
        path.write_text(RUN.format(length=length, radius=14.0), encoding="utf-8")
        _, alone = _answer(capsys, "run", str(path), "--workers", "1")
        at = int(np.argmin(np.abs(np.array(alone["frequency_hz"]) - 9.3e9)))
        found.append(np.hypot(alone["s_re"][at][0][0], alone["s_im"][at][0][0]))
    assert found[0] < 1.1e-4 and found[1] < 1.1e-4 < 0.01 < found[2]
