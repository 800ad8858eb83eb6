"""What an audit makes of bends whose reflections are made up."""

import math

import numpy as np
import pytest

from geometries.shapes.bends import Bend
from geometries.shapes.guides import standard_guide
from solver.rules.rules_of_thumb import rules_for
from solver.searches import rule_audit
from solver.searches.exploration import Worst
from solver.searches.rule_audit import AuditedBend, Reading, audit_bends, records_of
from solver.sheets.audit_files import audit_csv, audit_files
from solver.studies.band import Band
from solver.waves.scattering import PortMode
from tests.unit.solver.made_up_curves import made_up_curves

GUIDE, BAND = standard_guide("WR-90"), Band(8.2e9, 12.4e9, 41)


def _bend(angle, radii, least):
    """One bend with two readings of one rule: |S11| is 1e-5 / R^2."""
    readings = tuple(
        Reading("a rule", f"reading {n}", r, Worst(1e-5 / r**2, 1e-5 / r**2, 1e-5 / r**2, 9e9))
        for n, r in enumerate(radii)
    )
    return AuditedBend(GUIDE, "E", angle, BAND, readings, dict.fromkeys((1.02, 1.05, 1.10), least))


def test_records_count_and_measure():
    bends = [_bend(1.0, (0.02, 0.04), (0.03, 0.001)), _bend(0.5, (0.02, 0.06), (0.03, 0.001))]
    first, second = records_of(bends)
    # |S11| = 0.025 at 20 mm: VSWR 1.0513; 0.00625 at 40 mm: VSWR 1.0126
    assert (first.bends, [first.holds[v] for v in (1.02, 1.05, 1.10)]) == (2, [0, 0, 2])
    assert first.worst_vswr == pytest.approx(1.025 / 0.975)
    assert first.wasted[1.05] is None and first.wasted[1.10] == (0.0, 0.0)
    assert [second.holds[v] for v in (1.02, 1.05, 1.10)] == [2, 2, 2]
    # 10 mm at 1 rad, 30 mm at 0.5 rad
    assert second.wasted[1.02] == pytest.approx((0.0125, 0.015))


def falling(study):
    """|S11| falls as the square of the radius, 0.01 at 30 mm."""
    f = study.band.frequencies
    size = 0.01 * (0.03 / study.component.mean_radius) ** 2
    modes = (PortMode(1, "TE10", 6.557e9), PortMode(2, "TE10", 6.557e9))
    return made_up_curves(f, modes, np.full(len(f), min(size, 0.99)), 1e-6, 0.0)


def test_smallest_radius_is_bracketed_and_files_agree(monkeypatch):
    whole = rule_audit.explore
    monkeypatch.setattr(
        rule_audit, "explore", lambda *a, **k: whole(*a, **(k | {"compute": falling}))
    )
    bends = audit_bends([(GUIDE, BAND)], [math.pi / 2])
    assert [bend.plane for bend in bends] == ["E", "H"]
    for bend in bends:
        part = Bend(GUIDE, bend.plane, math.pi / 2, 0.03)
        assert len(bend.readings) == len(rules_for(part, BAND))
        for vswr, (radius, gap) in bend.smallest.items():
            exact = 0.03 * math.sqrt(0.01 / ((vswr - 1) / (vswr + 1)))
            assert radius - gap - 1e-9 <= exact <= radius or gap == 0.0
            assert gap < 0.2 * radius
    assert set(audit_files(bends)) == {"audit.json", "audit.csv", "audit.html"}
    assert audit_csv(bends).count("\n") == 1 + len(records_of(bends))
