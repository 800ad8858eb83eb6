"""Sentences that must read alike wherever they stand."""

from pathlib import Path

import pytest

from solver.output.cautions import BROKEN_RULE, CAUTIONS, FABRICATED_GUIDE
from solver.reports.report import report_html

ROOT = Path(__file__).parents[4]
README = " ".join((ROOT / "README.md").read_text(encoding="utf-8").split())


def plain(html):
    return " ".join(html.replace("&#34;", '"').replace("&#39;", "'").split())


def test_the_vswr_of_straight_guide_has_one_wording(assessment):
    """MIL-DTL-85K, 3.9: fabricated waveguides, VSWR not above 1.02."""
    study = (ROOT / "geometries/studies/radar_mast_bend.toml").read_text(encoding="utf-8")
    for text in (README, study, plain(report_html(assessment))):
        assert FABRICATED_GUIDE in text
    values = (ROOT / "tests/published/values/mil_dtl_85k.csv").read_text(encoding="utf-8")
    assert "vswr=1.02" in values and ",3.9," in values
    for folder in ("solver", "geometries"):
        for path in (ROOT / folder).rglob("*.py"):
            text = path.read_text(encoding="utf-8")
            assert "VSWR of 1.02" not in text or path.name == "cautions.py", path


def test_a_broken_rule_is_harmless_only_electrically(assessment):
    assert BROKEN_RULE in README
    assert BROKEN_RULE in plain(report_html(assessment))


@pytest.mark.parametrize("what", ["missing gasket", "worn choke"])
def test_leaking_joints_are_named(what):
    assert what in README
    assert any(what in text for _, text in CAUTIONS)


def test_nothing_is_called_a_rating_but_to_deny_it():
    denied = README
    for denial in ("no power rating", "Neither is a rating", "never a rating"):
        denied = denied.replace(denial, "")
    assert "rating" not in denied


def test_an_envelope_is_not_called_wrong(assessment):
    assert "an envelope is a bound" in plain(report_html(assessment))
