"""The search over profiles on parts whose reflection is made up, so that the answer is known."""

import json
import math

import pytest

from geometries.shapes.bends import Bend
from geometries.shapes.corners import Corner
from geometries.shapes.guides import standard_guide
from geometries.shapes.tapers import Taper
from solver.errors import StudyError, UnsupportedPartError
from solver.output.shortest_answer import shortest_csv, shortest_result_of, shortest_text
from solver.searches.shortest import profiles_of, shortest
from solver.studies.band import Band
from solver.studies.limits import Limit

WR90 = standard_guide("WR-90")
BAND = Band(9e9, 10e9, 3)
LIMIT = Limit(vswr=1.01)
LARGEST = 0.01 / 2.01
BEND = Bend(WR90, "E", math.pi / 2, 30e-3)


def least_length(part):
    """Made up: least where the onset is 0.43, 30 mm there; an arc needs 40 mm."""
    return 40e-3 if part.onset == 0 else 30e-3 + 0.1 * (part.onset - 0.43) ** 2


@pytest.fixture(autouse=True)
def no_search_of_the_top(monkeypatch):
    """Up to where sizes are looked at; the closed form's envelope takes time."""
    monkeypatch.setattr("solver.searches.size_families.gentle_radius", lambda *_: 40e-3)


@pytest.fixture
def made_up(monkeypatch):
    """Reflection that falls as the square of the length and just meets the limit at the least."""
    asked = []

    def worst(self, part, s_error):
        asked.append((part, s_error))
        return LARGEST * (least_length(part) / part.axis_length) ** 2, 1e-8

    monkeypatch.setattr("solver.searches.sized_parts.KnownSizes.worst", worst)
    return asked


def test_the_shortest_profile_is_found_and_the_plain_one_stands_beside_it(made_up):
    found = shortest(BEND, BAND, LIMIT)
    assert found.best.profile == "smooth"
    # the closest onsets that are tried lie 0.0125 apart
    assert abs(found.best.onset - 0.43) <= 0.0125
    assert found.best.length == pytest.approx(30e-3, abs=5e-5)
    assert found.plain.length == pytest.approx(40e-3, abs=5e-5)
    assert found.gain == pytest.approx(10e-3, abs=1e-4)
    assert found.exit_code == 0
    for proof in (found.plain_proof, found.best_proof):
        assert proof.holds
        assert proof.part.axis_length >= least_length(proof.part)
        fresh = [s_error for part, s_error in made_up if part == proof.part]
        assert min(fresh) == pytest.approx(1e-6)  # a tenth of 1e-5


def test_a_profile_that_cannot_be_shorter_costs_one_part(made_up):
    found = shortest(BEND, BAND, LIMIT)
    for shape in found.tried:
        if "fails at" in shape.note:
            assert sum(part.onset == shape.onset for part, _ in made_up) == 1
            best = float(shape.note.split()[2]) * 1e-3
            assert least_length(Bend(WR90, "E", 1.0, 1.0, "smooth", shape.onset)) > best - 1e-5
    assert sum("fails at" in shape.note for shape in found.tried) > 3


def test_an_arc_that_nothing_beats_is_its_own_answer(made_up, monkeypatch):
    monkeypatch.setattr(f"{__name__}.least_length", lambda part: 30e-3 + 40e-3 * part.onset)
    found = shortest(BEND, BAND, LIMIT)
    assert found.best is found.plain and found.best_proof is found.plain_proof
    assert found.gain == 0.0
    assert "No other profile that was tried is shorter" in shortest_text(found)


def test_what_a_fresh_solution_does_not_confirm_is_not_told_as_found(monkeypatch):
    def worst(self, part, s_error):
        more = 1.5 if s_error < 1e-5 else 1.0
        return more * LARGEST * (least_length(part) / part.axis_length) ** 2, 1e-8

    monkeypatch.setattr("solver.searches.sized_parts.KnownSizes.worst", worst)
    found = shortest(BEND, BAND, LIMIT)
    assert not found.best_proof.holds
    assert found.exit_code == 3
    assert "does not confirm" in shortest_text(found)
    assert shortest_result_of(found)["shortest"]["meets"] is False


def test_a_limit_that_no_part_meets_gives_no_part(monkeypatch):
    monkeypatch.setattr(
        "solver.searches.sized_parts.KnownSizes.worst", lambda self, part, s_error: (0.5, 1e-6)
    )
    found = shortest(BEND, BAND, LIMIT)
    assert found.best is None and found.exit_code == 3
    assert "No part was found" in shortest_text(found)
    assert shortest_result_of(found)["gain_mm"] is None


def test_what_is_told_holds_every_profile(made_up, monkeypatch):
    monkeypatch.setenv("COLUMNS", "160")
    found = shortest(BEND, BAND, LIMIT)
    told = json.loads(json.dumps(shortest_result_of(found)))
    assert told["gain_mm"] == pytest.approx(
        told["plain"]["length_mm"] - told["shortest"]["length_mm"]
    )
    assert len(told["tried"]) == len(found.tried) == len(shortest_csv(found).splitlines()) - 1
    text = shortest_text(found)
    assert text.count("smooth profile with onset") == len(found.tried)  # and once in the answer
    assert "Gain over the plain one: 10" in text


def test_the_search_ends_when_its_time_is_up(made_up):
    with pytest.raises(StudyError, match="ended after 0 minutes at profile 1, constant"):
        shortest(BEND, BAND, LIMIT, most_minutes=0.0)


def test_progress_names_the_profile(made_up):
    told = []
    shortest(BEND, BAND, LIMIT, progress=lambda step, share=None: told.append(step))
    assert told[0].startswith("profile 1, constant")
    assert any(step.startswith("profile 2, smooth 0.5") for step in told)
    assert told[-1].startswith("verifying, smooth")


def test_tapers_have_their_profiles_and_corners_none():
    taper = Taper(WR90, standard_guide("WR-75"), 30e-3, "hecken")
    assert profiles_of(taper)[0].profile == "linear"
    assert len(profiles_of(taper)) == 5
    with pytest.raises(UnsupportedPartError, match="only bends, twists and tapers"):
        profiles_of(Corner(WR90, "E", 1.0))


def test_a_limit_under_the_accuracy_is_refused():
    with pytest.raises(StudyError, match="under twice the accuracy"):
        shortest(BEND, BAND, LIMIT, s_error=1e-2)
