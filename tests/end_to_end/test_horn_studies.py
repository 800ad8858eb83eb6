"""Horns from a study file to JSON, verdict, report and refusals."""

import json

import numpy as np
import pytest

from solver.commands.command_line import main

STUDY = """
guide = {diameter_mm = 30.0}
[component]
kind = "horn"
aperture_diameter_mm = 50.0
length_mm = 30.0
mode = "TM01"
[band]
from_ghz = 9.0
to_ghz = 11.0
points = 5
[limit]
vswr = 2.0
"""
PYRAMID = STUDY.replace("guide = {diameter_mm = 30.0}", 'guide = "WR-90"').replace(
    'aperture_diameter_mm = 50.0\nlength_mm = 30.0\nmode = "TM01"',
    "aperture_width_mm = 32.0\naperture_height_mm = 22.0\nlength_mm = 20.0",
)


def run(tmp_path, capsys, text, *options):
    path = tmp_path / "study.toml"
    path.write_text(text, encoding="utf-8")
    code = main(["assess", str(path), *options])
    return code, capsys.readouterr()


@pytest.mark.slow
def test_a_horn_in_json_and_on_paper(tmp_path, capsys):
    code, captured = run(tmp_path, capsys, STUDY, "--json", "-o", str(tmp_path / "out"))
    answer = json.loads(captured.out)
    assert (code, answer["verdict"]["outcome"]) in ((0, "meets"), (1, "exceeds"))
    assert answer["port_modes"] == [{"port": 1, "mode": "TM01"}]
    s11 = np.array(answer["s_re"])[:, 0, 0] + 1j * np.array(answer["s_im"])[:, 0, 0]
    assert np.shape(answer["s_re"]) == (5, 1, 1)
    radiated = np.array(answer["radiated_power"])
    assert np.abs(radiated + np.abs(s11) ** 2 - 1).max() < 1e-9
    assert answer["leaked_power"] == [0.0] * 5
    # TM01 has no field along the axis, so no directivity there
    assert answer["directivity_db"] == [None] * 5
    assert min(answer["largest_directivity_db"]) > 3.0
    pattern = answer["pattern"]
    assert {9e9, 10e9, 11e9} <= set(pattern["at_hz"])
    shape = (len(pattern["at_hz"]), len(pattern["angle_deg"]))
    assert np.shape(pattern["e_plane_db"]) == np.shape(pattern["h_plane_db"]) == shape
    page = (tmp_path / "out" / "report.html").read_text(encoding="utf-8")
    assert "Never look into an open guide, horn" in page
    assert "Directivity in the E-plane and in the H-plane" in page
    assert "Directivity at 10 GHz" in (tmp_path / "out" / "pattern.svg").read_text("utf-8")


@pytest.mark.slow
def test_a_bare_open_end_in_json_and_on_paper(tmp_path, capsys):
    text = STUDY.replace('"TM01"', '"TM01"\nrim = "bare"').replace("= 50.0", "= 30.0")
    text = text.replace("length_mm = 30.0", "length_mm = 0.0")
    code, captured = run(tmp_path, capsys, text, "--json", "-o", str(tmp_path / "out"))
    answer = json.loads(captured.out)
    assert (code, answer["verdict"]["outcome"]) in ((0, "meets"), (1, "exceeds"))
    assert answer["component"]["rim"] == "bare"
    assert max(answer["s_error"]) <= 1e-4
    s11 = np.array(answer["s_re"])[:, 0, 0] + 1j * np.array(answer["s_im"])[:, 0, 0]
    assert np.abs(np.array(answer["radiated_power"]) + np.abs(s11) ** 2 - 1).max() < 1e-9
    (pipe,) = answer["estimates"]
    assert pipe["within_validity"] and "Weinstein" in pipe["source"]
    assert np.abs(np.abs(s11) - pipe["s11_abs"]).max() <= max(answer["s_error"])
    assert answer["pattern"]["angle_deg"][-1] == 175.0
    assert max(answer["largest_at_deg"]) <= 90.0
    svg = (tmp_path / "out" / "part.svg").read_text(encoding="utf-8")
    page = (tmp_path / "out" / "report.html").read_text(encoding="utf-8")
    assert "has no end" in svg + page and "wall about the aperture" not in svg + page


REFUSED = {
    "keys of the other guide": (
        STUDY.replace("length_mm", "aperture_width_mm = 60.0\nlength_mm"),
        "aperture_width_mm = 60.0: does not belong to a horn on a circular guide",
    ),
    "mode on a rectangular guide": (
        PYRAMID.replace("length_mm", 'mode = "TE11"\nlength_mm'),
        "does not belong to a horn on a rectangular guide",
    ),
    "no aperture": (
        STUDY.replace("aperture_diameter_mm = 50.0\n", ""),
        "aperture_diameter_mm is missing",
    ),
    "open end that is wider": (
        STUDY.replace("length_mm = 30.0", "length_mm = 0.0"),
        "where the length is 0",
    ),
    "hardly open": (STUDY.replace("50.0", "9.0"), "mm, half of the guide's own"),
    "no such mode": (STUDY.replace("TM01", "TE01"), "'TE11' or 'TM01'"),
    "no such rim": (STUDY.replace('"TM01"', '"TM01"\nrim = "flange"'), "'wall' or 'bare'"),
    "negative length": (STUDY.replace("30.0\nmode", "-1.0\nmode"), "length_mm = -1.0"),
    "leakage": (STUDY.replace("vswr = 2.0", "leakage_db = -40.0"), "radiates on purpose"),
    "walls": (STUDY + "[walls]\nconductivity_s_per_m = 5.8e7\n", "leave out the table walls"),
    "below cutoff": (STUDY.replace("from_ghz = 9.0", "from_ghz = 7.0"), "7.649"),
}


@pytest.mark.parametrize("fault", REFUSED)
def test_what_is_wrong_is_said_in_one_line(fault, tmp_path, capsys):
    text, words = REFUSED[fault]
    code, captured = run(tmp_path, capsys, text)
    assert code == 2
    assert words in captured.err.strip().splitlines()[-1]
    assert "Traceback" not in captured.err


@pytest.mark.slow
def test_a_pyramidal_horn_has_gain_along_its_axis(tmp_path, capsys):
    text = PYRAMID.replace("points = 5", "points = 3") + "[accuracy]\ns_error = 2e-2\n"
    _, captured = run(tmp_path, capsys, text, "--json")
    answer = json.loads(captured.out)
    assert answer["port_modes"] == [{"port": 1, "mode": "TE10"}]
    assert max(answer["s_error"]) <= 2e-2
    # no aperture of this size has more than 4 pi A/lambda^2 by a wide margin
    most = 10 * np.log10(4 * np.pi * 32e-3 * 22e-3 / (299792458 / 10e9) ** 2)
    assert most - 3.0 < answer["directivity_db"][1] < most + 0.5
    # amplitudes of the far field may be off ten times as much as S: 0.2 of them is 1.6 dB
    assert max(answer["directivity_error_db"]) < 1.6
    assert answer["aperture_phase_error_deg"]["H"][0] > 0
