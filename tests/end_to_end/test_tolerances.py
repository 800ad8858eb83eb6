"""Tolerances of a bend, against its exact solution by modes."""

import json

import numpy as np
import pytest
from click.testing import CliRunner

from solver.commands.command_line import commands, main
from solver.commands.gradual_command import _with_tolerance
from tests.references.curved_guide_modes import bend_scattering

STUDY = """
guide = "WR-90"
[component]
kind = "bend"
plane = "E"
angle_deg = 90.0
mean_radius_mm = 15.0
[band]
from_ghz = 8.2
to_ghz = 12.4
points = 21
[limit]
vswr = 1.07
[tolerance]
mean_radius_mm = {radius}
angle_deg = {angle}
"""


def _exact(radius_mm, angle_deg, frequency):
    return np.array(
        [
            bend_scattering("E", 10.16e-3, 22.86e-3, radius_mm / 1e3, np.radians(angle_deg), f, 50)[
                0
            ]
            for f in frequency
        ]
    )


@pytest.fixture(scope="module")
def told(tmp_path_factory):
    path = tmp_path_factory.mktemp("tolerances") / "study.toml"
    path.write_text(STUDY.format(radius=0.4, angle=1.0), encoding="utf-8")
    out = path.parent / "out"
    done = CliRunner().invoke(commands, ["assess", str(path), "--json", "-o", str(out)])
    page = (out / "tolerances.html").read_text()
    assert "<svg" in page and "mean_radius_mm" in page
    told = json.loads(done.stdout)
    assert json.loads((out / "result.json").read_text())["tolerances"] == told["tolerances"]
    return told


def test_derivatives_are_those_of_the_exact_bend(told):
    band = np.linspace(8.2e9, 12.4e9, 15)
    for row, step in zip(told["sensitivities"], ((1e-3, 0.0), (0.0, 1e-3)), strict=True):
        frequency = np.append(band, row["at_hz"])
        ahead = np.abs(_exact(15 + step[0], 90 + step[1], frequency))
        behind = np.abs(_exact(15 - step[0], 90 - step[1], frequency))
        slope = np.abs(ahead - behind) / 2e-3
        assert abs(slope[-1] - row["per_unit"]) <= row["per_unit_error"] + 1e-6
        assert slope.max() <= row["per_unit"] + row["per_unit_error"]
        assert row["per_unit_error"] < 0.05 * row["per_unit"]


@pytest.mark.slow
def test_no_part_within_the_box_is_worse(told):
    frequency = np.linspace(8.2e9, 12.4e9, 22)
    worst = max(
        np.abs(_exact(15 + x, 90 + y, frequency)).max()
        for x in (-0.4, 0.0, 0.4)
        for y in (-1.0, 0.0, 1.0)
    )
    box = told["tolerances"]
    assert worst <= told["with_tolerances"]
    assert abs(worst - box["worst_s11"]) <= box["worst_s11_error"]
    assert told["with_tolerances"] == pytest.approx(box["worst_s11"] + box["worst_s11_error"])
    assert box["worst_s11_error"] < 0.2 * box["worst_s11"]
    assert 0 <= box["yield_least"] <= box["yield"] <= box["yield_most"] <= 1


def test_allowed_change_reaches_the_limit_to_first_order(told):
    radius = told["sensitivities"][0]
    # the VSWR of 1.07 is |S11| = 0.07/2.07
    room = 0.07 / 2.07 - np.abs(_exact(15.0, 90.0, np.linspace(8.2e9, 12.4e9, 22))).max()
    assert radius["allowed"] >= room / radius["of_s11_per_unit"]


def test_gradual_adds_the_tolerance_of_the_radius():
    # and what the search may be off by itself
    assert _with_tolerance(0.0301, 2e-5, 0.5)["smallest_with_tolerance_mm"] == 30.62
    assert _with_tolerance(None, None, 0.5)["smallest_with_tolerance_mm"] is None
    assert _with_tolerance(0.03, 1e-5, None) == {}


@pytest.mark.slow
def test_gradual_takes_the_tolerance_of_its_study(tmp_path, capsys):
    """The least part within the tolerance still meets the limit, by the exact bend."""
    path = tmp_path / "bend.toml"
    path.write_text(
        """
guide = "WR-90"
component = { kind = "bend", plane = "E", angle_deg = 90.0, mean_radius_mm = 15.0 }
band = { from_ghz = 8.2, to_ghz = 12.4, points = 22 }
limit = { vswr = 1.05 }
tolerance = { angle_deg = 1.0, mean_radius_mm = 0.3 }
""",
        encoding="utf-8",
    )
    assert main(["gradual", str(path), "--json"]) == 0
    told = json.loads(capsys.readouterr().out)
    assert told["tolerance_mm"] == pytest.approx(0.3)
    drawn = told["smallest_with_tolerance_mm"]
    assert drawn == pytest.approx(told["smallest_mm"] + told["uncertainty_mm"] + 0.3, abs=1e-9)
    least = np.abs(_exact(drawn - 0.3, 90.0, np.linspace(8.2e9, 12.4e9, 43))).max()
    assert least <= 0.05 / 2.05
