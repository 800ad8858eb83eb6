"""Flexible guides: a row of condensed pieces against one mesh, bends, theory, and other answers."""

import math

import numpy as np
import pytest

from geometries.shapes.bends import Bend
from geometries.shapes.flexibles import Flexible
from geometries.shapes.guides import standard_guide
from solver.closed_forms.convolutions import bragg_stopband, convolution_reflection
from solver.fem.level_search import search_levels
from solver.judgement.assess_part import assess
from solver.parts.flexible_problem import FlexibleProblem
from solver.parts.flexible_solver import lossy_flexible, solve_flexible, solved_flexible
from solver.parts.plane_solver import solve_in_plane
from solver.studies.band import Band
from solver.studies.limits import Limit
from solver.waves.guide_power import attenuation_te10
from solver.waves.walls import Walls
from tests.references.swept_values import FREQUENCIES, read_values

GUIDE = standard_guide("WR-90")
BAND = np.linspace(8.4e9, 12.2e9, 7)
MM = 1e-3


def solved(part, s_error=1e-3, whole=False, frequency=BAND):
    return solve_flexible(FlexibleProblem(part, frequency, s_error, whole), frequency, s_error)


def among_te10(solution):
    row = len(solution.problem.modes[0])
    return solution.found.s[:, [0, row]][:, :, [0, row]]


def largest_difference(one, other):
    return np.abs(among_te10(one) - among_te10(other)).max()


@pytest.mark.slow
@pytest.mark.parametrize("count", [2, 5])
def test_a_row_is_the_whole_in_one_mesh(count):
    part = Flexible(GUIDE, 11 * MM, 1.7 * MM, count)
    row, whole = solved(part), solved(part, whole=True)
    assert row.found.reached and whole.found.reached
    assert row.found.order == whole.found.order
    # of the same elements: all that differs is what the condensation leaves out
    assert largest_difference(row, whole) < row.found.steps[-1]["condensation"] < 1e-4


def transfer(s):
    """From the waves at port 2, forwards and backwards, to those at port 1, (n, 2, 2)."""
    s11, s12, s21, s22 = s[:, 0, 0], s[:, 0, 1], s[:, 1, 0], s[:, 1, 1]
    rows = [[np.ones_like(s11), -s22], [s11, s12 * s21 - s11 * s22]]
    return np.array(rows).transpose(2, 0, 1) / s21[:, None, None]


@pytest.mark.slow
def test_a_long_row_is_the_power_of_short_pieces_in_one_mesh():
    # what one convolution adds is the quotient of two short pieces: their ends cancel, and what
    # decays has done so over three convolutions, to 1e-5 for TE30
    count, frequency = 120, np.array([8.9e9, 9.3e9])

    def part(n):
        return Flexible(GUIDE, 11 * MM, 1.7 * MM, n)

    row = solved(part(count), 1e-2, frequency=frequency)
    short = []
    for n in (3, 4):
        problem = FlexibleProblem(part(n), frequency, 1e-2, whole=True)
        problem.orders = {0: (row.found.order,)}
        found = search_levels(problem, 1e-2)
        places = [0, len(problem.modes[0])]
        short.append(transfer(found.s[:, places][:, :, places]))
    cell = short[1] @ np.linalg.inv(short[0])
    power = np.array([np.linalg.matrix_power(one, count - 3) for one in cell])
    difference = np.abs(transfer(among_te10(row)) - power @ short[0]).max()
    # errors of one convolution add up a hundred times
    assert difference < 1e-3
    assert difference < row.found.error.min()


@pytest.mark.slow
@pytest.mark.parametrize("plane", ["E", "H"])
def test_a_slight_bend_is_straight(plane):
    sizes = (GUIDE, 14 * MM, 1.5 * MM, 2, "sinusoidal")
    # the bend itself reflects by the square of the angle
    bent = Flexible(*sizes, plane, math.radians(0.05))
    assert largest_difference(solved(bent, 1e-2), solved(Flexible(*sizes), 1e-2)) < 3e-3


@pytest.mark.slow
@pytest.mark.parametrize("plane", ["E", "H"])
def test_convolutions_too_shallow_to_see_leave_a_bend(plane):
    part = Flexible(GUIDE, 14 * MM, 1e-3 * MM, 2, "sinusoidal", plane, 0.7)
    bend = Bend(GUIDE, plane, 0.7, part.mean_radius)
    found, exact = solved(part, 3e-3), solve_in_plane(bend, BAND, 1e-5)
    row = len(exact.problem.port_modes) // 2
    expected = exact.s[:, [0, row]][:, :, [0, row]]
    # a depth of 1 um turns the phase by beta L d/a and less
    assert np.abs(among_te10(found) - expected).max() < found.found.error.max() + 3e-4


@pytest.mark.slow
def test_shallow_convolutions_reflect_as_the_first_order_says():
    part = Flexible(GUIDE, 18 * MM, 0.1 * MM, 8)
    below = np.linspace(8.4e9, 9.6e9, 7)
    found = solved_flexible(part, below, 1e-4, None, None)
    first = convolution_reflection(part, below)
    off = np.abs(found.s[:, 0, 0] - first).max()
    assert found.error.max() < 1e-4
    # the second order is a few times d/pitch of it
    assert off < 0.03 * np.abs(first).max()
    assert found.periodic().stopbands == ()


