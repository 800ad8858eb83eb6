"""The chain of a run against closed forms and against brute force."""

from dataclasses import replace

import numpy as np
import pytest

from solver.runs.chain import NOTHING_KNOWN, Chain
from solver.runs.chain_answers import Line
from solver.runs.chain_band import chain_band, worst_with_end
from solver.runs.worst_case import worst_case
from solver.waves.cascade import Junction, joined, straight_junction
from solver.waves.guide_lines import phase_constant_of, share_after_turn
from solver.waves.guide_modes import phase_constant
from solver.waves.space_modes import SpaceMode
from solver.waves.walls import Walls
from tests.unit.solver.runs.made_up_parts import BAND, GUIDE, obstacle


def line(length):
    return Line(GUIDE, length)


def junction(part, frequency):
    return Junction.of_matrix(part.at(frequency)[0], 1)


def test_chain_is_the_star_product_of_its_parts():
    parts = [obstacle(0.3, 0.2), obstacle(0.5, 1.0), obstacle(0.1, -2.0)]
    lengths = [0.011, 0.043, 1.7, 0.2]
    found = Chain(parts, [line(length) for length in lengths]).answers(BAND)
    beta = phase_constant(GUIDE, BAND)[:, None]
    whole = straight_junction(beta, lengths[0])
    for part, length in zip(parts, lengths[1:], strict=True):
        whole = joined(whole, junction(part, BAND))
        whole = joined(whole, straight_junction(beta, length))
    assert np.abs(found.s - whole.matrix).max() < 1e-12


@pytest.mark.parametrize("size", [0.1, 0.9])
def test_no_error_of_the_parts_moves_the_run_beyond_its_bar(size):
    random = np.random.default_rng(20817)
    bar = 3e-3
    lines = [line(0.0), line(0.06), line(0.0)]
    parts = [obstacle(size, 0.2, bar), obstacle(size, 1.0, bar)]
    told = Chain(parts, lines).answers(BAND)
    closest = 0.0
    for _ in range(60):
        moved = []
        for part in parts:
            turn = np.exp(2j * np.pi * random.random((1, 2, 2)))
            moved.append(replace(part, s=part.s + bar * turn))
        change = np.abs(Chain(moved, lines).answers(BAND).s - told.s).reshape(len(BAND), -1)
        assert (change.max(axis=1) <= told.error).all()
        closest = max(closest, float((change.max(axis=1) / told.error).max()))
    assert closest > 0.3


def test_a_resonance_sharper_than_the_bars_leaves_nothing_known():
    parts = [obstacle(0.999, 0.2, 0.02), obstacle(0.999, 1.0, 0.02)]
    found = chain_band(Chain(parts, [line(0.0), line(0.06), line(0.0)]), BAND, "ab", 0.0)
    assert found.answers.error.max() == NOTHING_KNOWN


@pytest.mark.parametrize("size", [0.9, 0.9999])
def test_a_cavity_between_two_parts_is_found_between_the_points(size):
    length = 0.06
    chain = Chain([obstacle(size), obstacle(size)], [line(0.0), line(length), line(0.0)])
    listed = np.linspace(8.2e9, 12.4e9, 11)
    assert np.abs(chain.answers(listed).s[:, 1, 0]).max() < 0.5
    found = chain_band(chain, listed, ["first corner", "second corner"], 0.0)
    fine = np.linspace(8.2e9, 12.4e9, 400001)
    # round trip in phase: 2 beta L - 2 (phase of the reflection) a whole number of turns
    turns = (phase_constant(GUIDE, fine) * length - 0.3) / np.pi
    exact = fine[1:][np.diff(np.floor(turns)) > 0]
    assert len(found.resonances) == len(exact) == 3
    for resonance, frequency in zip(found.resonances, exact, strict=True):
        assert resonance.frequency == pytest.approx(frequency, abs=resonance.width + 2e4)
        assert resonance.about == "between first corner and second corner"
        slope = (
            2
            * length
            * np.gradient(phase_constant(GUIDE, fine), fine)[np.searchsorted(fine, frequency)]
        )
        width = -np.log(size**2) / slope
        assert resonance.width == pytest.approx(width, rel=0.02)
    assert np.abs(found.answers.s[:, 1, 0]).max() > 0.999


def test_long_lines_are_followed():
    r = 0.05
    chain = Chain([obstacle(r), obstacle(r)], [line(0.0), line(12.0), line(0.0)])
    found = chain_band(chain, np.linspace(8.2e9, 12.4e9, 11), ["a", "b"], 0.0)
    top = 2 * r / (1 + r**2)
    assert np.abs(found.answers.s[:, 0, 0]).max() == pytest.approx(top, rel=1e-5)
    assert found.resonances == ()


def test_worst_case_is_reached_by_some_lengths_and_passed_by_none():
    parts = [obstacle(0.1), obstacle(0.2, 1.0), obstacle(0.05, 2.0)]
    frequency = np.array([9.0e9])
    told = worst_case(parts, [line(0.1)] * 4, frequency, None, 0.07)
    first = (0.1 + 0.2) / (1 + 0.1 * 0.2)
    second = (first + 0.05) / (1 + first * 0.05)
    assert told.worst == pytest.approx((second + 0.07) / (1 + second * 0.07), rel=1e-12)
    beta = float(phase_constant(GUIDE, frequency)[0])
    most = 0.0
    for a in np.linspace(0.0, np.pi, 24, endpoint=False):
        for b in np.linspace(0.0, np.pi, 24, endpoint=False):
            chain = Chain(parts, [line(0.0), line(a / beta), line(b / beta), line(0.0)])
            found = chain.answers(frequency)
            worst, _ = worst_with_end(found.s, found.error, 1, 0.07)
            most = max(most, float(worst[0]))
    # what the two later parts add misses its phase by pi/24 at most: (1 - cos) 0.25/0.35
    assert 0.9935 * told.worst < most <= told.worst * (1 + 1e-12)


