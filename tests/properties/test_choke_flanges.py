"""Choke flanges and TE11 joints: another library, the radial line, limits known beforehand."""

import numpy as np
import pytest

from geometries.shapes.choke_flanges import ChokeFlange
from geometries.shapes.guides import CircularGuide, standard_guide
from geometries.shapes.rotating_joints import RotatingJoint
from solver.closed_forms.chokes import flange_reflection
from solver.fem.reduced_model import sweep
from solver.parts.half_plane_solver import solve_in_half_plane
from solver.parts.quarter_solver import quarter_problem, solve_in_quarter
from tests.references.joint_harmonic import FEED, HarmonicJoint

MM = 1e-3
GUIDE = standard_guide("WR-90")
BAND = np.array([8.2e9, 10e9, 12.4e9])
SPEED_OF_LIGHT = 299_792_458.0


def flange(gap, rim_radius, groove=None, **more):
    if groove is not None:
        names = ("groove_inner_radius", "groove_outer_radius", "groove_depth")
        more |= {name: x * MM for name, x in zip(names, groove, strict=True)}
    return ChokeFlange(GUIDE, gap=gap * MM, rim_radius=rim_radius * MM, **more)


def pair(solution):
    return solution.s[:, 0, 0], solution.s[:, len(solution.problem.modes[0]), 0]


@pytest.mark.slow
@pytest.mark.parametrize("groove", [None, (19.0, 21.5, 8.5)])
def test_te11_joint_agrees_with_another_library(groove):
    pytest.importorskip("ngsolve")
    radius, gap, rim = 11.0, 0.6, 30.0
    sizes = {}
    if groove is not None:
        names = ("groove_inner_radius", "groove_outer_radius", "groove_depth")
        sizes = {name: x * MM for name, x in zip(names, groove, strict=True)}
    joint = RotatingJoint(
        CircularGuide(2 * radius * MM), gap=gap * MM, rim_radius=rim * MM, mode="TE11", **sizes
    )
    frequency = np.array([9.0e9, 10.5e9])
    found = solve_in_quarter(joint, frequency, 1e-3)
    assert found.found.reached
    grooves = [] if groove is None else [(*(x * MM for x in groove), 2)]
    fine, rough = (
        HarmonicJoint(radius * MM, gap * MM, rim * MM, grooves, degree=p) for p in (4, 3)
    )
    s11, s21 = pair(found)
    for i, f in enumerate(frequency):
        exact, other = fine.scattering(f), rough.scattering(f)
        doubt = max(abs(a - b) for a, b in zip(exact, other, strict=True))
        k = 2 * np.pi * f / SPEED_OF_LIGHT
        beta = np.sqrt(k**2 - (1.8411837813 / (radius * MM)) ** 2)
        # the other library's planes are the ends of its feeds
        turn = np.exp(2j * beta * FEED * radius * MM)
        assert doubt < 3e-4
        assert abs(s11[i] - exact[0] * turn) < found.found.error[i] + doubt
        assert abs(s21[i] - exact[1] * turn) < found.found.error[i] + doubt
        assert abs(found.leaked_power[i] - exact[2]) < found.leaked_error[i] + doubt * 0.3
        assert abs(found.leaked_power[i] / exact[2] - 1) < 0.05


@pytest.mark.slow
def test_radial_line_goes_on_as_if_it_had_no_end():
    # without a groove the line beyond any radius is the same line
    near, far = (solve_in_quarter(flange(0.4, rim), BAND, 1e-3) for rim in (15.0, 24.0))
    for one, other in zip(pair(near), pair(far), strict=True):
        assert np.abs(one - other).max() < 2e-4
    assert np.abs(near.leaked_power / far.leaked_power - 1).max() < 5e-3


@pytest.mark.slow
def test_thin_gap_with_a_groove_is_nearly_a_straight_guide():
    groove = (14.0, 17.0, 8.0)
    wide, thin = (
        solve_in_quarter(flange(gap, 24.0, groove), BAND[1:2], 1e-3) for gap in (0.2, 0.02)
    )
    assert abs(thin.s[0, 0, 0]) < 0.3 * abs(wide.s[0, 0, 0])
    assert abs(pair(thin)[1][0]) > 1 - 1e-6
    assert thin.leaked_power[0] < 0.1 * wide.leaked_power[0] < 1e-5


