"""Wall loss in three dimensions: straight guides, and one bend by two unlike solvers."""

import math

import numpy as np
import pytest

from geometries.shapes.bends import Bend
from geometries.shapes.corners import Corner
from geometries.shapes.guides import CircularGuide, standard_guide
from geometries.shapes.offsets import Offset
from geometries.shapes.straights import Straight
from geometries.shapes.twists import Twist
from geometries.space_meshes.swept_blocks import swept_mesh
from solver.parts.plane_losses import lossy_in_plane, lossy_scattering
from solver.parts.plane_solver import solve_in_plane
from solver.parts.space_losses import lossy_in_space, lossy_scattering_in_space
from solver.parts.space_parts import space_problem, symmetry_of
from solver.parts.space_solver import SpaceProblem, solve_in_space
from solver.waves.guide_modes import SPEED_OF_LIGHT
from solver.waves.guide_power import attenuation_te10
from tests.references.mode_attenuation import attenuation

COPPER = 5.8e7
GUIDE = standard_guide("WR-90")
BAND = np.array([8.2e9, 9.6e9, 11.0e9, 12.4e9])


def lossy(part, frequency, feed, couples):
    """Problem and lossy scattering matrices at a low order."""

    def make_mesh(refinement):
        return swept_mesh(
            part,
            wavelength=SPEED_OF_LIGHT / frequency[-1],
            refinement=refinement,
            feeds=(feed, feed),
        )

    problem = SpaceProblem(make_mesh, frequency, 0.1, {0: (6,)}, {0: 0.4}, couples)
    solution = solve_in_space(problem, frequency, 0.1)
    return problem, lossy_scattering_in_space(solution, COPPER)


@pytest.mark.parametrize("feed", [0.0125, 0.02])
def test_straight_rectangular_guide(feed):
    length = 0.03
    part = Straight(GUIDE, length)
    problem, s = lossy(part, BAND, feed, symmetry_of(part))
    count = len(problem.modes[0])
    loss = -np.log(np.abs(s[:, count, 0])) / length
    np.testing.assert_allclose(loss, attenuation_te10(GUIDE, BAND, COPPER), rtol=5e-4)
    assert np.abs(s[:, 0, 0]).max() < 1e-5


@pytest.mark.slow
def test_straight_circular_guide():
    guide, length = CircularGuide(27e-3), 0.02
    f = np.array([9.5e9, 12.0e9])
    keep = {(1, 0), (1, 1)}  # the classes of TE11 and of TM01
    problem, s = lossy(Straight(guide, length), f, 0.015, lambda c: c in keep)
    modes = problem.modes[0]
    names = [mode.name for mode in modes]
    for name in ("TE11", "TM01"):
        at = names.index(name)
        loss = -np.log(np.abs(s[:, len(modes) + at, at])) / length
        np.testing.assert_allclose(loss, attenuation(modes[at], f, COPPER), rtol=1e-3)
        assert np.abs(s[:, at, at]).max() < 1e-4


@pytest.mark.parametrize("plane", ["E", "H"])
def test_a_bend_loses_what_the_plane_solver_says(plane):
    part = Bend(GUIDE, plane, math.pi / 4, 0.03)
    problem, s = lossy(part, BAND, 0.0125, symmetry_of(part))
    flat = solve_in_plane(part, BAND, 1e-5)
    expected = lossy_scattering(flat, COPPER)
    here = s[:, [0, len(problem.modes[0])], 0]
    there = expected[:, [0, flat.problem.modes.count], 0]
    heat, reference = (1 - (np.abs(x) ** 2).sum(axis=1) for x in (here, there))
    np.testing.assert_allclose(heat, reference, rtol=5e-3)
    assert np.abs(here - there).max() < 1e-4


def test_a_twist_loses_more_than_the_straight_guide_but_not_much():
    # its walls are longer than its axis: the corner's path by sqrt(1 + (rate radius)^2), 11 %
    part = Twist(GUIDE, math.pi / 4, 0.02)
    problem, s = lossy(part, BAND, 0.0125, symmetry_of(part))
    out = np.abs(s[:, [0, len(problem.modes[0])], 0]) ** 2
    straight = 1 - np.exp(-2 * part.length * attenuation_te10(GUIDE, BAND, COPPER))
    excess = (1 - out.sum(axis=1)) / straight - 1
    assert (excess > 0).all()
    assert (excess < 0.25).all()


@pytest.mark.slow
@pytest.mark.parametrize(("shift", "s_error"), [("shift_x", 1e-5), ("shift_y", 1e-3)])
def test_bar_covers_the_slow_loss_at_sharp_edges(shift, s_error):
    """Currents go as r^(-1/3) at the rim; the plane's mesh has twice the layers there."""
    part = Offset(GUIDE, **{shift: 2e-3})
    flat = solve_in_plane(part, BAND, 1e-7)
    expected = lossy_scattering(flat, COPPER)[:, [0, flat.problem.modes.count], 0]
    solution = solve_in_space(space_problem(part, BAND, s_error), BAND, s_error)
    rows = [0, len(solution.problem.modes[0])]
    here = lossy_scattering_in_space(solution, COPPER)[:, rows, 0]
    doubt = lossy_in_space(solution, COPPER)(BAND).share
    change = (
        here - solution.found.s[:, rows, 0] - expected + flat.s[:, [0, flat.problem.modes.count], 0]
    )
    assert np.all(np.abs(change).max(axis=1) < doubt)
    assert doubt.max() < 2e-4


@pytest.mark.slow
@pytest.mark.parametrize(
    "part",
    [
        Corner(GUIDE, "E", math.pi / 2, 0.0),
        Offset(GUIDE, shift_x=3e-3),
        Offset(GUIDE, shift_y=2e-3),
    ],
    ids=["E corner", "H offset", "E offset"],
)
def test_bar_covers_the_slow_loss_at_sharp_edges_of_the_plane(part):
    """The share of the walls settles far later than S: two meshes finer it is another."""
    share = {}
    for s_error in (1e-4, 1e-8):
        found = solve_in_plane(part, BAND, s_error)
        rows = [0, found.problem.modes.count]
        share[s_error] = (lossy_scattering(found, COPPER) - found.s)[:, rows, 0]
        if s_error == 1e-4:
            doubt, lossless = lossy_in_plane(found, COPPER)(BAND).share, found.error
    moved = np.abs(share[1e-4] - share[1e-8]).max(axis=1)
    assert np.all(moved < doubt + lossless)
    # the bar without it was smaller than what was left
    assert doubt.max() < 5e-6
