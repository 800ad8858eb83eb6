"""Conical horns with a bare rim: the exact open pipe, and what free space asks of the far field."""

from dataclasses import replace

import numpy as np
import pytest
from scipy.integrate import simpson

from geometries.shapes.guides import CircularGuide
from geometries.shapes.horns import ConicalHorn
from solver.closed_forms.open_pipe import open_pipe_reflection
from solver.parts.horns import solved_horn
from solver.waves.guide_modes import SPEED_OF_LIGHT
from tests.references.bare_cone import BareCone

ROOTS = {"TM01": 2.404825557695773, "TE11": 1.841183781340659}


def pipe(mode, length=0.0):
    diameter = 30e-3 if mode == "TM01" else 24e-3
    return ConicalHorn(CircularGuide(diameter), diameter, length, mode, rim="bare")


def band(mode):
    return np.array([8.2e9, 10.3e9, 12.4e9] if mode == "TM01" else [8.0e9, 9.5e9, 11.0e9])


@pytest.fixture(scope="module")
def solved():
    known = {}

    def solve(mode, s_error):
        if (mode, s_error) not in known:
            known[mode, s_error] = solved_horn(pipe(mode), band(mode), s_error, None, None)
        return known[mode, s_error]

    return solve


@pytest.mark.slow
@pytest.mark.parametrize(("mode", "s_error"), [("TM01", 1e-3), ("TM01", 1e-4), ("TE11", 1e-2)])
def test_the_open_pipe_is_that_of_wiener_and_hopf(mode, s_error, solved):
    found = solved(mode, s_error)
    exact = open_pipe_reflection(pipe(mode), band(mode))
    assert found.reached
    assert (np.abs(found.s[:, 0, 0] - exact) < found.error).all()
    assert found.error.max() <= s_error


def test_parallel_walls_are_the_guide_itself(solved):
    # the outside of the longer pipe is in the mesh, the shorter one's begins a quarter wave off
    length, frequency = 20e-3, band("TM01")
    longer = solved_horn(pipe("TM01", length), frequency, 1e-4, None, None)
    k = 2 * np.pi * frequency / SPEED_OF_LIGHT
    beta = np.sqrt(k**2 - (ROOTS["TM01"] / 15e-3) ** 2)
    exact = open_pipe_reflection(pipe("TM01"), frequency) * np.exp(-2j * beta * length)
    assert (np.abs(longer.s[:, 0, 0] - exact) < longer.error).all()


def test_all_that_does_not_come_back_is_in_the_pattern(solved):
    radiation = solved("TE11", 1e-2).radiation(band("TE11"))
    angle = radiation.angle
    assert angle[-1] == pytest.approx(np.pi)
    # E as sin, H as cos about the axis: both planes count for half
    both = 0.5 * (radiation.e_plane + radiation.h_plane) * np.sin(angle)
    whole = 0.5 * simpson(both, x=angle)
    # E and H on the surface about the horn and S are read from one field, good to 1e-5 here
    assert np.abs(whole - 1).max() < 1e-4
    # forwards and backwards no plane is singled out
    for i in (0, -1):
        off = np.abs(radiation.e_plane[:, i] - radiation.h_plane[:, i])
        assert (off <= 2 * radiation.pattern_error[:, i]).all()


@pytest.mark.parametrize("mode", ["TM01", "TE11"])
def test_both_ways_to_the_far_field_meet_across_the_axis(mode, solved):
    # up to 90 degrees by waves in free space, beyond by those at an endless guide
    radiation = solved(mode, 1e-3 if mode == "TM01" else 1e-2).radiation(band(mode))
    for plane in (radiation.e_plane, radiation.h_plane):
        across = plane[:, 88:94]
        fitted = across[:, 1:3].mean(axis=1) - across[:, [0, 3]].mean(axis=1)
        beyond = across[:, 2:4].mean(axis=1) - across[:, [1, 4]].mean(axis=1)
        assert (np.abs(fitted - beyond) < 4 * radiation.pattern_error[:, 88:94].max(axis=1)).all()


def test_tm01_radiates_nothing_along_the_axis(solved):
    radiation = solved("TM01", 1e-3).radiation(band("TM01"))
    assert (radiation.axial == 0).all()
    assert radiation.e_plane[:, 1].max() < 0.02
    # a field that hangs on to the guide has no value on it
    assert np.degrees(radiation.angle[-1]) == pytest.approx(175.0)


def test_bars_of_the_pattern_hold_what_a_better_answer_moves(solved):
    rough, fine = (solved("TM01", e).radiation(band("TM01")) for e in (1e-3, 1e-4))
    moved = np.abs(rough.e_plane - fine.e_plane)
    assert (moved <= rough.pattern_error + fine.pattern_error).all()
    assert rough.pattern_error.max() < 0.02


@pytest.mark.slow
@pytest.mark.parametrize("mode", ["TM01", "TE11"])
def test_another_library_agrees_on_a_flare(mode):
    pytest.importorskip("ngsolve")
    horn = replace(pipe(mode), aperture_diameter=36e-3, length=14e-3)
    frequency = band(mode)[1:2] * np.array([0.995, 1.0, 1.005])
    found = solved_horn(horn, frequency, 1e-2, None, None)
    shape = horn.guide.radius, 18e-3, 14e-3, mode
    fine = BareCone(*shape, finest=0.0025).reflection(frequency[1])
    # what cells at the thin edge leave goes as their size: a third of this change is left
    doubt = abs(fine - BareCone(*shape, finest=0.01).reflection(frequency[1]))
    assert doubt < 1e-3
    assert abs(found.s[1, 0, 0] - fine) < doubt + found.error[1]
