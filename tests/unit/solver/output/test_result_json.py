import json

import numpy as np
import pytest

from geometries.shapes.guides import CircularGuide
from geometries.shapes.straights import Straight
from solver.output.result_json import as_text, result_of
from solver.studies.plain_values import described_component, described_guide, plain

# The keys of schema 1, as other programs read them.
KEYS = {
    "schema",
    "title",
    "component",
    "guide",
    "frequency_hz",
    "port_modes",
    "s_re",
    "s_im",
    "s_error",
    "leaked_power",
    "dissipated_power",
    "estimates",
    "rules",
    "verdict",
    "provenance",
}


def refuse_constant(name):
    raise ValueError(f"{name} is not JSON")


def test_schema_1_survives_a_round_trip(assessment):
    read = json.loads(as_text(result_of(assessment)), parse_constant=refuse_constant)
    assert read["schema"] == 1
    assert set(read) >= KEYS
    assert read["port_modes"] == [{"port": port, "mode": "TE10"} for port in (1, 2)]
    s = np.array(read["s_re"]) + 1j * np.array(read["s_im"])
    np.testing.assert_array_equal(s, assessment.scattering.s)
    np.testing.assert_array_equal(read["frequency_hz"], assessment.scattering.frequency)
    assert len(read["s_error"]) == len(read["leaked_power"]) == 101


def test_dimensions_have_the_keys_and_units_of_a_study(assessment):
    read = result_of(assessment)
    assert read["component"] == {
        "kind": "bend",
        "plane": "E",
        "angle_deg": 37.0,
        "mean_radius_mm": 45.0,
    }
    assert read["guide"] == {"name": "WR-90", "width_mm": 22.86, "height_mm": 10.16}


def test_rules_and_estimates_name_their_source(assessment):
    read = result_of(assessment)
    rule = read["rules"][0]
    assert (rule["required_mm"], rule["actual_mm"], rule["satisfied"]) == (79.4, 45.0, False)
    assert rule["extra_mm"] == pytest.approx(34.4)
    first, second = read["estimates"]
    assert first["source"].startswith("S. O. Rice")
    assert len(first["s11_abs"]) == 101
    assert first["leaked_power"] is None
    assert second["within_validity"] is False


def test_numbers_that_are_not_finite_become_null(assessment):
    assert result_of(assessment)["estimates"][1]["s11_abs"] == [None] * 101
    assert plain({"a": [np.inf, np.float64(1.5), np.int64(2), np.bool_(True)]}) == {
        "a": [None, 1.5, 2, True]
    }


def test_verdict_gives_its_interval(assessment):
    verdict = result_of(assessment)["verdict"]
    assert verdict["outcome"] == "meets"
    assert verdict["quantity"] == "vswr"
    assert verdict["lowest"] < verdict["worst"] < verdict["highest"] < verdict["limit"] == 1.05


def test_a_circular_guide_and_a_straight():
    straight = Straight(CircularGuide(0.027), 0.1)
    assert described_guide(straight.guide) == {"diameter_mm": 27.0}
    assert described_component(straight) == {"kind": "straight", "length_mm": 100.0}


def test_what_is_no_value_is_refused():
    with pytest.raises(TypeError, match="object has no place"):
        plain({"a": object()})
