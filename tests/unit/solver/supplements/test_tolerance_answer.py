"""What tolerances do, as values in the units of the study and in words."""

import json
import math

import numpy as np
import pytest

from solver.judgement.sensitivities import Sensitivity
from solver.judgement.tolerance_box import ToleranceBox
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


def test_words():
    assert tolerance_text(box()).splitlines() == [
        "Tolerances: whether every part within the tolerances meets the limit is undecided",
        "  - worst |S11| 0.031, known to 0.002, near 10 GHz at mean_radius_mm -0.4, angle_deg +1; "
        "solved there: 0.0309",
        "  - of parts spread evenly over the tolerances 90 % meet the limit (between 75 and 98 %, "
        "the bar counted)",
        "  - mean_radius_mm: |S11| changes by at most 0.004 a mm (known to 0.0002); 2.5 mm alone "
        "would use up the limit",
        "  - angle_deg: |S11| changes by at most 0.00873 a deg (known to 0); 1.15 deg alone would "
        "use up the limit",
        "  - loss_tangent: |S11| changes by at most 1 for 1 more (known to 0.1); 0.01 alone would "
        "use up the limit",
    ]
    assert len(sentences_of(box(allowed=None, share=None))) == 1


def test_the_page_names_every_dimension_and_escapes_the_title():
    page = tolerance_html(box(), "a <b> & c", "E-plane bend", "0.1.0")
    assert "a &lt;b&gt; &amp; c" in page and "<b> &" not in page
    for key in ("mean_radius_mm", "angle_deg", "loss_tangent"):
        assert key in page
    assert headline_of(box()) in page and "<svg" in page
