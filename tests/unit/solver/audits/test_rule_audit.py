"""What an audit makes of parts whose reflections are made up."""

import json
import math
from dataclasses import replace

import numpy as np
import pytest

from geometries.shapes.bends import Bend
from geometries.shapes.guides import standard_guide
from solver.audits import rule_audit
from solver.audits.audit_files import audit_csv, audit_files, audit_html
from solver.audits.audited import AuditedPart, Reading, records_of
from solver.audits.audited_kinds import KINDS, cases_of
from solver.audits.rule_audit import audit
from solver.errors import StudyError
from solver.rules.rules_of_thumb import rules_for
from solver.searches.exploration import Worst
from solver.studies.band import Band
from solver.waves.resonances import Resonance
from solver.waves.scattering import PortMode
from tests.unit.solver.made_up_curves import made_up_curves

GUIDE, BAND = standard_guide("WR-90"), Band(8.2e9, 12.4e9, 41)


def _worst(value, bar=0.0):
    return Worst(value, value - bar, value + bar, 9e9)


def _bend(angle, radii, least, bar=0.0):
    """One bend with readings of one rule: |S11| is 1e-5 / R^2; None for a radius not possible."""
    readings = tuple(
        Reading("a rule", f"reading {n}", r, w, w)
        for n, r in enumerate(radii)
        for w in [None if r is None else _worst(1e-5 / r**2, bar)]
    )
    smallest = dict.fromkeys((1.02, 1.05, 1.10), least)
    return AuditedPart("bend", "E-plane", "a bend", BAND, readings, smallest, angle)


def test_records_count_and_measure():
    bends = [_bend(1.0, (0.02, 0.04), (0.03, 0.001)), _bend(0.5, (0.02, 0.06), (0.03, 0.001))]
    first, second = records_of(bends)
    # |S11| = 0.025 at 20 mm: VSWR 1.0513; 0.00625 at 40 mm: VSWR 1.0126
    assert (first.parts, [first.holds[v] for v in (1.02, 1.05, 1.10)]) == (2, [0, 0, 2])
    assert first.worst_vswr == pytest.approx(1.025 / 0.975)
    assert first.wasted[1.05] is None and first.wasted[1.10] == (0.0, 0.0)
    assert [second.holds[v] for v in (1.02, 1.05, 1.10)] == [2, 2, 2]
    # 10 mm at 1 rad, 30 mm at 0.5 rad
    assert second.wasted[1.02] == pytest.approx((0.0125, 0.015))


def test_a_bar_that_holds_the_limit_and_a_part_that_cannot_be_are_counted_apart():
    # VSWR 1.05 is |S11| = 0.02439: 0.025 +- 0.001 holds it
    parts = [_bend(1.0, (0.02,), (0.02, 0.0), 1e-3), _bend(1.0, (None,), (0.02, 0.0))]
    (record,) = records_of(parts)
    assert (record.parts, record.impossible) == (2, 1)
    assert [record.holds[v] for v in (1.02, 1.05, 1.10)] == [0, 0, 1]
    assert [record.cannot_tell[v] for v in (1.02, 1.05, 1.10)] == [0, 1, 0]
    assert record.wasted[1.05] is None
    row = audit_csv(parts).splitlines()[1].split(",")
    assert row[:9] == ["bend", "a rule", "reading 0", "E-plane", "2", "1", "0", "0 (1 open)", "1"]


def falling(study):
    """|S11| falls as the square of the radius, 0.01 at 30 mm."""
    f = study.band.frequencies
    size = 0.01 * (0.03 / study.component.mean_radius) ** 2
    modes = (PortMode(1, "TE10", 6.557e9), PortMode(2, "TE10", 6.557e9))
    return made_up_curves(f, modes, np.full(len(f), min(size, 0.99)), 1e-6, 0.0)


