"""Disagreement of closed forms in leakage, in words."""

from dataclasses import replace

import numpy as np

from solver.closed_forms.estimates import Estimate, Source
from solver.output.estimate_wording import leakage_rows, range_text
from solver.output.screen import assessment_text
from solver.reports.report import report_html

NAME = "gap and groove"


def with_leakage(assessment):
    """A part that leaks 1e-5, and a form that is 3 dB low in range and 20 dB high outside."""
    scattering = assessment.scattering
    count = len(scattering.frequency)
    inside = np.arange(count) < count // 2
    form = Estimate(
        name=NAME,
        source=Source("none", "derived"),
        s11_abs=np.abs(scattering.s11),
        within_validity=True,
        note="",
        leaked_power=1e-5 * np.where(inside, 0.5, 100.0),
        leakage_in_range=inside,
        leakage_note="above -55 dB within 2 dB",
    )
    leaking = replace(scattering, leaked_power=np.full(count, 1e-5))
    return replace(assessment, scattering=leaking, estimates=(form,))


def test_rows_tell_the_disagreement_and_the_range(assessment):
    leaking = with_leakage(assessment)
    computed, row = leakage_rows(leaking.estimates, leaking.scattering)
    assert computed[:2] == ("computed", "-50.0 dB")
    name, worst, furthest, inside = row
    assert (name, worst) == (NAME, "-30.0 dB")
    assert furthest.startswith("20.0 dB at ") and furthest.endswith("; 3.0 dB in its range")
    assert inside.endswith(" GHz") and " to " in inside


def test_screen_and_report_state_them(assessment):
    leaking = with_leakage(assessment)
    assert "worst leakage" in assessment_text(leaking)
    page = report_html(leaking)
    assert "20.0 dB at " in page
    assert "The range of the leakage: above -55 dB within 2 dB." in page


def test_a_closed_part_has_no_rows(assessment):
    assert leakage_rows(assessment.estimates, assessment.scattering) == []


def test_ranges_in_words():
    ghz = np.array([8.0, 9.0, 10.0, 11.0])
    assert range_text(None, ghz) == range_text(np.zeros(4, bool), ghz) == "no"
    assert range_text(np.ones(4, bool), ghz) == "yes"
    assert range_text(np.array([True, True, False, True]), ghz) == "8 to 9, 11 to 11 GHz"