def test_end_of_any_phase():
    found = Chain([obstacle(0.4, 0.7)], [line(0.0), line(0.03)]).answers(BAND[:1])
    worst, _ = worst_with_end(found.s, found.error, 1, 0.25)
    load = 0.25 * np.exp(1j * np.linspace(0, 2 * np.pi, 20001))
    s = found.s[0]
    seen = np.abs(s[0, 0] + s[0, 1] * s[1, 0] * load / (1 - s[1, 1] * load))
    assert worst[0] == pytest.approx(seen.max(), rel=1e-6)


def test_what_is_without_the_part_to_improve():
    parts = [obstacle(0.1), obstacle(0.2)]
    told = worst_case(parts, [line(0.1)] * 3, BAND, None)
    assert told.without == pytest.approx((0.2, 0.1))
    assert told.likely == pytest.approx(np.hypot(0.1, 0.2 * 0.99), rel=1e-9)


def test_half_a_turn_of_a_rectangle_keeps_or_reverses_each_mode():
    # under half a turn E reverses and so do the coordinates: seen on the field itself
    x, y = np.array([[0.003], [0.001]])
    for kind, m, n in (("TE", 1, 0), ("TE", 2, 0), ("TE", 0, 1), ("TE", 1, 1), ("TM", 2, 1)):
        mode = SpaceMode(GUIDE, kind, m, n)
        sign = share_after_turn(mode, mode, np.pi)
        assert -mode.field(-x, -y) == pytest.approx(sign * mode.field(x, y), rel=1e-9)


@pytest.mark.parametrize("turn", [0.4, np.pi / 2, -1.1])
def test_turned_circular_modes_are_seen_in_the_new_frame(turn):
    from geometries.shapes.guides import CircularGuide

    guide = CircularGuide(27e-3)
    x, y = np.array([[0.004], [0.002]])
    cos, sin = np.cos(turn), np.sin(turn)
    for kind, m in (("TE", 1), ("TM", 1), ("TE", 2)):
        pair = [SpaceMode(guide, kind, m, 1), SpaceMode(guide, kind, m, 1, turned=True)]
        for one in pair:
            old = one.field(x, y)
            here = np.array([cos * x + sin * y, -sin * x + cos * y])
            seen = np.array([cos * old[0] + sin * old[1], -sin * old[0] + cos * old[1]])
            added = sum(share_after_turn(one, other, turn) * other.field(*here) for other in pair)
            assert added == pytest.approx(seen, rel=1e-9)


def test_a_polarisation_that_the_next_part_does_not_know_is_refused():
    from geometries.shapes.guides import CircularGuide
    from solver.errors import StudyError
    from solver.runs.near_parts import check_polarisation
    from solver.studies.run_chain import RunPart
    from solver.waves.guide_modes import dominant_cutoff
    from solver.waves.scattering import PortMode

    guide = CircularGuide(24e-3)
    modes = tuple(PortMode(port, "TE11", dominant_cutoff(guide)) for port in (1, 2))
    parts = [replace(obstacle(0.1), port_modes=modes)] * 2
    stations = [RunPart(None, "first"), RunPart(None, "second")]
    check_polarisation(stations, parts, [Line(guide, 0.1), Line(guide, 0.1, np.pi)])
    with pytest.raises(StudyError, match=r"second: turned by 90 degrees against first"):
        check_polarisation(stations, parts, [Line(guide, 0.1), Line(guide, 0.1, np.pi / 2)])


def test_a_bare_horn_radiates_what_it_does_not_return():
    """The same of a part whose far field is no sum of waves: there are none past its port."""
    one, walls, length = obstacle(0.3), Walls(5.8e7), 3.0
    horn = replace(one, port_modes=one.port_modes[:1], s=one.s[:, :1, :1], radiates=True)
    found = Chain([horn], [line(length)], walls).answers(BAND)
    mode = SpaceMode(GUIDE, "TE", 1, 0)
    passed = np.exp(2 * phase_constant_of(mode, BAND, walls).imag * length)
    assert found.radiated == pytest.approx(0.91 * passed, rel=1e-9)
    assert np.abs(found.leaked).max() == 0


def test_what_a_horn_radiates_is_neither_leaked_nor_lost():
    """A one-port that reflects 0.3, behind copper guide: the power that arrives and goes out."""
    one = obstacle(0.3)
    modes, s = one.port_modes[:1], one.s[:, :, :1]
    horn = replace(one, port_modes=modes, s=s, radiates=True)
    walls, length = Walls(5.8e7), 3.0
    found = Chain([horn], [line(length)], walls).answers(BAND)
    mode = SpaceMode(GUIDE, "TE", 1, 0)
    passed = np.exp(2 * phase_constant_of(mode, BAND, walls).imag * length)
    assert np.abs(found.leaked).max() == 0
    assert found.radiated == pytest.approx(0.91 * passed, rel=1e-9)
    leak = Chain([replace(horn, radiates=False)], [line(length)], walls).answers(BAND)
    assert np.abs(leak.radiated).max() == 0
    assert leak.leaked == pytest.approx(found.radiated, rel=1e-12)
