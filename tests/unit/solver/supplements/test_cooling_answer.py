"""What cools a load: read from its study, worked out by hand, and refused elsewhere."""

import json

import pytest

from solver.commands.command_line import main
from solver.errors import StudyError
from solver.studies.cooling import Cooling
from solver.studies.study import read_study

STUDY = """title = "bench load"
guide = "WR-90"
[component]
kind = "load"
plane = "H"
position = "wall"
taper_length_mm = 0.0
base_length_mm = 30.0
permittivity = 4.0
loss_tangent = 0.4
[band]
from_ghz = 9.0
to_ghz = 10.0
points = 3
[cooling]
input_power_w = 50.0
fin_area_cm2 = 250.0
convection_w_per_m2_k = 8.0
air_celsius = 20.0
"""


def written(folder, text):
    path = folder / "load.toml"
    path.write_text(text, encoding="utf-8")
    return path


def test_the_fins_of_a_known_case():
    """50 W through 0.025 m2 at 8 W/(m2 K): 250 K."""
    cooling = Cooling(50.0, 250e-4, 8.0, 20.0)
    assert cooling.temperature(1.0) == pytest.approx(270.0)
    assert cooling.temperature(0.5) == pytest.approx(145.0)


def test_heat_and_cooling_reach_the_result(tmp_path, capsys):
    assert main(["assess", str(written(tmp_path, STUDY)), "--json"]) == 0
    result = json.loads(capsys.readouterr().out)
    told, most = result["cooling"], max(result["dissipated_power"])
    assert told["heat_w"] == pytest.approx(50.0 * most, abs=50 * 1e-3)
    assert told["rise_k"] == pytest.approx(told["heat_w"] / (8.0 * 250e-4))
    assert told["fin_temperature_celsius"] == pytest.approx(20.0 + told["rise_k"])
    assert told["largest_w_per_mm"] == pytest.approx(50.0 * result["heat"]["largest_per_mm"])
    assert "no rating" in told["note"] and "convection" in told["note"]
    assert result["heat"]["at_hz"] in result["frequency_hz"]


def test_words_name_the_assumptions(tmp_path, capsys):
    assert main(["assess", str(written(tmp_path, STUDY))]) == 0
    text = " ".join(capsys.readouterr().out.split())
    assert "Cooling: of 50 W" in text
    assert "250 cm2 with 8 W/(m2 K)" in text
    assert "no rating" in text


@pytest.mark.parametrize(
    ("before", "after", "named"),
    [
        ("fin_area_cm2 = 250.0", "fin_area_cm2 = 0.0", "cooling.fin_area_cm2"),
        ("air_celsius = 20.0", "", "cooling.air_celsius"),
        ("air_celsius = 20.0", "air_celsius = -300.0", "= -300.0: must be at least -100"),
        ("taper_length_mm = 0.0", "taper_length_mm = -1.0", "= -1.0: must be at least 0"),
        ("input_power_w = 50.0", "input_power_kw = 50.0", "input_power_kw"),
    ],
)
def test_what_cannot_be_cooled_is_named(tmp_path, before, after, named):
    with pytest.raises(StudyError, match=named):
        read_study(written(tmp_path, STUDY.replace(before, after)))


def test_only_loads_are_cooled(tmp_path):
    start, _, rest = STUDY.partition("[component]")
    cooled = rest[rest.index("[band]") :]
    text = f'{start}[component]\nkind = "straight"\nlength_mm = 20.0\n{cooled}'
    with pytest.raises(StudyError, match="has no absorber to cool"):
        read_study(written(tmp_path, text))
