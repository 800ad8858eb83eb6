"""Runs of parts of both planes and of none, against one solution in space of all of them."""

import math

import numpy as np
import pytest

from geometries.shapes.bends import Bend
from geometries.shapes.corners import Corner
from geometries.shapes.guides import RectangularGuide, standard_guide
from geometries.shapes.straights import Straight
from geometries.shapes.tapers import Taper
from geometries.shapes.twists import Twist
from solver.runs import near_sections, near_space
from solver.runs.cluster import NearJoint
from solver.runs.run_parts import run
from solver.studies.band import Band
from solver.studies.run_study import RunPart
from solver.waves.walls import Walls
from tests.references import mixed_chains as chains

MM = 1e-3
SMALL, LARGE = (22.86, 10.16), (25.4, 12.7)
GUIDE = standard_guide("WR-90")


def guide(size):
    return RectangularGuide(size[0] * MM, size[1] * MM)


class Chain:
    """A run and the segments of its reference, part by part."""

    def __init__(self, size=SMALL):
        self.size, self.first, self.turned = size, size, False
        self.parts, self.segments = [], []

    def gap(self, length):
        self.parts.append(Straight(guide(self.size), length * MM))
        self.segments.append(chains.straight(self.size, length))

    def _placed(self, part, turned):
        turn = math.pi if turned != self.turned else 0.0
        self.turned = turned
        self.parts.append(RunPart(part, turn=turn))

    def bend(self, plane, degrees, radius, turned=False):
        angle = math.radians(degrees)
        self._placed(Bend(guide(self.size), plane, angle, radius * MM), turned)
        self.segments.append(chains.bend(self.size, plane, angle, radius, turned))

    def corner(self, plane, degrees, before, behind, turned=False):
        angle = math.radians(degrees)
        self.parts.append(Straight(guide(self.size), before * MM))
        self._placed(Corner(guide(self.size), plane, angle), turned)
        self.parts.append(Straight(guide(self.size), behind * MM))
        self.segments += chains.corner(self.size, plane, angle, before, behind, turned)

    def twist(self, degrees, length):
        angle = math.radians(degrees)
        self.parts.append(Twist(guide(self.size), angle, length * MM))
        self.segments.append(chains.twist(self.size, angle, length))

    def taper(self, size, length):
        self.parts.append(Taper(guide(self.size), guide(size), length * MM))
        self.segments.append(chains.taper(self.size, size, length))
        self.size = size

    def references(self, frequencies, orders, **cells):
        """Answers of two orders, the better last."""
        ends, highest = (self.first, self.size), max(frequencies)
        made = (
            chains.ChainReference(self.segments, ends, highest, order, **cells) for order in orders
        )
        return [np.array([one.scattering(f) for f in frequencies]) for one in made]


@pytest.mark.parametrize("plane", ["E", pytest.param("H", marks=pytest.mark.slow)])
def test_modes_of_all_families_are_those_in_space(plane):
    part, feeds = Bend(GUIDE, plane, math.pi / 3, 0.016), (4 * MM, 20 * MM)
    frequency = np.array([8.8e9, 11.3e9])
    highest = near_space.highest_wavenumber(GUIDE, NearJoint(20 * MM), 1e-2), None
    kept = [
        near_space.kept_modes(GUIDE, feed, most, lambda _: True, frequency, 1e-3)
        for feed, most in zip(feeds, highest, strict=True)
    ]
    flat = near_sections.near_member(part, feeds, kept, frequency, 1e-3, None)
    solid = near_space.member_in_space(part, feeds, kept, lambda _: True, frequency, 1e-3, None)
    exact, rough = (solid.levels[depth](frequency) for depth in (-1, -2))
    doubt = np.abs(exact - rough)
    assert flat.levels[-1](frequency) == pytest.approx(exact, abs=2e-6 + 4 * doubt.max())
    first = [mode.wavenumber < 2.6 * math.pi / GUIDE.broad_width for mode in kept[0]]
    low = np.flatnonzero(first)
    assert len(low) >= 5
    ours, theirs = (s[:, low[:, None], low] for s in (flat.levels[-1](frequency), exact))
    assert ours == pytest.approx(theirs, abs=5e-6)


