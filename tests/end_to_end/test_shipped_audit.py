"""The audit of the rules that is shipped: up to date, and held against solutions by modes."""

import json
import math

import numpy as np
import pytest
from click.testing import CliRunner

from geometries.shapes.guides import standard_guide
from solver.audits.audited_kinds import KINDS, cases_of
from solver.audits.shipped_audit import shipped_files
from solver.commands.command_line import commands
from tests.references.curved_guide_modes import bend_scattering
from tests.references.taper_modes import taper_s11
from tests.references.twist_modes import s11, twist_modes

WR90 = standard_guide("WR-90")
A, B = WR90.broad_width, WR90.narrow_height
BAND, RIGHT = np.linspace(8.2e9, 12.4e9, 15), math.pi / 2
SHIPPED = json.loads(shipped_files()["audit.json"])


def _part(kind, about):
    (found,) = [p for p in SHIPPED["parts"] if p["kind"] == kind and p["about"] == about]
    return found


def _check(reading, reflection, unsure=0.0):
    """A reference of |S11| at a frequency agrees where it is worst, and is no worse elsewhere."""
    low, _, high = reading["worst_s11"]
    assert low - unsure <= abs(reflection(reading["worst_at_hz"])) <= high + unsure
    assert max(abs(reflection(f)) for f in BAND) <= high + unsure


@pytest.mark.parametrize("kind", KINDS)
def test_it_holds_what_the_rules_ask_for_today(kind):
    cases = cases_of([kind])
    parts = [part for part in SHIPPED["parts"] if part["kind"] == kind]
    assert [part["about"] for part in parts] == [case.about for case in cases]
    for part, case in zip(parts, cases, strict=True):
        for told, asked in zip(part["readings"], case.asked, strict=True):
            assert (told["name"], told["reading"]) == (asked.name, asked.reading)
            if asked.size is not None:
                assert told["size_mm"] == pytest.approx(1e3 * asked.size, rel=1e-9)


def test_its_counts_are_those_of_its_parts():
    for record in SHIPPED["rules"]:
        outcomes = [
            reading["outcomes"]
            for part in SHIPPED["parts"]
            for reading in part["readings"]
            if (part["kind"], part["of"], reading["name"], reading["reading"])
            == (record["kind"], record["of"], record["name"], record["reading"])
        ]
        assert record["parts"] == len(outcomes)
        for name, word in (("holds", "holds"), ("cannot_tell", "cannot tell")):
            assert record[name] == [sum(o[i] == word for o in outcomes) for i in range(3)]


@pytest.mark.parametrize(("plane", "width"), [("E", B), ("H", A)])
def test_its_bends_are_exact(plane, width):
    part = _part("bend", f"WR-90, {plane}-plane, 90 degrees")
    for reading in part["readings"][::4]:
        radius = reading["size_mm"] / 1e3
        _check(reading, lambda f, r=radius: bend_scattering(plane, width, A, r, RIGHT, f, 40)[0])


@pytest.mark.slow
def test_its_tapers_of_height_are_those_of_coupled_modes():
    part = _part("taper", "WR-90 to 0.5 of its height")
    for reading in part["readings"][::3]:
        length = reading["size_mm"] / 1e3

        def size(z, length=length):
            return B * (1 - 0.5 * z / length), -0.5 * B / length

        _check(reading, lambda f, x=length, s=size: taper_s11("E", s, x, f, broad_width=A))


@pytest.mark.slow
def test_its_twists_are_those_of_coupled_modes():
    part = _part("twist", "WR-90, 90 degrees")
    coarse, fine = (twist_modes(A, B, n) for n in (4, 8))
    # shorter than two wavelengths these modes converge too slowly to tell
    for reading in part["readings"][:8:3]:
        length = reading["size_mm"] / 1e3
        at = reading["worst_at_hz"]
        rough, close = (s11(modes, RIGHT / length, length, at) for modes in (coarse, fine))

        def reflection(f, x=length):
            # they converge as one over the order
            return 2 * s11(fine, RIGHT / x, x, f) - s11(coarse, RIGHT / x, x, f)

        _check(reading, reflection, abs(close - rough) / 2)


def test_it_is_given_without_computing(tmp_path):
    done = CliRunner().invoke(commands, ["audit", "--shipped", "-o", str(tmp_path / "rules")])
    assert done.exit_code == 0 and done.stdout.startswith("kind,rule,reading")
    assert {path.name for path in (tmp_path / "rules").iterdir()} == set(shipped_files())
    refused = CliRunner().invoke(commands, ["audit", "bend", "--shipped"])
    assert refused.exit_code == 2
