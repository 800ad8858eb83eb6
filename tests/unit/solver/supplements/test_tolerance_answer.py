"""What tolerances do, as values in the units of the study and in words."""

import json
import math

import numpy as np
import pytest

from solver.judgement.sensitivities import Sensitivity
from solver.judgement.tolerance_box import ToleranceBox
from solver.studies.inches import told_in_inches
from solver.studies.tolerances import Tolerance
from solver.supplements.tolerance_answer import (
    headline_of,
    sentences_of,
    tolerance_result_of,
    tolerance_text,
)
from solver.supplements.tolerance_page import tolerance_html

FREQUENCY = np.array([9e9, 10e9])
#: |S11| rises by 2 per metre at 9 GHz and falls by 4 at 10 GHz, and by 0.5 per radian.
RADIUS = Sensitivity(
    Tolerance("mean_radius", "mm", 0.4e-3),
    np.array([2.0 + 0j, -4.0]),
    np.array([0.1, 0.2]),
    np.zeros(2),
)
ANGLE = Sensitivity(
    Tolerance("angle", "deg", math.radians(1.0)), np.array([0.5j, 0.5]), np.zeros(2), np.zeros(2)
)
LOSS = Sensitivity(
    Tolerance("loss_tangent", "", 0.01), np.array([1.0 + 0j, 1.0]), np.full(2, 0.1), np.zeros(2)
)


def box(**changes):
    given = {
        "frequency": FREQUENCY,
        "s11": np.array([0.01 + 0j, 0.02]),
        "sensitivities": (RADIUS, ANGLE, LOSS),
        "allowed": 0.03,
        "worst": 0.031,
        "error": 0.002,
        "at_hz": 10e9,
        "corner": {"mean_radius_mm": -0.4, "angle_deg": 1.0},
        "checked": 0.0309,
        "share": (0.9, 0.75, 0.98),
    }
    return ToleranceBox(**(given | changes))


def test_values_are_in_the_units_of_the_study():
    told = tolerance_result_of(box())
    json.dumps(told, allow_nan=False)
    radius, angle, loss = told["sensitivities"]
    assert (radius["key"], radius["tolerance"]) == ("mean_radius_mm", 0.4)
    assert radius["per_unit"] == pytest.approx(4e-3) and radius["at_hz"] == 10e9
    assert radius["per_unit_error"] == pytest.approx(2e-4)
    # 0.02 - 4 x = 0.03 at x = -2.5 mm; at 9 GHz only 10 mm lead there
    assert radius["allowed"] == pytest.approx(2.5)
    assert (angle["key"], angle["tolerance"]) == ("angle_deg", 1.0)
    # 0.5 a radian, across S11 at 9 GHz and along it at 10 GHz
    assert angle["per_unit"] == pytest.approx(0.5 * math.pi / 180)
    assert angle["allowed"] == pytest.approx(math.degrees(0.02))
    assert (loss["key"], loss["per_unit"]) == ("loss_tangent", pytest.approx(1.0))
    assert told["with_tolerances"] == pytest.approx(0.033)
    whole = told["tolerances"]
    assert whole["outcome"] == "undecided" and whole["at"]["mean_radius_mm"] == -0.4
    assert whole["worst_vswr"] == pytest.approx(1.031 / 0.969)
    assert (whole["yield"], whole["yield_least"], whole["yield_most"]) == (0.9, 0.75, 0.98)


def test_nothing_passes_total_reflection():
    told = tolerance_result_of(box(worst=0.99, error=0.2))
    assert told["with_tolerances"] == 1.0


def test_a_dimension_that_does_nothing_has_no_room_to_tell():
    still = Sensitivity(RADIUS.tolerance, np.zeros(2, dtype=complex), np.zeros(2), np.zeros(2))
    told = tolerance_result_of(box(sensitivities=(still,)))
    assert told["sensitivities"][0]["allowed"] is None
    assert "use up the limit" not in tolerance_text(box(sensitivities=(still,)))


@pytest.mark.parametrize(
    ("changes", "headline"),
    [
        ({}, "whether every part within the tolerances meets the limit is undecided"),
        ({"worst": 0.02}, "every part within the tolerances meets the limit"),
        ({"worst": 0.04}, "not every part within the tolerances meets the limit"),
        ({"allowed": None, "share": None}, "no limit of reflection was set"),
    ],
)
def test_headline(changes, headline):
    assert headline_of(box(**changes)) == headline


def test_words_name_every_dimension_with_its_unit():
    head, worst, share, *rows = tolerance_text(box()).splitlines()
    assert head == "Tolerances: " + headline_of(box())
    assert "worst |S11| 0.031, known to 0.002, near 10 GHz" in worst
    assert "mean radius -0.4 mm, angle +1 deg; solved there: 0.0309" in worst
    assert "90 % meet the limit (between 75 and 98 %" in share
    for row, name, slope, known, room in zip(
        rows,
        ("mean radius", "angle", "loss tangent"),
        ("0.004 per mm", "0.00873 per deg", "1 for 1 more"),
        ("0.0002", "0", "0.1"),
        ("2.5 mm", "1.15 deg", "0.01"),
        strict=True,
    ):
        assert row.startswith(f"  - {name}: |S11| changes by at most {slope} (known to {known}); ")
        assert room in row
    assert len(sentences_of(box(allowed=None, share=None))) == 1


def test_the_page_names_every_dimension_and_escapes_the_title():
    page = tolerance_html(box(), "a <b> & c", "E-plane bend", "0.1.0")
    assert "a &lt;b&gt; &amp; c" in page and "<b> &" not in page
    for name in ("mean radius", "angle", "loss tangent"):
        assert name in page
    assert headline_of(box())[1:] in page and "<svg" in page


def test_who_writes_inches_is_told_of_inches():
    """0.4 mm is 0.0157 in; 0.004 per mm is 0.1016 per in; 2.5 mm is 0.0984 in."""
    with told_in_inches(True):
        text = tolerance_text(box())
    assert "at mean radius -0.0157 in, angle +1 deg" in text
    assert "mean radius: |S11| changes by at most 0.102 per in" in text
    assert "0.0984 in alone would use up the limit" in text
    assert " mm" not in text


def test_a_limit_that_is_exceeded_anyway_has_no_room():
    text = tolerance_text(box(allowed=1e-6))
    assert "the limit is exceeded without it" in text and "0 mm alone" not in text