@pytest.mark.slow
def test_a_half_turn_between_near_parts_keeps_the_frame_of_the_end():
    # as between parts far apart: the frame at the far end is carried along the axis
    bend, other = (Bend(GUIDE, plane, 0.5, 0.03) for plane in "EH")
    band, gap = Band.at([9.6e9]), Straight(GUIDE, 8 * MM)
    plain, turned = (
        run([bend, gap, RunPart(other, turn=turn)], band, s_error=1e-4) for turn in (0.0, math.pi)
    )
    assert "in space" in plain.near[0] and "in space" in turned.near[0]
    assert np.abs(turned.scattering.s - plain.scattering.s).max() < 0.1


@pytest.mark.slow
@pytest.mark.parametrize("plane", ["E", "H"])
def test_what_walls_do_beside_te10_is_in_the_bar(plane):
    part, feeds = Bend(GUIDE, plane, math.pi / 3, 0.018), (6 * MM, 20 * MM)
    frequency, walls = np.array([9.0e9, 11.2e9]), Walls(5.8e6)
    highest = near_space.highest_wavenumber(GUIDE, NearJoint(20 * MM), 1e-2), None
    kept = [
        near_space.kept_modes(GUIDE, feed, most, lambda _: True, frequency, 1e-3)
        for feed, most in zip(feeds, highest, strict=True)
    ]
    flat = near_sections.near_member(part, feeds, kept, frequency, 1e-3, walls)
    solid = near_space.member_in_space(part, feeds, kept, lambda _: True, frequency, 1e-3, walls)
    first = [0, len(kept[0])]
    ours, theirs = (one.lossy(frequency) for one in (flat, solid))
    lost = np.abs(ours - flat.levels[-1](frequency)).max()
    assert lost > 5e-4
    assert np.abs(ours - theirs)[:, first][:, :, first].max() < 0.01 * lost
    # of the others S is that without walls, and the share says how far that may be off
    off = np.abs(ours - theirs).reshape(len(frequency), -1).max(axis=1)
    assert (off < flat.share(frequency)).all()


@pytest.mark.slow
def test_near_parts_of_both_planes_are_one_solution_of_all():
    pytest.importorskip("ngsolve")
    chain = Chain()
    chain.corner("H", 40, 0.5, 6)
    chain.bend("E", 60, 15, turned=True)
    chain.gap(6)
    chain.bend("H", 45, 20)
    frequencies = [10.9e9]
    joined = run(chain.parts, Band.at(frequencies), s_error=1e-2)
    assert "in space" in joined.near[0] and not joined.cautions
    rough, exact = chain.references(frequencies, (3, 4), across=((2, 1), (1, 0)))
    difference = np.abs(joined.scattering.s - exact).max(axis=(1, 2))
    doubt = np.abs(exact - rough).max(axis=(1, 2))
    assert (doubt < 1e-3).all()
    assert (difference < joined.scattering.error + doubt).all()
    assert joined.scattering.error.max() < 3e-3


@pytest.mark.slow
def test_ten_mixed_parts_are_one_solution_of_all_ten():
    pytest.importorskip("ngsolve")
    chain = Chain()
    chain.bend("E", 70, 16)
    chain.gap(14)
    chain.bend("H", 50, 24, turned=True)
    chain.gap(22)
    chain.taper(LARGE, 14)
    chain.gap(17)
    chain.bend("E", 35, 18, turned=True)
    chain.gap(25)
    chain.twist(90, 34)
    chain.gap(20)
    chain.bend("H", 60, 26)
    chain.gap(18)
    chain.bend("E", 45, 20)
    chain.gap(15)
    chain.taper(SMALL, 18)
    chain.gap(19)
    chain.bend("H", 25, 22, turned=True)
    chain.gap(16)
    chain.bend("E", 80, 14)
    frequencies = [9.3e9]
    joined = run(chain.parts, Band.at(frequencies), s_error=1e-2)
    rough, exact = chain.references(frequencies, (3, 4))
    difference = np.abs(joined.scattering.s - exact).max(axis=(1, 2))
    doubt = np.abs(exact - rough).max(axis=(1, 2))
    assert (doubt < 1e-3).all()
    assert (difference < joined.scattering.error + doubt).all()
    assert joined.scattering.error.max() < 1e-2
