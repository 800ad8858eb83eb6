"""The length over which a load's absorber tapers, on made-up curves, and by the command."""

import json
import math

import numpy as np
import pytest
from click.testing import CliRunner

from geometries.shapes.guides import standard_guide
from geometries.shapes.loads import Load
from solver.commands.gradual_command import gradual as command
from solver.searches import gradual as module
from solver.searches.gradual import gradual
from solver.searches.size_families import family_of
from solver.searches.size_search import SizeCurve
from solver.studies.band import Band
from solver.studies.limits import Limit

WR90 = standard_guide("WR-90")
BAND = Band(8.2e9, 12.4e9, 11)


def load(**changed):
    keys = {"base_length": 15e-3, "permittivity": 6.0, "loss_tangent": 0.3} | changed
    base = keys.pop("base_length")
    return Load(WR90, "H", "wall", 50e-3, base, **keys)


def falling(part, _):
    """|S11| that halves every 20 mm of taper."""
    return 0.5 ** (1 + part.taper_length / 20e-3), 1e-6


def test_the_taper_is_what_varies_from_a_blunt_end():
    family = family_of(load(), BAND, 0.05, falling, 1e-4)
    curve = SizeCurve(family.worst)
    sizes = []
    for size in family.scan(curve):
        curve.worst(size)
        sizes.append(size)
    assert sizes[0] == 0.0
    assert all(family.part_of(s).taper_length == s for s in sizes)
    # on past the crossing at 66.4 mm until well under the limit over one and a half periods
    assert 66.4e-3 + 0.7 * 45e-3 < sizes[-1] < 150e-3
    # where nothing ripples, three steps in four are left out
    assert np.diff(sizes)[:3] == pytest.approx(np.diff(sizes)[0])
    assert max(np.diff(sizes)) == pytest.approx(4 * np.diff(sizes)[0])
    without_base = family_of(load(base_length=0.0), BAND, 0.05, falling, 1e-4)
    assert next(without_base.scan(curve)) > 0.0


def test_what_ripples_is_scanned_finely_throughout():
    """As tip and shoulder turn past each other, half as much as the curve's height."""

    def rippling(part, _):
        height = 0.5 ** (1 + part.taper_length / 40e-3)
        return height * (1 + 0.5 * math.cos(2 * 425.0 * part.taper_length)), 1e-6

    family = family_of(load(), BAND, 0.05, rippling, 1e-4)
    curve = SizeCurve(family.worst)
    for size in family.scan(curve):
        curve.worst(size)
    # finer than half a turn, at the high edge
    assert max(np.diff(curve.sizes)) < 0.5 * math.pi / 425.0


def test_a_ripple_that_sets_in_late_is_gone_back_for():
    def rippling(part, _):
        length = part.taper_length
        height = 0.5 ** (1 + length / 40e-3)
        later = 0.5 / (1 + math.exp((45e-3 - length) / 2e-3))
        return height * (1 + later * math.cos(2 * 425.0 * length)), 1e-6

    family = family_of(load(), BAND, 0.05, rippling, 1e-4)
    curve = SizeCurve(family.worst)
    for size in family.scan(curve):
        curve.worst(size)
    steps, sizes = np.diff(curve.sizes), curve.sizes[1:]
    assert max(steps[sizes < 40e-3]) > 2 * max(steps[sizes > 50e-3])
    assert max(steps[sizes > 50e-3]) < 0.5 * math.pi / 425.0


def test_the_length_is_found(monkeypatch):
    monkeypatch.setattr(module.KnownSizes, "worst", lambda self, part, error: falling(part, error))
    found = gradual(load(), BAND, Limit(return_loss_db=26.0))
    expected = 20e-3 * (26.0 / (20 * math.log10(2)) - 1)
    assert found.kind == "load"
    assert found.smallest == pytest.approx(expected, abs=2e-4)
    assert {rule.measure for rule in found.rules} == {"taper length"}


OPTIONS = [
    *("--guide", "WR-90", "--kind", "load", "--plane", "H", "--position", "wall"),
    *("--base-length-mm", "15", "--permittivity", "6", "--loss-tangent", "0.3"),
    *("--from-ghz", "8.2", "--to-ghz", "12.4", "--points", "11", "--vswr", "1.2"),
]


def test_the_command_takes_the_keys_of_a_study(monkeypatch):
    seen = []

    def worst(self, part, error):
        seen.append(part)
        return falling(part, error)

    monkeypatch.setattr(module.KnownSizes, "worst", worst)
    result = CliRunner().invoke(command, [*OPTIONS, "--json"], standalone_mode=False)
    assert result.return_value == 0
    told = json.loads(result.stdout)
    assert told["kind"] == "load" and told["plane"] == "H"
    assert told["smallest_mm"] == pytest.approx(20 * (math.log2(11.0) - 1), abs=0.2)
    assert {(p.position, p.base_length, p.permittivity) for p in seen} == {("wall", 15e-3, 6.0)}


@pytest.mark.parametrize(
    ("changed", "named"),
    [
        (["--angle-deg", "90"], "angle-deg"),
        (["--to-guide", "WR-75"], "to-guide"),
        (["--permittivity", "-1"], "permittivity"),
    ],
)
def test_what_a_load_does_not_take_is_refused(changed, named):
    result = CliRunner().invoke(command, [*OPTIONS, *changed])
    assert result.exit_code == 2
    assert named in result.output


def test_a_load_needs_its_material():
    without = [o for o in OPTIONS if o not in ("--permittivity", "6")]
    result = CliRunner().invoke(command, without)
    assert result.exit_code == 2
    assert "--permittivity" in result.output
