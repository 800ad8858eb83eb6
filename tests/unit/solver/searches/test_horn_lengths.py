"""The length of a horn, on made-up curves, and by the command's options."""

import json
import math

import numpy as np
import pytest
from click.testing import CliRunner

from geometries.shapes.guides import CircularGuide
from geometries.shapes.horns import ConicalHorn
from solver.commands.gradual_command import gradual as command
from solver.searches import gradual as module
from solver.searches.gradual import gradual
from solver.searches.size_families import family_of
from solver.searches.size_search import SizeCurve
from solver.studies.band import Band
from solver.studies.limits import Limit

BAND = Band(8.2e9, 12.4e9, 11)
HORN = ConicalHorn(CircularGuide(30e-3), 60e-3, 50e-3, "TM01")


def falling(part, _):
    """|S11| that halves every 20 mm, down to what the aperture reflects."""
    return 0.01 + 0.5 ** (1 + part.length / 20e-3), 1e-6


def stubborn(part, _):
    """An aperture that reflects more than the limit."""
    return 0.2 + 0.5 ** (1 + part.length / 20e-3), 1e-6


def test_the_length_varies_and_the_aperture_stays(monkeypatch):
    family = family_of(HORN, BAND, 0.05, falling, 1e-4)
    curve, sizes = SizeCurve(family.worst), []
    for size in family.scan(curve):
        curve.worst(size)
        sizes.append(size)
    parts = [family.part_of(size) for size in sizes]
    assert {part.aperture_diameter for part in parts} == {60e-3}
    assert [part.length for part in parts] == sizes
    # throat and aperture turn past each other in half a wavelength; ten steps to it at least
    assert max(np.diff(sizes)) < 0.1 * 299792458 / 12.4e9 * 1.01


def test_the_length_is_found(monkeypatch):
    monkeypatch.setattr(module.KnownSizes, "worst", lambda self, part, error: falling(part, error))
    found = gradual(HORN, BAND, Limit(vswr=1.1))
    largest = 0.1 / 2.1
    assert found.kind == "horn"
    assert found.smallest == pytest.approx(-20e-3 * (1 + math.log2(largest - 0.01)), abs=2e-4)
    assert {rule.measure for rule in found.rules} == {"mean length"}
    assert any("that of the aperture stays" in reason for reason in found.reasons)


def test_an_aperture_that_reflects_too_much_has_no_length(monkeypatch):
    monkeypatch.setattr(module.KnownSizes, "worst", lambda self, part, error: stubborn(part, error))
    assert gradual(HORN, BAND, Limit(vswr=1.1)).smallest is None


def test_options_make_the_horn(monkeypatch):
    seen = []

    def worst(self, part, error):
        seen.append(part)
        return falling(part, error)

    monkeypatch.setattr(module.KnownSizes, "worst", worst)
    line = "--kind horn --guide 30.0 --aperture-diameter-mm 60 --mode TM01 --from-ghz 8.2"
    run = CliRunner().invoke(
        command, [*line.split(), "--to-ghz", "12.4", "--points", "5", "--vswr", "1.1", "--json"]
    )
    assert run.exit_code == 0, run.output
    assert json.loads(run.stdout)["kind"] == "horn"
    assert {(part.aperture_diameter, part.mode) for part in seen} == {(60e-3, "TM01")}


@pytest.mark.parametrize(
    ("options", "words"),
    [
        ("--guide WR-90 --aperture-width-mm 60", "Missing option '--aperture-height-mm'"),
        ("--guide 30.0 --aperture-width-mm 60", "does not belong to a horn on a circular guide"),
        ("--guide WR-90 --angle-deg 30", "a horn has none"),
    ],
)
def test_options_of_other_parts_are_refused(options, words):
    line = f"--kind horn {options} --from-ghz 8.2 --to-ghz 12.4 --vswr 1.1"
    run = CliRunner().invoke(command, line.split())
    assert run.exit_code == 2
    assert words in run.output