def leaking(study):
    """A joint that reflects and leaks by how far its groove is from 7 mm deep."""
    f = study.band.frequencies
    off = abs(study.component.groove_depth - 7e-3) * 10
    modes = (PortMode(1, "TE10", 6.557e9), PortMode(2, "TE10", 6.557e9))
    return made_up_curves(f, modes, np.full(len(f), 0.01 + off), 1e-6, off**2)


@pytest.fixture
def computed_by(monkeypatch):
    def choose(compute):
        whole = rule_audit.explore
        monkeypatch.setattr(
            rule_audit, "explore", lambda *a, **k: whole(*a, **(k | {"compute": compute}))
        )

    return choose


def test_smallest_radius_is_bracketed_and_files_agree(computed_by):
    computed_by(falling)
    bends = audit(cases_of(["bend"], ["WR-90"], [90.0]))
    assert [bend.group for bend in bends] == ["E-plane", "H-plane"]
    for bend in bends:
        part = Bend(GUIDE, bend.group[0], math.pi / 2, 0.03)
        assert len(bend.readings) == len(rules_for(part, BAND))
        for vswr, (radius, gap) in bend.smallest.items():
            exact = 0.03 * math.sqrt(0.01 / ((vswr - 1) / (vswr + 1)))
            assert radius - gap - 1e-9 <= exact <= radius or gap == 0.0
            assert gap < 0.25 * radius
    files = audit_files(bends)
    assert set(files) == {"audit.json", "audit.csv", "audit.html"}
    assert audit_csv(bends).count("\n") == 1 + len(records_of(bends))
    told = json.loads(files["audit.json"])
    assert [part["of"] for part in told["parts"]] == ["E-plane", "H-plane"]
    assert "cannot be made" not in audit_html(bends)


def test_a_rule_with_a_tolerance_answers_for_the_worst_that_it_lets_through(computed_by):
    computed_by(leaking)
    (joint,) = audit(cases_of(["choke-flange"]))
    made = [reading for reading in joint.readings if reading.worst is not None]
    # a groove nearer than the corners of the guide cuts into it
    assert 0 < len(made) < len(joint.readings) == 12
    for reading in made:
        assert reading.loosest.value >= reading.worst.value
        assert reading.leakage.value == pytest.approx(reading.loosest.value - 0.01)
    exact = [r for r in made if "middle of the groove a quarter of the guide" in r.reading]
    assert any(r.loosest.value > r.worst.value for r in exact)
    page = audit_html([joint])
    assert "cannot be made" in page and "worst leakage" in page and "too long" not in page


def ringing(study):
    """A joint with a resonance that is too sharp to be sampled."""
    curves = leaking(study)
    sharp = Resonance(10e9, 1e3, 1e9, "the gap", True)
    return replace(curves, whole=replace(curves.whole, unsampled=(sharp,)))


def test_a_resonance_that_cannot_be_sampled_leaves_a_rule_open(computed_by):
    computed_by(ringing)
    (joint,) = audit(cases_of(["choke-flange"]))
    made = [reading for reading in joint.readings if reading.worst is not None]
    assert made and all(reading.worst.high == 1.0 for reading in made)
    assert {reading.outcome(1.10) for reading in made} <= {"cannot tell", "fails"}
    assert "cannot tell" in {reading.outcome(1.10) for reading in made}


@pytest.mark.parametrize("kind", KINDS)
def test_every_kind_has_parts_that_its_rules_speak_of(kind):
    cases = cases_of([kind])
    assert cases and all(case.asked for case in cases)
    assert len({case.about for case in cases}) == len(cases)


def test_guides_and_angles_go_where_they_mean_something():
    assert {case.about for case in cases_of(["twist"], ["WR-62"], [30.0])} == {"WR-62, 30 degrees"}
    with pytest.raises(StudyError, match="taper: turns by no angle"):
        cases_of(["taper"], angles=[30.0])
    with pytest.raises(StudyError, match="leave out the guide"):
        cases_of(["rotating-joint"], ["WR-90"])
