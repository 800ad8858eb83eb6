"""Rotating joints and choke flanges from a study file to JSON, exit code and report."""

import json
from pathlib import Path

import numpy as np
import pytest

from solver.commands.command_line import main

STUDIES = Path(__file__).parents[2] / "geometries" / "studies"
JOINT = (STUDIES / "feed_rotating_joint.toml").read_text(encoding="utf-8")
FLANGE = (STUDIES / "pedestal_choke.toml").read_text(encoding="utf-8")


def run(tmp_path, capsys, text, *options, verb="assess"):
    path = tmp_path / "study.toml"
    path.write_text(text, encoding="utf-8")
    code = main([verb, str(path), *options])
    return code, capsys.readouterr()


@pytest.mark.slow
def test_rotating_joint(tmp_path, capsys):
    text = JOINT.replace("points = 201", "points = 9")
    code, captured = run(tmp_path, capsys, text, "--json", "-o", str(tmp_path / "out"))
    answer = json.loads(captured.out)
    assert answer["port_modes"] == [{"port": port, "mode": "TM01"} for port in (1, 2)]
    s = np.array(answer["s_re"]) + 1j * np.array(answer["s_im"])
    leaked = np.array(answer["leaked_power"])
    assert np.abs((np.abs(s[:, :, 0]) ** 2).sum(axis=1) + leaked - 1).max() < 1e-9
    assert max(answer["s_error"]) <= 1e-4
    assert len(answer["leaked_error"]) == 9
    assert answer["component"]["kind"] == "rotating-joint"
    assert answer["component"]["mode"] == "TM01"
    assert (code, answer["verdict"]["outcome"]) in ((0, "meets"), (1, "exceeds"))
    page = (tmp_path / "out" / "report.html").read_text(encoding="utf-8")
    assert "power past the rim" in page
    assert "matched radial line" in page


@pytest.mark.slow
def test_choke_flange_with_and_without_groove(tmp_path, capsys):
    text = FLANGE.replace("points = 201", "points = 3")
    plain = "\n".join(line for line in text.splitlines() if "groove" not in line)
    depth = text.replace("groove_depth_mm = 8.2", "groove_depth_mm = 0.0")
    leaks = []
    for study in (text, plain, depth):
        _, captured = run(tmp_path, capsys, study, "--json")
        answer = json.loads(captured.out)
        assert answer["port_modes"] == [{"port": port, "mode": "TE10"} for port in (1, 2)]
        assert max(answer["s_error"]) <= 1e-3
        leaks.append(answer["leaked_power"])
    assert leaks[1] == leaks[2]
    # what a choke is for
    assert np.median(leaks[0]) < 0.01 * np.median(leaks[1])


@pytest.mark.slow
def test_a_trapped_resonance_is_named(tmp_path, capsys):
    text = JOINT
    for old, new in (
        ("gap_mm = 0.8", "gap_mm = 0.2"),
        ("inner_radius_mm = 19.2", "inner_radius_mm = 28.0"),
        ("outer_radius_mm = 22.4", "outer_radius_mm = 30.0"),
        ("depth_mm = 8.6", "depth_mm = 9.0"),
        ("rim_radius_mm = 34.0", "rim_radius_mm = 40.0"),
        ("points = 201", "points = 9"),
    ):
        assert old in text
        text = text.replace(old, new)
    _, captured = run(tmp_path, capsys, text, "--json")
    answer = json.loads(captured.out)
    (found,) = answer["resonances"]
    assert 10.0e9 < found["frequency_hz"] < 10.2e9
    assert any("trapped resonance" in reason for reason in answer["verdict"]["reasons"])


@pytest.mark.parametrize(
    ("old", "new", "word"),
    [
        ("outer_radius_mm = 22.4", "outer_radius_mm = 19.0", "groove_outer_radius_mm"),
        ("groove_inner_radius_mm = 19.2", "groove_inner_radius_mm = 13.0", "opening"),
        ("rim_radius_mm = 34.0", "rim_radius_mm = 13.0", "rim_radius_mm"),
        ("rim_radius_mm = 34.0", "rim_radius_mm = 21.0", "groove_outer_radius_mm"),
        ("gap_mm = 0.8", "gap_mm = 0.0", "gap_mm"),
        ('"TM01"', '"TE01"', "'TM01' or 'TE11'"),
        ("from_ghz = 9.3", "from_ghz = 8.4", "cutoff of TM01"),
        ("{diameter_mm = 27.0}", '"WR-90"', "circular"),
        ("[accuracy]", "[walls]\nconductivity_s_per_m = 5.8e7\n[accuracy]", "wall loss"),
    ],
)
def test_broken_joints(tmp_path, capsys, old, new, word):
    assert old in JOINT
    code, captured = run(tmp_path, capsys, JOINT.replace(old, new))
    assert code == 2
    assert word in captured.err
    assert captured.out == ""
