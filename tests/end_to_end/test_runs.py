"""A whole run as people and other programs meet it."""

import json
import re
from pathlib import Path

import numpy as np
import pytest

from solver.commands.command_line import main
from solver.runs import part_task
from solver.runs import solve_parts as solving

ROOT = Path(__file__).parents[2]
RUN = """
title = "riser to the antenna"
guide = "WR-90"
band = {{ from_ghz = 8.6, to_ghz = 9.6, points = 11 }}
limit = {{ vswr = {limit} }}
end = {{ vswr = 1.1 }}
[[part]]
kind = "straight"
length_mm = 840.0
[[part]]
name = "lower bend"
kind = "bend"
plane = "E"
angle_deg = 90.0
mean_radius_mm = {radius}
[[part]]
name = "riser"
kind = "straight"
length_mm = 2300.0
[[part]]
kind = "bend"
plane = "E"
angle_deg = 90.0
mean_radius_mm = 40.0
turn_deg = 180.0
[[part]]
kind = "straight"
length_mm = 200.0
[[part]]
name = "mast corner"
kind = "corner"
plane = "H"
angle_deg = 90.0
cut_mm = 20.0
"""


@pytest.fixture
def counted(monkeypatch):
    """Kinds of the parts that are computed."""
    kinds = []

    def compute(task, report):
        kinds.append(task.component.kind)
        return part_task.compute_part(task, report)

    monkeypatch.setattr(solving, "_compute", compute)
    return kinds


def decibels_a_metre(frequency, a=22.86e-3, b=10.16e-3, conductivity=5.8e7):
    """TE10 in copper: D. M. Pozar, Microwave Engineering, 4th ed., 2012, eq. (3.96)."""
    k = 2 * np.pi * frequency / 299_792_458.0
    beta = np.sqrt(k**2 - (np.pi / a) ** 2)
    resistance = np.sqrt(np.pi * frequency * 4e-7 * np.pi / conductivity)
    alpha = resistance * (2 * b * np.pi**2 + a**3 * k**2) / (a**3 * b * beta * k * 376.730)
    return 20 / np.log(10) * alpha


def written(folder, radius=40.0, limit=2.5):
    path = folder / "run.toml"
    path.write_text(RUN.format(radius=radius, limit=limit))
    return str(path)


def test_json_holds_the_run_and_its_parts(tmp_path, capsys, counted):
    assert main(["run", written(tmp_path), "--json"]) == 0
    result = json.loads(capsys.readouterr().out)
    # two equal bends are solved once
    assert sorted(counted) == ["bend", "corner"]
    assert result["schema"] == 1
    assert result["verdict"]["outcome"] == "meets"
    assert [part["kind"] for part in result["parts"]] == [
        "straight",
        "bend",
        "straight",
        "bend",
        "straight",
        "corner",
    ]
    s = np.array(result["s_re"]) + 1j * np.array(result["s_im"])
    assert s.shape == (11, 2, 2)
    assert np.allclose((np.abs(s[:, :, 0]) ** 2).sum(axis=1), 1.0, atol=1e-9)
    assert len(result["s_error"]) == 11
    assert max(result["s_error"]) < 1e-4
    names = ("worst_s11", "worst_loss_db", "breakdown_w", "name")
    assert all(set(names) <= set(part) for part in result["parts"])
    reflections = [part["worst_s11"] for part in result["parts"]]
    assert result["worst_case_s11"] >= max(result["input_s11_abs"])
    assert max(reflections) < result["likely_s11"] < result["worst_case_s11"]
    assert result["weakest_part"] == result["improve_first"] == "mast corner"


@pytest.mark.slow
def test_change_of_one_part_costs_one_solution(tmp_path, capsys, counted):
    folder = tmp_path / "result"
    assert main(["run", written(tmp_path), "-o", str(folder)]) == 0
    assert sorted(counted) == ["bend", "corner"]
    first = capsys.readouterr().out
    assert "worst case over unknown lengths" in first
    counted.clear()
    assert main(["run", written(tmp_path), "-o", str(folder), "--json"]) == 0
    assert counted == []
    again = json.loads(capsys.readouterr().out)
    kept = json.loads((folder / "result.json").read_text())
    assert kept["s_re"] == again["s_re"]
    assert main(["run", written(tmp_path, radius=44.0), "-o", str(folder)]) == 0
    assert counted == ["bend"]
    # one that is torn is computed again
    counted.clear()
    for file in (folder / "kept-parts").iterdir():
        file.write_bytes(file.read_bytes()[:3000])
    assert main(["run", written(tmp_path, radius=44.0), "-o", str(folder)]) == 0
    assert len(counted) == 3


