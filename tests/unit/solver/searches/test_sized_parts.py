"""The memory of a search for a size, and how parts of other sizes are built and refused."""

from pathlib import Path
from types import SimpleNamespace

import numpy as np
import pytest

from geometries.shapes.bends import Bend
from geometries.shapes.guides import standard_guide
from solver.errors import StudyError
from solver.searches import sized_parts
from solver.searches.part_curves import Refusal, fingerprint
from solver.searches.point_store import PointStore
from solver.searches.shortest_result import Proof, ShortestResult
from solver.searches.sized_parts import KnownSizes
from solver.searches.varied_parts import all_refused, built_part
from solver.studies.band import Band
from solver.waves.resonances import Resonance
from solver.waves.scattering import PortMode
from solver.waves.walls import Walls
from tests.unit.solver.made_up_curves import made_up_curves

BAND = Band(9e9, 10e9, 3)
BEND = Bend(standard_guide("WR-90"), "E", 1.0, 0.02)
MODES = (PortMode(1, "TE10", 6.557e9),)
TABLES = {
    "guide": "WR-90",
    "component": {"kind": "bend", "plane": "E", "angle_deg": 90.0, "mean_radius_mm": 20.0},
    "band": {"from_ghz": 9.0, "to_ghz": 10.0, "points": 3},
}


@pytest.fixture
def asked(monkeypatch):
    """Three frequencies; the largest bar is not where the reflection is largest."""
    asked = []

    def curves_of(study):
        asked.append(study)
        return made_up_curves(
            study.band.frequencies,
            MODES,
            np.array([0.1, 0.2j, -0.19]),
            np.array([0.001, 0.005, 0.03]),
            0.0,
        )

    monkeypatch.setattr(sized_parts, "curves_of", curves_of)
    return asked


def test_the_bar_of_the_worst_holds_every_frequencys(asked):
    worst, bar = KnownSizes(BAND, None, PointStore(None)).worst(BEND, 1e-4)
    assert worst == pytest.approx(0.2)
    # as high as 0.19 + 0.03, as low as 0.2 - 0.005
    assert bar == pytest.approx(0.02)
    assert worst - bar <= 0.195 and worst + bar >= 0.22 - 1e-12


def test_a_part_is_computed_once_for_what_it_depends_on(asked, tmp_path):
    known = KnownSizes(BAND, None, PointStore(tmp_path / "out"))
    found = {known.worst(BEND, 1e-4) for _ in range(3)}
    assert len(found) == len(asked) == 1
    known.worst(BEND, 1e-5)
    KnownSizes(BAND, Walls(5.8e7), known.store).worst(BEND, 1e-4)
    assert len(asked) == 3
    # another run of the command finds them on disk
    again = KnownSizes(BAND, None, PointStore(tmp_path / "out"))
    assert again.worst(BEND, 1e-4) in found and len(asked) == 3


def test_a_resonance_that_nobody_can_sample_leaves_all_open(monkeypatch):
    sharp = SimpleNamespace(whole=SimpleNamespace(unsampled=(Resonance(9e9, 0.0, 1e9, ""),)))
    monkeypatch.setattr(sized_parts, "curves_of", lambda study: sharp)
    known = KnownSizes(BAND, None, PointStore(None))
    monkeypatch.setattr(PointStore, "add", lambda *_: None)
    assert known.worst(BEND, 1e-4) == (1.0, 1.0)


def test_a_part_that_was_refused_stays_refused(asked):
    known = KnownSizes(BAND, None, PointStore(None))
    known.worst(BEND, 1e-4)
    known.store.add(fingerprint(asked[0]), Refusal("the bend folds"))
    with pytest.raises(StudyError, match="the bend folds"):
        known.worst(BEND, 1e-4)


def test_a_study_with_other_values():
    path = Path("some folder/bend.toml")
    found = built_part(TABLES, path, {"component.mean_radius_mm": 31.0})
    assert found.component.mean_radius == pytest.approx(31e-3)
    # the tables given are not changed
    assert TABLES["component"]["mean_radius_mm"] == 20.0
    refused = built_part(TABLES, path, {"component.mean_radius_mm": 5.0})
    assert isinstance(refused, Refusal) and refused.lasting
    assert "mean_radius_mm = 5" in refused.reason
    assert "bend.toml" not in refused.reason and "\n" not in refused.reason


def test_the_first_of_all_refusals_is_told():
    results = [Refusal("first reason"), Refusal("second reason")]
    told = str(all_refused(Path("bend.toml"), iter(results), "4 points"))
    assert told == "bend.toml: first reason (so for the first of 4 points; all are refused)"


@pytest.mark.parametrize(("holds", "code"), [(True, 0), (False, 3)])
def test_gain_of_the_shortest_part(holds, code):
    def proof(length):
        return Proof(SimpleNamespace(axis_length=length), 0.01, 1e-4, 1e-5, holds)

    def result(plain, best):
        return ShortestResult(BEND, BAND, None, None, None, plain, best, (), 7)

    found = result(proof(0.05), proof(0.03))
    assert found.gain == pytest.approx(0.02) and found.exit_code == code
    # a plain profile that no size makes good has no length to compare with
    alone = result(None, proof(0.03))
    assert alone.gain is None and alone.exit_code == code
    assert result(proof(0.05), None).exit_code == 3 and result(None, None).gain is None
