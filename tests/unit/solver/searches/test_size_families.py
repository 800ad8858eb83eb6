"""How closely the parts of a family are solved."""

import math

import pytest

from geometries.shapes.guides import standard_guide
from geometries.shapes.twists import Twist
from solver.searches.point_store import PointStore
from solver.searches.size_families import family_of
from solver.searches.sized_parts import KnownSizes
from solver.studies.band import Band

BAND = Band(8.2e9, 12.4e9, 11)
TWIST = Twist(standard_guide("WR-90"), math.pi / 2, 50e-3)
LARGEST = 0.02


def falling(length):
    """|S11| that passes the limit at 60 mm."""
    return LARGEST * (60e-3 / length) ** 2


def solved(true=falling):
    """A family of made-up twists, and what was asked of each length."""
    asked = {}

    def worst_of(part, error):
        asked.setdefault(part.length, []).append(error)
        return true(part.length), 0.5 * error

    return family_of(TWIST, BAND, LARGEST, worst_of, 1e-4), asked


def test_the_farther_from_the_limit_the_coarser_a_length_is_solved():
    family, asked = solved()
    for length in (10e-3, 20e-3, 30e-3, 58e-3, 60.001e-3, 100e-3):
        worst, bar = family.worst(length)
        assert abs(worst - LARGEST) > 3 * bar or asked[length][-1] == 1e-4
    assert asked[10e-3] == [0.1]
    assert asked[60.001e-3][-1] == 1e-4
    # a fifth of what was last known to part a length from the limit
    assert asked[30e-3] == [pytest.approx(0.2 * (falling(20e-3) - LARGEST))]


def test_a_length_that_is_closer_than_expected_is_solved_again():
    family, asked = solved(lambda length: 1.0 if length < 20e-3 else LARGEST * 1.001)
    family.worst(10e-3)
    _, bar = family.worst(30e-3)
    assert asked[30e-3] == [0.1, pytest.approx(1e-3), 1e-4]
    # what the port modes that are left out may bring is counted on top
    assert bar == pytest.approx(0.5e-4 + 1e-6)


def test_between_two_lengths_the_limit_is_expected():
    family, asked = solved()
    for length in (58e-3, 62e-3, 60.0001e-3):
        family.worst(length)
    assert asked[60.0001e-3] == [1e-4]


@pytest.mark.parametrize(
    ("profile", "length"), [("uniform", 9e-3), ("uniform", 20e-3), ("raised-cosine", 16e-3)]
)
def test_a_coarse_answer_keeps_its_bar(profile, length):
    part = Twist(TWIST.guide, TWIST.angle, length, profile=profile)
    known = KnownSizes(BAND, None, PointStore(None))
    coarse, bar = known.worst(part, 0.1)
    close, its_bar = known.worst(part, 6e-3)
    assert 1e-12 < abs(coarse - close) <= bar + its_bar
    assert bar < 0.1
