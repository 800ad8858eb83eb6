"""What a run is made of: straight guide parted from what is solved, shares of the error."""

import math

import pytest

from geometries.shapes.bends import Bend
from geometries.shapes.guides import RectangularGuide
from geometries.shapes.horns import RectangularHorn
from geometries.shapes.straights import Straight
from geometries.shapes.tapers import Taper
from solver.runs.near_parts import Neighbours
from solver.runs.run_units import joined_units, laid_out, part_error
from solver.studies.band import Band
from solver.studies.run_chain import RunPart
from tests.unit.solver.runs.made_up_parts import GUIDE, obstacle

BEND = RunPart(Bend(GUIDE, "E", 1.0, 0.02), "bend")


def straight(length, turn=0.0):
    return RunPart(Straight(GUIDE, length), turn=turn)


def test_straight_guide_adds_up_between_what_is_solved():
    run = [straight(0.1), straight(0.2, math.pi), BEND, BEND, straight(0.3)]
    stations, lines = laid_out(run)
    assert stations == [BEND, BEND]
    assert [line.length for line in lines] == pytest.approx([0.3, 0.0, 0.3])
    assert [line.turn for line in lines] == [math.pi, 0.0, 0.0]


def test_guide_behind_a_taper_is_the_wider_one():
    wide = RectangularGuide(30e-3, 12e-3)
    taper = Taper(GUIDE, wide, 0.05)
    _, lines = laid_out([straight(0.1), RunPart(taper), RunPart(Straight(wide, 0.2))])
    assert [line.guide for line in lines] == [GUIDE, wide]
    stations, lines = laid_out([RunPart(taper, backwards=True)])
    assert stations[0].guides == (wide, GUIDE)
    assert [line.guide for line in lines] == [wide, GUIDE]


def test_no_guide_goes_on_behind_a_horn():
    horn = RunPart(RectangularHorn(GUIDE, 60e-3, 40e-3, 0.1))
    stations, lines = laid_out([straight(0.1), horn])
    assert (len(stations), len(lines)) == (1, 1)


def test_a_run_of_straight_guide_alone_is_one_line():
    stations, lines = laid_out([straight(0.1), straight(0.2)])
    assert stations == [] and [line.length for line in lines] == pytest.approx([0.3])


@pytest.mark.parametrize("count", range(1, 40))
def test_shares_of_parts_in_space_add_up_to_half_of_what_is_wanted_at_most(count):
    share = part_error(1e-3, count)
    assert 0.25e-3 < count * share <= 0.5e-3
    # a power of two, so that it seldom changes
    assert math.log2(1e-3 / share) % 1 == pytest.approx(0.0, abs=1e-9)


def test_shares_have_a_floor_and_parts_in_a_plane_one_of_their_own():
    assert part_error(1e-4, 0) == pytest.approx(1e-4 / 64)
    assert part_error(1e-9, 0) == part_error(1e-9, 3) == 1e-9


def test_far_parts_are_units_of_their_own():
    stations, lines = laid_out([straight(0.1), BEND, straight(0.4), BEND, straight(0.2)])
    samples = [obstacle(0.1), obstacle(0.2)]
    beside = Neighbours((), (1e-7, 3e-7), ())
    band = Band(9e9, 10e9, 3)
    units = joined_units(stations, samples, lines, beside, band, 1e-4, None, {})
    assert units.samples == samples and units.lines == lines
    assert (units.names, units.owner, units.told) == (["bend", "bend"], [0, 1], [])
    assert units.doubts == [1e-7, 3e-7]