@pytest.mark.slow
def test_closed_rim_lets_nothing_leak():
    part = flange(0.3, 20.0, rim="closed")
    found = solve_in_quarter(part, BAND, 1e-3)
    assert not found.leaked_power.any()
    s11, s21 = pair(found)
    assert np.abs(np.abs(s11) ** 2 + np.abs(s21) ** 2 - 1).max() < 1e-10
    # radial lines that end in a short, by Bessel functions; at 8.2 GHz they are near a resonance
    lines = np.abs(flange_reflection(part, BAND))
    assert np.abs(np.abs(s11) / lines - 1)[1:].max() < 0.06


@pytest.mark.slow
def test_power_past_the_rim_is_what_the_ports_lack():
    found = solve_in_quarter(flange(0.3, 20.0, (14.0, 16.0, 8.0)), BAND, 1e-3)
    s11, s21 = pair(found)
    lacking = 1 - np.abs(s11) ** 2 - np.abs(s21) ** 2
    # orders of the rim that were left out carry less than this
    assert np.abs(lacking - found.leaked_power).max() < 1e-9
    assert np.abs(s21 - found.s[:, 0, len(found.problem.modes[0])]).max() < 1e-9


@pytest.mark.slow
def test_gasket_is_a_dense_radial_line():
    gasket = {"gasket_permittivity": 4.0, "gasket_inner_radius": 15 * MM}
    near, far = (solve_in_quarter(flange(0.3, rim, **gasket), BAND, 1e-3) for rim in (17.0, 24.0))
    assert np.abs(near.s[:, 0, 0] - far.s[:, 0, 0]).max() < 2e-4
    # radial lines of two wavenumbers, by Bessel functions
    lines = np.abs(flange_reflection(flange(0.3, 17.0, **gasket), BAND))
    assert np.abs(np.abs(near.s[:, 0, 0]) / lines - 1).max() < 0.09


@pytest.mark.slow
def test_bar_holds_the_error_against_a_finer_answer():
    part = flange(0.5, 22.0, (13.5, 15.5, 8.0))
    coarse, fine = (solve_in_quarter(part, BAND, tolerance) for tolerance in (5e-2, 1e-3))
    assert coarse.found.order < fine.found.order
    for one, other in zip(pair(coarse), pair(fine), strict=True):
        assert (np.abs(one - other) < coarse.found.error).all()
    assert (np.abs(coarse.leaked_power - fine.leaked_power) < coarse.leaked_error).all()


@pytest.mark.slow
def test_tm01_joint_in_space_agrees_with_the_half_plane():
    # both mirror planes magnetic: the class of m = 0 with E along the axis
    names = ("groove_inner_radius", "groove_outer_radius", "groove_depth")
    sizes = {name: x * MM for name, x in zip(names, (19.0, 22.0, 7.5), strict=True)}
    joint = RotatingJoint(CircularGuide(27 * MM), gap=1.0 * MM, rim_radius=30 * MM, **sizes)
    frequency = np.array([9.5e9, 10.5e9])
    flat = solve_in_half_plane(joint, frequency, 1e-5)
    problem = quarter_problem(joint, frequency, 1e-3, ("magnetic", "magnetic"))
    mesh = problem.mesh(0)
    ((_, pencil),) = problem.spaces(mesh, [4])
    matrices = (pencil.stiffness, pencil.mass, pencil.columns, problem.squared)
    swept = sweep(
        *matrices,
        lambda model: problem.scattering(mesh, model.impedance(problem.squared), problem.squared),
        1e-6,
        (),
        problem.moving,
    )
    row = len(problem.modes[0])
    assert problem.modes[0][0].name == "TM01"
    # order 4 on cells that are not graded is true to a few times 1e-4
    assert np.abs(swept.response[:, 0, 0] - flat.s[:, 0, 0]).max() < 5e-4
    assert np.abs(swept.response[:, row, 0] - flat.s[:, flat.problem.modes.count, 0]).max() < 5e-4
    leaked = (np.abs(swept.response[:, len(problem.port_modes) :, 0]) ** 2).sum(axis=1)
    assert np.abs(leaked / flat.leaked_power - 1).max() < 0.04
