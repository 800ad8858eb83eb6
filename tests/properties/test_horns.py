"""Horns in a wall: plane waves instead of spherical ones, another library, and known identities."""

import numpy as np
import pytest

from geometries.shapes.guides import CircularGuide, RectangularGuide
from geometries.shapes.horns import ConicalHorn, RectangularHorn
from solver.errors import UnsupportedPartError
from solver.fem.level_search import search_levels
from solver.fem.linear_solve import SymmetricSolver
from solver.parts.horns import QuarterHorn, solved_horn, solved_horn_in_quarter
from solver.waves.walls import Walls
from tests.references.flanged_circle import (
    extrapolated,
    pattern_tm01,
    reflection_te11,
    reflection_tm01,
)
from tests.references.flanged_rectangle import reflection
from tests.references.horn_half_plane import HornHalfPlane
from tests.references.horn_harmonic import HarmonicHorn

SPEED_OF_LIGHT = 299_792_458.0
WIDE = CircularGuide(30e-3)
BAND = np.array([8.2e9, 10.3e9, 12.4e9])
RECTANGULAR_END = RectangularHorn(RectangularGuide(22.86e-3, 10.16e-3), 22.86e-3, 10.16e-3, 0.0)
X_BAND = np.array([9e9, 9.5e9, 10e9])


def solved(horn, frequency=BAND, s_error=1e-4):
    return solved_horn(horn, frequency, s_error, None, None)


@pytest.fixture(scope="module")
def open_end():
    return solved(ConicalHorn(WIDE, 30e-3, 0.0, "TM01"), s_error=1e-5)


@pytest.fixture(scope="module")
def flare():
    return solved(ConicalHorn(WIDE, 60e-3, 50e-3, "TM01"))


@pytest.mark.slow
def test_plane_waves_give_the_same_open_end(open_end):
    for i, f in enumerate(BAND):
        exact, doubt = extrapolated(reflection_tm01, 15e-3, 2 * np.pi * f / SPEED_OF_LIGHT, 20)
        assert doubt < 1.5e-5
        assert abs(open_end.s[i, 0, 0] - exact) < open_end.error[i] + doubt
        assert open_end.error[i] < 1e-5


@pytest.mark.slow
def test_plane_waves_give_the_same_pattern(open_end):
    radiation = open_end.radiation(BAND)
    for i, f in enumerate(BAND):
        k = 2 * np.pi * f / SPEED_OF_LIGHT
        fine, rough = (pattern_tm01(15e-3, k, n, radiation.angle) for n in (160, 80))
        doubt = 2 * np.abs(fine - rough).max()
        assert doubt < 2e-3
        off = np.abs(radiation.e_plane[i] - fine)
        assert (off < radiation.pattern_error[i] + doubt).all()
        assert radiation.pattern_error[i].max() < 1e-3


@pytest.mark.slow
def test_plane_waves_give_the_same_open_end_of_te11():
    frequency = np.array([8.5e9, 9e9, 9.4e9])
    found = solved(ConicalHorn(CircularGuide(24e-3), 24e-3, 0.0, "TE11"), frequency, 1e-3)
    for i, f in enumerate(frequency):
        exact, doubt = extrapolated(reflection_te11, 12e-3, 2 * np.pi * f / SPEED_OF_LIGHT, 6)
        assert doubt < 1e-4
        assert abs(found.s[i, 0, 0] - exact) < found.error[i] + doubt
        assert found.error[i] < 1e-3


@pytest.mark.slow
@pytest.mark.parametrize("horn", [(30e-3, 0.0), (60e-3, 50e-3), (27e-3, 20e-3)])
def test_another_library_agrees_within_the_bars(horn, open_end, flare):
    pytest.importorskip("ngsolve")
    aperture, length = horn
    known = {(30e-3, 0.0): open_end, (60e-3, 50e-3): flare}
    found = known.get(horn) or solved(ConicalHorn(WIDE, aperture, length, "TM01"))
    fine = HornHalfPlane(15e-3, aperture / 2, length, degree=8, layers=6)
    rough = HornHalfPlane(15e-3, aperture / 2, length, degree=6, layers=5, absorb=3.0)
    for i, f in list(enumerate(BAND))[::2]:
        exact = fine.reflection(f)
        doubt = abs(exact - rough.reflection(f))
        assert doubt < 5e-5
        assert abs(found.s[i, 0, 0] - exact) < doubt + found.error[i]
        assert found.error[i] < 1e-4


@pytest.mark.slow
def test_parallel_walls_are_the_guide_itself(open_end):
    length = 20e-3
    longer = solved(ConicalHorn(WIDE, 30e-3, length, "TM01"), s_error=1e-5)
    k = 2 * np.pi * BAND / SPEED_OF_LIGHT
    beta = np.sqrt(k**2 - (2.404825557695773 / 15e-3) ** 2)
    off = longer.s[:, 0, 0] - open_end.s[:, 0, 0] * np.exp(-2j * beta * length)
    assert (np.abs(off) < longer.error + open_end.error).all()


def test_what_is_radiated_is_what_does_not_come_back(flare):
    # the pattern is integrated over the half sphere, the far field on its own
    radiation = flare.radiation(BAND)
    accepted = 1 - np.abs(flare.s[:, 0, 0]) ** 2
    assert np.abs(radiation.power - accepted).max() < 1e-9
    angle = radiation.angle
    assert np.array_equal(radiation.at, BAND)
    for plane in (radiation.e_plane, radiation.h_plane):
        whole = np.trapezoid(plane * np.sin(angle), angle, axis=1) / 2
        assert whole == pytest.approx(np.ones(3), rel=2e-3)
    # TM01 has no field on the axis
    assert radiation.axial == pytest.approx(np.zeros(3), abs=1e-12)
    assert (radiation.largest > 4).all()