def test_the_first_stopband_is_that_of_coupled_waves():
    part = Flexible(GUIDE, 18 * MM, 0.1 * MM, 8)
    about = np.linspace(10.4e9, 10.8e9, 5)
    guide = solved_flexible(part, about, 1e-3, None, None).periodic()
    (found,), expected = guide.stopbands, bragg_stopband(part)
    width = expected[1] - expected[0]
    assert found[1] - found[0] == pytest.approx(width, rel=0.02)
    assert np.abs(np.array(found) - expected).max() < 0.02 * width
    assert guide.stopband_error < 0.02 * width
    assert "touches the band" in guide.cautions[0]


@pytest.mark.slow
def test_what_a_stopband_does_between_the_points_is_found():
    part = Flexible(GUIDE, 18 * MM, 2 * MM, 10)
    listed = [9.0e9, 11.4e9]
    answer = assess(part, Band.at(listed), limit=Limit(vswr=20.0), s_error=1e-3)
    # every frequency of a fine comb, by the problem alone
    comb = np.linspace(9.0e9, 11.4e9, 2001)
    s11 = np.abs(among_te10(solved(part, 1e-3, frequency=comb))[:, 0, 0]).max()
    assert np.abs(answer.scattering.s11).max() < 0.7
    assert np.abs(answer.over_band.s11).max() > s11 - 1e-3
    assert s11 > 0.9
    assert answer.verdict.outcome == "exceeds"
    assert any("stopband" in reason for reason in answer.verdict.reasons)
    assert answer.periodic.stopbands[0][0] > 9.0e9


def bent(pitch, depth, count, plane, angle):
    """A flexible guide along an arc, its sizes in mm and degrees."""
    sizes = (pitch * MM, depth * MM, count)
    return Flexible(GUIDE, *sizes, "sinusoidal", plane, math.radians(angle))


@pytest.mark.slow
@pytest.mark.parametrize(
    ("name", "part", "s_error"),
    [
        ("flexible", Flexible(GUIDE, 10 * MM, 2 * MM, 2), 1e-3),
        ("flexible", Flexible(GUIDE, 10 * MM, 2 * MM, 2), 1e-4),
        ("steep flexible", Flexible(GUIDE, 5 * MM, 2.5 * MM, 3), 6e-3),
        ("flexible bent in E", bent(10, 2, 3, "E", 60), 1e-3),
        ("flexible bent in H", bent(10, 2, 3, "H", 60), 1e-3),
        ("fine flexible bent in E", bent(5, 1.5, 6, "E", 45), 1e-3),
        ("tight flexible bent in H", bent(8, 3, 4, "H", 90), 1e-2),
    ],
)
def test_answer_is_within_its_bar_of_another_library(name, part, s_error):
    exact, doubt = read_values()[name]
    found = solved(part, s_error, frequency=np.array(FREQUENCIES))
    assert found.found.reached
    s = among_te10(found)
    ours = np.stack([s[:, 0, 0], s[:, 1, 0], s[:, 1, 1]], axis=1)
    assert doubt < found.found.error.max()
    assert np.all(np.abs(ours - exact).max(axis=1) < found.found.error + doubt)


@pytest.mark.slow
@pytest.mark.parametrize("seed", [411, 902, 517])
def test_random_pieces_keep_within_their_bars(seed):
    random = np.random.default_rng(seed)
    pitch = random.uniform(6, 16) * MM
    plane = ("", "E", "H")[seed % 3]
    depth = random.uniform(0.1, 0.3) * pitch
    part = Flexible(
        GUIDE, pitch, min(depth, 3 * MM), int(random.integers(2, 6)), "sinusoidal", plane,
        0.25 if plane else 0.0,
    )  # fmt: skip
    loose, sharp = solved(part, 1e-2), solved(part, 6e-4)
    assert loose.found.reached and sharp.found.error.max() < 0.3 * loose.found.error.max()
    assert largest_difference(loose, sharp) < loose.found.error.max() + sharp.found.error.max()


@pytest.mark.slow
def test_walls_lose_as_plain_ones_where_convolutions_are_shallow():
    part = Flexible(GUIDE, 12 * MM, 0.01 * MM, 6)
    walls = Walls(5.8e7)
    found = solved_flexible(part, BAND, 1e-3, walls, None)
    alone = 20 * np.log10(np.e) * attenuation_te10(GUIDE, BAND, 5.8e7) * part.axis_length
    np.testing.assert_allclose(found.periodic().extra_loss / alone, 0.0, atol=0.01)


@pytest.mark.slow
def test_a_row_loses_what_the_whole_loses():
    part = Flexible(GUIDE, 14 * MM, 2 * MM, 2)
    row, whole = solved(part, 3e-3), solved(part, 3e-3, whole=True)
    assert row.found.order == whole.found.order
    with_walls = [lossy_flexible(solution, 5.8e7)(BAND).s for solution in (row, whole)]
    heat = [1 - (np.abs(s[:, :, 0]) ** 2).sum(axis=1) for s in with_walls]
    np.testing.assert_allclose(heat[0], heat[1], rtol=2e-3)
