"""Measured beside computed parts: random synthetic ones, and files that scikit-rf ships."""

import json
from pathlib import Path

import numpy as np
import pytest
import skrf
from click.testing import CliRunner

from geometries.shapes.bends import Bend
from geometries.shapes.guides import standard_guide
from solver.commands.command_line import commands, main
from solver.judgement.assess_part import solve_part
from solver.measured.comparison import compare
from solver.measured.touchstone_file import Measurement
from solver.parts.solved_part import scattering_of
from solver.studies.band import Band

C = 299792458.0
DATA = Path(skrf.__file__).parent / "data"


def _bend(plane, radius, frequency):
    bend = Bend(standard_guide("WR-90"), plane, np.radians(70.0), radius)
    solved, _ = solve_part(bend, Band(8.2e9, 12.4e9, 21), s_error=1e-5)
    group = np.zeros(len(frequency), dtype=int)
    return scattering_of(solved, solved.answers(frequency), group, None)


@pytest.fixture(scope="module")
def bends():
    """Two bends over 201 points, and for each some of slightly other radius."""
    frequency = np.linspace(8.2e9, 12.4e9, 201)
    return [
        [_bend(plane, radius * scale, frequency) for scale in (1.0, 1.002, 0.98, 1.05, 0.9)]
        for plane, radius in (("E", 20e-3), ("H", 24e-3))
    ]


def _moved(s, beta, shift):
    turn = np.exp(-1j * beta[:, None] * shift)
    return turn[:, :, None] * s * turn[:, None, :]


def _unabsorbed(s, other, beta):
    """Largest difference that no shift of the two planes takes away, by a search of its own."""
    from scipy.optimize import minimize

    def left(x):
        return (np.abs(_moved(s, beta, x * 1e-3) - other) ** 2).sum()

    best = minimize(left, [0.0, 0.0], method="Nelder-Mead", options={"xatol": 1e-6, "fatol": 1e-14})
    return np.abs(_moved(s, beta, best.x * 1e-3) - other).max()


@pytest.mark.slow
def test_synthetic_measurements_are_judged_right(bends):
    """Shifted planes and noise alone are consistent; what exceeds ten sigma never is."""
    rng = np.random.default_rng(48611)
    right, counted, missed = 0, 0, 0
    for case in range(100):
        family = bends[rng.integers(2)]
        computed = family[0]
        frequency = computed.frequency
        beta = 2 * np.pi / C * np.sqrt(frequency**2 - (C / 2 / 22.86e-3) ** 2)
        sigma = 10 ** rng.uniform(-4, -2.3)
        s, put_in = computed.s.copy(), 0.0
        kind = case % 5
        if kind == 1:
            s = family[rng.integers(1, 5)].s
            put_in = _unabsorbed(computed.s, s, beta)
        elif kind == 2:
            put_in = 10 * np.sqrt(2) * sigma
            s[:, 0, 0] += put_in * np.exp(-2j * beta * rng.uniform(0.1, 0.6))
        elif kind == 3:
            put_in = 10 * np.sqrt(2) * sigma
            s[rng.integers(201), rng.integers(2), rng.integers(2)] += put_in
        elif kind == 4:
            factor = 1 - 10 * np.sqrt(2) * sigma
            put_in = 10 * np.sqrt(2) * sigma
            s = s * np.array([[1, factor], [factor, 1]])
        s = _moved(s, beta, rng.normal(0, 3e-3, 2))
        s = s + sigma * (rng.normal(size=s.shape) + 1j * rng.normal(size=s.shape))
        s = s[:, ::-1, ::-1] if rng.random() < 0.5 else s
        found = compare(computed, Measurement(Path("x.s2p"), frequency, s), axis_length=0.03)
        # between two and ten sigma either answer may be right
        if put_in < 2 * sigma or put_in > 10 * sigma:
            counted += 1
            right += found.consistent == ("yes" if put_in < 2 * sigma else "no")
        missed += put_in >= 10 * sigma and found.consistent == "yes"
    assert missed == 0
    assert counted > 85 and right >= 0.95 * counted


def _assess(tmp_path, study, *options):
    path = tmp_path / "study.toml"
    path.write_text(study, encoding="utf-8")
    done = CliRunner().invoke(commands, ["assess", str(path), "--json", *options])
    assert done.exception is None or isinstance(done.exception, SystemExit), done.output
    return json.loads(done.stdout)["measurement"]


LINE = """
guide = {guide}
[component]
kind = "straight"
length_mm = 1.0
[band]
from_ghz = {start}
to_ghz = {stop}
points = 21
[walls]
conductivity_s_per_m = 4.1e7
"""
MILS = {"wr2p2": ("{width_mm = 0.5588, height_mm = 0.2794}", 330, 500, '"WM-570"'),
        "wr1p5": ("{width_mm = 0.381, height_mm = 0.1905}", 500, 750, '"WR-1.5"')}  # fmt: skip


@pytest.mark.parametrize(
    ("name", "points", "options"),
    [
        ("wr2p2,line.s2p", 201, ()),
        pytest.param("wr2p2,line1.s2p", 101, (), marks=pytest.mark.slow),
        pytest.param("wr1p5,line.s2p", 201, (), marks=pytest.mark.slow),
        ("wr2p2,delayshort.s1p", 201, ("--end", "short")),
    ],
)
def test_submillimetre_lines_of_scikit_rf(tmp_path, name, points, options):
    """Lines and a delayed short of 1 mm, stored without any loss and for guides of whole mils."""
    guide, start, stop, ieee = MILS[name.partition(",")[0]]
    study = LINE.format(guide=guide, start=start, stop=stop)
    file = str(DATA / name)
    told = _assess(tmp_path, study, "--measured", file, *options)
    assert told["points"] == points
    assert abs(told["shift_sum_mm"]) < 1e-3
    # the walls of the study lose what the file does not
    assert told["consistent"] == "no"
    loss = next(c for c in told["difference_points_to"] if c["cause"] == "loss")
    assert -0.07 < loss["value_db"] < -0.02
    # an analyser at these frequencies is known to some hundredths
    fits = _assess(tmp_path, study, "--measured", file, "--uncertainty", "0.02", *options)
    assert fits["consistent"] == "yes"
    # the IEEE size is 2 % wider than 22 mil (WR-2.2), 0.3 % narrower than 15 mil (WR-1.5)
    lossless = LINE.format(guide=ieee, start=start, stop=stop).partition("[walls]")[0]
    told = _assess(tmp_path, lossless, "--measured", file, *options)
    assert told["consistent"] == "no"


def test_lossless_line_of_whole_mils_is_consistent(tmp_path):
    guide, start, stop, _ = MILS["wr1p5"]
    study = LINE.format(guide=guide, start=start, stop=stop).partition("[walls]")[0]
    told = _assess(tmp_path, study, "--measured", str(DATA / "wr1p5,line.s2p"))
    assert told["consistent"] == "yes"
    assert told["largest_difference"] < 1e-4


def test_other_band_and_broken_file_are_one_line(tmp_path, capsys):
    path = tmp_path / "study.toml"
    path.write_text(LINE.format(guide='"WR-90"', start=8.2, stop=12.4), encoding="utf-8")
    broken = tmp_path / "broken.s2p"
    broken.write_text("# GHz S RI R 50\n9 0 0 1 0 1 0 x 0\n", encoding="utf-8")
    for file, told in ((DATA / "line.s2p", "none of it within"), (broken, "line 2")):
        assert main(["assess", str(path), "--measured", str(file)]) == 2
        output = capsys.readouterr()
        assert output.out == "" and output.err.count("\n") == 1 and told in output.err
