"""Reference sheets: written, checked, tampered with, and what a broken one is told."""

import csv
import json
from pathlib import Path

import numpy as np
import pytest

from solver.commands.command_line import main
from solver.sheets.sheet_keys import sheet_of
from solver.studies.study import read_tables
from tests.references.curved_guide_modes import bend_scattering

SHIPPED = sorted((Path(__file__).parents[2] / "geometries" / "studies" / "sheets").glob("*.toml"))

SHEET = """
title = "A bend and a guide"
[[case]]
name = "WR-90, E-plane bend"
values = ["vswr", "s11_abs_at at 10.0 GHz", "s21_phase_deg at 10.0 GHz"]
second_path = {second}
[case.study]
guide = "WR-90"
[case.study.component]
kind = "bend"
plane = "E"
angle_deg = 60.0
mean_radius_mm = 15.0
[case.study.band]
from_ghz = 9.0
to_ghz = 11.0
points = 11
[[case]]
name = "WR-90"
guide = "WR-90"
values = ["cutoff_ghz", "guide_wavelength_mm at 10.0 GHz"]
second_path = false
printed = [{{value = "cutoff_ghz", text = "6.557", source = "made up for this test"}}]
"""


@pytest.fixture(scope="module")
def folder(tmp_path_factory):
    path = tmp_path_factory.mktemp("sheets") / "sheet.toml"
    path.write_text(SHEET.format(second="true"), encoding="utf-8")
    assert main(["reference", str(path), "-o", str(path.parent / "out")]) == 0
    return path.parent / "out"


def test_values_are_those_of_the_exact_bend(folder):
    written = json.loads((folder / "sheet.json").read_text())
    values = {v["wanted"]: v for v in written["values"]}
    s11, s21 = bend_scattering("E", 10.16e-3, 22.86e-3, 15e-3, np.radians(60.0), 10e9)
    size = values["s11_abs_at at 10.0 GHz"]
    assert abs(size["value"] - abs(s11)) <= size["uncertainty"]
    phase = values["s21_phase_deg at 10.0 GHz"]
    assert abs(phase["value"] - np.degrees(np.angle(s21))) <= phase["uncertainty"]
    assert size["second_path"]["within_uncertainties"]
    assert size["second_path"]["way"] == "solved in space, with edge elements"
    # lg of WR-90 at 10 GHz by lambda / sqrt(1 - (fc/f)^2), fc = c/2a
    assert values["guide_wavelength_mm at 10.0 GHz"]["text"] == "39.70712"


def test_files_hold_the_same_values(folder):
    written = json.loads((folder / "sheet.json").read_text())["values"]
    rows = list(csv.DictReader((folder / "sheet.csv").read_text().splitlines()))
    assert [row["value"] for row in rows] == [value["text"] for value in written]
    assert rows[3]["printed"] == "6.557" and rows[3]["source"].startswith("made up")
    latex, page = ((folder / name).read_text() for name in ("sheet.tex", "sheet.html"))
    for value in written:
        assert value["text"] in latex and value["text"] in page
    assert latex.count(r"\\") == 6 and "<svg" in page


def test_check_finds_what_moved(folder, capsys):
    assert main(["reference", "--check", str(folder)]) == 0
    assert "5 of 5 values hold" in capsys.readouterr().out
    path = folder / "sheet.json"
    written = path.read_text()
    tampered = json.loads(written)
    value = tampered["values"][0]
    value["value"] += 3 * value["uncertainty"]
    try:
        path.write_text(json.dumps(tampered))
        assert main(["reference", "--check", str(folder)]) == 1
        told = capsys.readouterr().out
        assert "4 of 5 values hold" in told and "vswr was" in told
    finally:
        path.write_text(written)


@pytest.mark.parametrize(
    ("old", "new", "told"),
    [
        ('"vswr"', '"vsvr"', "did you mean vswr"),
        ('"vswr"', '"vswr at 10.0 GHz"', "takes no frequency"),
        ("s11_abs_at at 10.0 GHz", "s11_abs_at", "needs a frequency"),
        ("s11_abs_at at 10.0 GHz", "s11_abs_at at 12.0 GHz", "within the study's band"),
        ('"cutoff_ghz", "guide', '"vswr", "guide', "needs a study"),
        ('value = "cutoff_ghz"', 'value = "other"', "must be one of the values"),
        ('guide = "WR-90"\nvalues', "values", "give either a study or a guide"),
        ("mean_radius_mm = 15.0", "mean_radius_mm = 1.0", "mean_radius_mm"),
        ("second_path", "second", "unknown key"),
    ],
)
def test_broken_sheet_is_one_line(tmp_path, capsys, old, new, told):
    path = tmp_path / "sheet.toml"
    path.write_text(SHEET.format(second="true").replace(old, new, 1), encoding="utf-8")
    assert main(["reference", str(path)]) == 2
    output = capsys.readouterr()
    assert output.out == "" and output.err.count("\n") == 1 and told in output.err


def test_folder_without_a_sheet(tmp_path, capsys):
    def told(path):
        assert main(["reference", "--check", str(path)]) == 2
        (line,) = capsys.readouterr().err.splitlines()
        return line

    assert f"{tmp_path}: this folder holds no reference sheet" in told(tmp_path)
    assert "there is no such folder" in told(tmp_path / "none")
    (tmp_path / "sheet.json").write_text("{}")
    assert "not a reference sheet" in told(tmp_path)
    assert f"name its folder, {tmp_path}" in told(tmp_path / "sheet.json")
    (tmp_path / "riser.toml").write_text("")
    assert "is a file, not the folder of a sheet" in told(tmp_path / "riser.toml")


@pytest.mark.parametrize("path", SHIPPED, ids=lambda path: path.stem)
def test_shipped_sheet_can_be_read(path):
    request = sheet_of(read_tables(path), path)
    assert len(request.cases) >= 2 and all(case.wanted for case in request.cases)


@pytest.mark.slow
def test_shipped_cutoffs_agree_with_what_charts_print(tmp_path):
    path = next(p for p in SHIPPED if p.stem == "cutoffs")
    assert main(["reference", str(path), "-o", str(tmp_path)]) == 0
    for value in json.loads((tmp_path / "sheet.json").read_text())["values"]:
        if "printed" in value:
            text = value["printed"]["text"].removesuffix(" GHz")
            digits = len(text.partition(".")[2])
            assert abs(value["value"] - float(text)) <= 0.5 * 10.0**-digits + 1e-12
        if "second_path" in value:
            assert value["second_path"]["within_uncertainties"]