@pytest.mark.slow
def test_report_links_to_each_part(tmp_path, capsys):
    folder = tmp_path / "result"
    assert main(["run", written(tmp_path, limit=1.05), "-o", str(folder)]) == 1
    capsys.readouterr()
    page = (folder / "report.html").read_text()
    links = re.findall(r'<a href="([^"]+)"', page)
    assert links == [
        "parts/02-lower-bend/report.html",
        "parts/04-bend/report.html",
        "parts/06-mast-corner/report.html",
    ]
    assert all((folder / link).is_file() for link in links)
    assert "https://" not in page
    assert page.count("<svg") == 2
    assert (folder / "scattering.s2p").is_file()


def test_walls_and_a_measured_part(tmp_path, capsys):
    import skrf

    frequency = np.linspace(8.4e9, 9.8e9, 71)
    s = np.zeros((71, 2, 2), dtype=complex)
    s[:, 0, 0] = s[:, 1, 1] = 0.05
    s[:, 0, 1] = s[:, 1, 0] = 0.99j
    skrf.Network(f=frequency, f_unit="Hz", s=s, z0=50.0).write_touchstone(
        "window", dir=str(tmp_path)
    )
    path = tmp_path / "run.toml"
    path.write_text(
        'guide = "WR-90"\nband = { from_ghz = 8.6, to_ghz = 9.6, points = 3 }\n'
        "walls = { conductivity_s_per_m = 5.8e7 }\n"
        '[[part]]\nkind = "straight"\nlength_mm = 5000.0\n'
        '[[part]]\nname = "window"\nfile = "window.s2p"\n'
    )
    assert main(["run", str(path), "--json"]) == 0
    result = json.loads(capsys.readouterr().out)
    # the textbook's attenuation, and the window's own 0.087 dB
    loss = 5 * decibels_a_metre(8.6e9) - 20 * np.log10(0.99)
    assert result["worst_loss_db"] == pytest.approx(loss, rel=2e-3)
    assert result["parts"][1]["worst_s11"] == pytest.approx(0.05)
    assert result["parts"][1]["breakdown_w"] is None


@pytest.mark.parametrize(
    ("before", "after", "told"),
    [
        ('kind = "corner"', 'kind = "korner"', "must be one of"),
        ("turn_deg = 180.0", "turn_deg = 90.0", "turned by 0 or 180 degrees"),
        ("vswr = 1.1", "vswr = 0.5", "at least 1"),
        ('kind = "corner"', 'file = "none.s2p"', "unknown key"),
    ],
)
def test_broken_runs_end_in_one_line(before, after, told, tmp_path, capsys):
    path = tmp_path / "run.toml"
    path.write_text(RUN.format(radius=40.0, limit=2.0).replace(before, after))
    assert main(["run", str(path)]) == 2
    out, err = capsys.readouterr()
    assert out == ""
    assert told in err
    assert err.count("\n") == 1


@pytest.mark.slow
@pytest.mark.parametrize(
    ("name", "code", "weakest", "kinds"),
    [
        ("bench_run", 1, "flexible piece", {"offset", "dent", "flexible", "load"}),
        ("antenna_run", 0, "choke joint", {"choke-flange", "transition", "rotating-joint", "horn"}),
    ],
)
def test_runs_that_end_in_a_part_with_one_port(name, code, weakest, kinds, capsys):
    study = Path("geometries/studies/runs") / f"{name}.toml"
    assert main(["run", str(ROOT / study), "--json"]) == code
    result = json.loads(capsys.readouterr().out)
    assert {part["kind"] for part in result["parts"]} == kinds | {"straight"}
    assert result["weakest_part"] == weakest
    assert 0 < max(result["s_error"]) <= result["s_error_wanted"]
    s11 = np.array(result["s_re"])[:, 0, 0] + 1j * np.array(result["s_im"])[:, 0, 0]
    gone = 1 - np.abs(s11) ** 2
    leaked, heat = np.array(result["leaked_power"]), np.array(result["dissipated_power"])
    if "horn" in kinds:
        # what the choke and the joint leave over goes out of the horn
        assert heat.max() == 0
        assert 0 < leaked.max() < 1e-3
        assert np.array(result["radiated_power"]) == pytest.approx(gone - leaked, abs=1e-6)
    else:
        assert leaked.max() == 0
        assert heat == pytest.approx(gone, abs=1e-12)
        assert "radiated_power" not in result
