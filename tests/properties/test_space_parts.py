"""Parts solved in three dimensions, against exact answers and against the plane solver."""

import math

import numpy as np
import pytest

from geometries.shapes.bends import Bend
from geometries.shapes.guides import CircularGuide, RectangularGuide, standard_guide
from geometries.shapes.straights import Straight
from geometries.shapes.tapers import Taper
from geometries.shapes.twists import Twist
from solver.parts.plane_solver import solve_in_plane
from solver.parts.space_parts import space_problem, symmetry_of
from solver.parts.space_solver import apart, solve_in_space
from solver.waves.guide_modes import SPEED_OF_LIGHT, phase_constant

GUIDE = standard_guide("WR-90")
BAND = np.array([8.2e9, 9.7e9, 11.1e9, 12.4e9])


def solved(part, s_error, frequency=BAND):
    solution = solve_in_space(space_problem(part, frequency, s_error), frequency, s_error)
    count = len(solution.problem.modes[0])
    s = solution.found.s
    return solution, s[:, 0, 0], s[:, count, 0]


def test_straight_guide_only_turns_the_phase():
    length = 17e-3
    solution, s11, s21 = solved(Straight(GUIDE, length), 1e-4)
    exact = np.exp(-1j * phase_constant(GUIDE, BAND) * length)
    assert solution.found.reached
    assert (np.abs(s11) < solution.found.error).all()
    assert (np.abs(s21 - exact) < solution.found.error).all()


@pytest.mark.slow
def test_circular_guide_carries_its_dominant_mode():
    guide, length = CircularGuide(27e-3), 12e-3
    solution, s11, s21 = solved(Straight(guide, length), 1e-3)
    wavenumber = 1.841183781340659 / 13.5e-3  # first zero of J_1', Abramowitz and Stegun 9.5.27
    beta = np.sqrt((2 * np.pi * BAND / SPEED_OF_LIGHT) ** 2 - wavenumber**2)
    assert solution.problem.modes[0][0].name == "TE11"
    assert (np.abs(s11) < solution.found.error).all()
    assert (np.abs(s21 - np.exp(-1j * beta * length)) < solution.found.error).all()


@pytest.mark.slow
@pytest.mark.parametrize(("plane", "radius"), [("E", 14e-3), ("E", 30e-3), ("H", 30e-3)])
def test_bend_agrees_with_the_plane_solver(plane, radius):
    bend = Bend(GUIDE, plane, math.radians(70.0), radius)
    exact = solve_in_plane(bend, BAND, 1e-7)
    solution, s11, s21 = solved(bend, 1e-4)
    assert solution.found.reached
    assert (np.abs(s11 - exact.s[:, 0, 0]) < solution.found.error).all()
    assert (np.abs(s21 - exact.s[:, exact.problem.modes.count, 0]) < solution.found.error).all()


def test_no_twist_to_speak_of_is_a_straight_guide():
    length = 15e-3
    _, s11, s21 = solved(Twist(GUIDE, math.radians(0.01), length), 1e-3)
    exact = np.exp(-1j * phase_constant(GUIDE, BAND) * length)
    assert np.abs(s11).max() < 1e-3
    assert np.abs(s21 - exact).max() < 1e-3


def test_twist_is_the_same_from_both_ends_and_turns_either_way():
    angle, length = math.radians(50.0), 25e-3
    solution, s11, s21 = solved(Twist(GUIDE, angle, length), 2e-3)
    count = len(solution.problem.modes[0])
    s = solution.found.s
    assert np.abs(s[:, count, count] - s11).max() < 2 * solution.found.error.max()
    assert np.abs(s[:, 0, count] - s21).max() < 1e-9


def test_size_and_frequency_scale_together():
    half = RectangularGuide(GUIDE.broad_width / 2, GUIDE.narrow_height / 2)
    to_half = RectangularGuide(14.2495e-3 / 2, 9e-3 / 2)
    whole = Taper(GUIDE, RectangularGuide(14.2495e-3, 9e-3), 20e-3)
    high = np.array([11.5e9, 12.4e9])
    _, one, _ = solved(whole, 1e-2, high)
    _, other, _ = solved(Taper(half, to_half, 10e-3), 1e-2, 2 * high)
    assert np.abs(one - other).max() < 1e-7


def test_modes_that_symmetry_keeps_apart_are_named():
    taper = Taper(GUIDE, RectangularGuide(40e-3, 12e-3), 30e-3)
    problem = space_problem(taper, BAND, 1e-3)
    assert apart(problem, BAND[-1]) == ("2:TE20",)
    assert [mode.name for mode in problem.modes[1]][:2] == ["TE10", "TE30"]
    assert symmetry_of(taper)((1, 0))
    assert not symmetry_of(taper)((0, 0))