@pytest.mark.slow
def test_bars_of_the_pattern_hold_what_a_better_answer_moves(flare):
    rough = solved(ConicalHorn(WIDE, 60e-3, 50e-3, "TM01"), s_error=1e-2).radiation(BAND)
    fine = flare.radiation(BAND)
    for name in ("e_plane", "h_plane"):
        moved = np.abs(getattr(rough, name) - getattr(fine, name))
        assert (moved <= rough.pattern_error + fine.pattern_error).all()
    assert (np.abs(rough.largest - fine.largest) <= rough.largest_error).all()
    assert rough.largest_error.max() < 0.05


def test_a_narrow_aperture_keeps_most_of_the_power_back():
    # at an aperture far below cutoff next to nothing gets out
    found = solved(ConicalHorn(WIDE, 16e-3, 40e-3, "TM01"))
    assert np.abs(found.s[0, 0, 0]) > 0.99
    assert not found.resonances() or min(r.quality for r in found.resonances()) > 20


def test_wall_loss_is_refused():
    horn = ConicalHorn(WIDE, 60e-3, 50e-3, "TM01")
    with pytest.raises(UnsupportedPartError, match="leave out the table walls"):
        solved_horn(horn, BAND, 1e-4, Walls(5.8e7), None)


@pytest.mark.slow
@pytest.mark.parametrize("s_error", [5e-3, 1e-3])
def test_another_library_agrees_on_te11_within_the_bars(s_error):
    pytest.importorskip("ngsolve")
    frequency = np.array([8.9e9, 9e9, 9.1e9])
    found = solved(ConicalHorn(CircularGuide(24e-3), 36e-3, 20e-3, "TE11"), frequency, s_error)
    fine = HarmonicHorn(12e-3, 18e-3, 20e-3, degree=5, finest=0.005, steepest=9.0)
    exact, rough = (each.reflection(9e9) for each in (fine, HarmonicHorn(12e-3, 18e-3, 20e-3)))
    doubt = abs(exact - rough)
    assert doubt < 2e-5
    assert abs(found.s[1, 0, 0] - exact) < doubt + found.error[1]
    assert found.error[1] < s_error


def solved_at(problem, order, frequency):
    """S among all waves at one frequency, by one solution."""
    mesh, q = problem.mesh(0), problem.squared_at(np.array([frequency]))
    _, pencil = next(problem.spaces(mesh, (order,)))
    solver = SymmetricSolver(pencil.stiffness, pencil.mass)
    solver.factorise(float(q[0]))
    impedance = (pencil.columns.T @ solver.solve(pencil.columns))[None]
    return problem.scattering(mesh, impedance, q)[0]


def test_waves_too_high_for_the_mesh_are_not_taken_for_lower_ones():
    # what the waves left out at 0.1 may return is a hundredth of it
    many, few = (QuarterHorn(RECTANGULAR_END, X_BAND, wanted) for wanted in (1e-3, 0.1))
    assert many.waves.count > 2 * few.waves.count
    apart = solved_at(many, 3, X_BAND[1])[0, 0] - solved_at(few, 3, X_BAND[1])[0, 0]
    assert abs(apart) < 1e-3


@pytest.mark.slow
def test_looking_ahead_bounds_what_the_next_order_changes():
    problem = QuarterHorn(RECTANGULAR_END, X_BAND, 1e-3)
    found = search_levels(problem, 1e-3)
    assert found.reached and found.order == 4 and found.ahead
    better = solved_at(problem, 5, X_BAND[1])[0, 0]
    off = abs(found.s[1, 0, 0] - better)
    assert 0.02 * found.error[1] < off < found.error[1]


@pytest.mark.slow
def test_plane_waves_give_the_same_rectangular_open_end():
    frequency = np.array([10.2e9, 10.3e9, 10.4e9])
    found = solved(RECTANGULAR_END, frequency, 1e-2)
    k = 2 * np.pi * frequency[1] / SPEED_OF_LIGHT
    exact, doubt = reflection(22.86e-3, 10.16e-3, k, 8 * np.pi / 10.16e-3)
    assert doubt < 4e-3
    assert abs(found.s[1, 0, 0] - exact) < found.error[1] + doubt
    assert found.error[1] < 1e-2
    radiation = found.radiation(frequency)
    # along the wall E is normal to it in the E plane, and vanishes in the H plane
    assert (radiation.e_plane[:, -1] > 0.3).all()
    assert (radiation.h_plane[:, -1] < 1e-12).all()
    assert radiation.e_plane[:, 0] == pytest.approx(radiation.h_plane[:, 0], rel=1e-9)
    assert np.abs(radiation.power - 1 + np.abs(found.s[:, 0, 0]) ** 2).max() < 1e-9


@pytest.mark.slow
def test_a_quarter_of_the_space_gives_the_same_horn_in_a_wall():
    horn = ConicalHorn(CircularGuide(24e-3), 30e-3, 8e-3, "TE11")
    frequency = np.array([8.9e9, 9e9, 9.1e9])
    flat = solved_horn(horn, frequency, 1e-3, None, None)
    space = solved_horn_in_quarter(horn, frequency, 2e-2, None)
    assert (np.abs(flat.s[:, 0, 0] - space.s[:, 0, 0]) < flat.error + space.error).all()
    here, there = (each.radiation(frequency) for each in (flat, space))
    for name in ("e_plane", "h_plane"):
        apart = np.abs(getattr(here, name) - getattr(there, name))
        assert (apart < here.pattern_error + there.pattern_error).all()
