"""A measured whole run beside the computed one; the measurement is joined by scikit-rf."""

import json

import numpy as np
import pytest
import skrf

from geometries.shapes.bends import Bend
from geometries.shapes.guides import standard_guide
from solver.commands.command_line import main
from solver.judgement.assess_part import solve_part
from solver.parts.solved_part import scattering_of
from solver.studies.band import Band

C, A = 299792458.0, 22.86e-3
RUN = """
title = "two bends"
guide = "WR-90"
band = { from_ghz = 9.0, to_ghz = 10.0, points = 11 }
accuracy = { s_error = 1e-5 }
%s
[[part]]
kind = "straight"
length_mm = 300.0
[[part]]
kind = "bend"
plane = "E"
angle_deg = 90.0
mean_radius_mm = 14.0
[[part]]
kind = "straight"
length_mm = 500.0
[[part]]
kind = "bend"
plane = "E"
angle_deg = 60.0
mean_radius_mm = 12.0
"""


@pytest.fixture(scope="module")
def pieces():
    """Networks of the two bends, and what gives one of straight guide; 201 points."""
    f = np.linspace(9e9, 10e9, 201)
    frequency = skrf.Frequency.from_f(f, unit="hz")
    beta = 2 * np.pi / C * np.sqrt(f**2 - (C / 2 / A) ** 2)

    def line(length):
        s = np.zeros((201, 2, 2), dtype=complex)
        s[:, 0, 1] = s[:, 1, 0] = np.exp(-1j * beta * length)
        return skrf.Network(frequency=frequency, s=s, z0=50)

    bends = []
    for angle, radius in ((90, 14e-3), (60, 12e-3)):
        bend = Bend(standard_guide("WR-90"), "E", np.radians(angle), radius)
        solved, _ = solve_part(bend, Band(9e9, 10e9, 11), s_error=1e-6)
        s = scattering_of(solved, solved.answers(f), np.zeros(201, dtype=int), None).s
        bends.append(skrf.Network(frequency=frequency, s=s, z0=50))
    return line, bends


def _dented(line, share):
    """A lossless obstacle without length that reflects a share of the wave."""
    piece = line(0.0)
    piece.s[:, 0, 0] = piece.s[:, 1, 1] = 1j * share
    piece.s[:, 0, 1] = piece.s[:, 1, 0] = np.sqrt(1 - share**2)
    return piece


def _judged(tmp_path, capsys, network, *options, end=""):
    rng = np.random.default_rng(29173)
    noise = rng.normal(size=network.s.shape) + 1j * rng.normal(size=network.s.shape)
    network.s = network.s + 1e-4 * noise
    network.write_touchstone("run", dir=str(tmp_path))
    (tmp_path / "run.toml").write_text(RUN % end, encoding="utf-8")
    file = tmp_path / f"run.s{network.nports}p"
    code = main(["run", str(tmp_path / "run.toml"), "--measured", str(file), "--json", *options])
    told = capsys.readouterr()
    return code, json.loads(told.out)["measurement"] if told.out else told.err


@pytest.mark.slow
def test_the_run_that_was_measured_is_consistent_and_its_planes_are_found(tmp_path, capsys, pieces):
    line, (first, second) = pieces
    whole = line(0.3012) ** first ** line(0.5) ** second ** line(0.0007)
    folder = tmp_path / "out"
    _, told = _judged(tmp_path, capsys, whole, "-o", str(folder))
    assert told["consistent"] == "yes"
    assert np.abs(np.array(told["shift_mm"]) - [1.2, 0.7]).max() < 0.1
    # two bends tell no length of what lies between them but by their sum
    assert told["shift_sum_mm"] == pytest.approx(1.9, abs=told["shift_sum_uncertainty_mm"])
    assert (folder / "measurement.html").is_file()
    written = json.loads((folder / "result.json").read_text(encoding="ascii"))
    assert written["measurement"]["consistent"] == "yes"


def test_a_dent_in_the_run_is_seen_and_placed(tmp_path, capsys, pieces):
    line, (first, second) = pieces
    dent = _dented(line, 0.02)
    whole = line(0.18) ** dent ** line(0.12) ** first ** line(0.5) ** second
    _, told = _judged(tmp_path, capsys, whole)
    assert told["consistent"] == "no"
    found = next(c for c in told["difference_points_to"] if c["cause"] == "reflection")
    axis = 300 + np.pi / 2 * 14 + 500 + np.pi / 3 * 12
    place = found["at_mm"] if found["from_port"] == 1 else axis - found["at_mm"]
    assert found["at_uncertainty_mm"] < 20
    assert place == pytest.approx(180.0, abs=found["at_uncertainty_mm"])
    assert found["value_abs"] == pytest.approx(0.02, rel=0.1)


def test_one_port_of_a_run_with_an_end_needs_to_be_told_what_it_ended_in(tmp_path, capsys, pieces):
    line, (first, second) = pieces
    seen = (line(0.3) ** first ** line(0.5) ** second).s11
    end = "end = { vswr = 1.2 }"
    code, told = _judged(tmp_path, capsys, seen, end=end)
    assert code == 2 and "say by --end" in told and told.count("\n") == 1
    _, told = _judged(tmp_path, capsys, seen, "--end", "matched", end=end)
    assert told["consistent"] == "yes"
