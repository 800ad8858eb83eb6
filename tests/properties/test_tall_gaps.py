"""Tall and densely filled gaps, where waves that vary across the gap reach the rim or leave."""

import numpy as np
import pytest

from geometries.shapes.choke_flanges import ChokeFlange
from geometries.shapes.guides import CircularGuide, standard_guide
from geometries.shapes.rotating_joints import RotatingJoint
from solver.fem.reduced_model import sweep
from solver.parts.half_plane_solver import solve_in_half_plane
from solver.parts.quarter_solver import quarter_problem, solve_in_quarter
from tests.references.joint_harmonic import FEED, HarmonicJoint

MM = 1e-3
GUIDE = standard_guide("WR-90")
SPEED_OF_LIGHT = 299_792_458.0
GASKET = {"gasket_permittivity": 4.0, "gasket_inner_radius": 14 * MM}


def flange(gap, rim_radius, **more):
    return ChokeFlange(GUIDE, gap=gap * MM, rim_radius=rim_radius * MM, **more)


def pair(solution):
    return solution.s[:, 0, 0], solution.s[:, len(solution.problem.modes[0]), 0]


@pytest.mark.slow
@pytest.mark.parametrize(
    ("gap", "frequency", "rims", "gasket"),
    [
        # one half wave across the gap travels
        (16.0, 10.0e9, (20.0, 39.0), {}),
        # it decays, but has not done so at the rim
        (11.5, 12.4e9, (20.0, 33.0), {}),
        # it travels in the gasket alone
        (8.5, 10.0e9, (20.0, 28.0), GASKET),
    ],
)
def test_line_goes_on_as_if_it_had_no_end(gap, frequency, rims, gasket):
    near, far = (
        solve_in_quarter(flange(gap, rim, **gasket), np.array([frequency]), 4e-2) for rim in rims
    )
    assert near.problem.boundaries[0].radius < 0.95 * far.problem.boundaries[0].radius
    # they agree better than either is true at this accuracy, and than 6e-4
    for one, other in zip(pair(near), pair(far), strict=True):
        assert np.abs(one - other).max() < 3e-4 < near.found.error.min()
    assert np.abs(near.leaked_power - far.leaked_power).max() < 3e-4
    s11, s21 = pair(near)
    lacking = 1 - np.abs(s11) ** 2 - np.abs(s21) ** 2
    assert np.abs(lacking - near.leaked_power).max() < 1e-9


@pytest.mark.slow
@pytest.mark.parametrize("gap", [11.0, 18.0])
def test_te11_joint_agrees_with_another_library_and_an_absorbing_layer(gap):
    pytest.importorskip("ngsolve")
    radius, frequency = 11.0 * MM, 10.0e9
    joint = RotatingJoint(CircularGuide(2 * radius), gap=gap * MM, rim_radius=20 * MM, mode="TE11")
    found = solve_in_quarter(joint, np.array([frequency]), 1e-3)
    exact, rough, longer = (
        HarmonicJoint(radius, gap * MM, 30 * MM, degree=p, absorber=layer * MM).scattering(
            frequency
        )
        for p, layer in ((4, 60), (3, 60), (4, 90))
    )
    doubt = max(abs(a - b) for other in (rough, longer) for a, b in zip(exact, other, strict=True))
    assert doubt < 3e-4
    k = 2 * np.pi * frequency / SPEED_OF_LIGHT
    beta = np.sqrt(k**2 - (1.8411837813 / radius) ** 2)
    turn = np.exp(2j * beta * FEED * radius)
    s11, s21 = pair(found)
    # three times nearer than the bar
    assert abs(s11[0] - exact[0] * turn) < 0.3 * found.found.error[0] + doubt
    assert abs(s21[0] - exact[1] * turn) < 0.3 * found.found.error[0] + doubt
    assert abs(found.leaked_power[0] - exact[2]) < 0.1 * found.leaked_error[0] + doubt


@pytest.mark.slow
def test_absorbing_layer_is_the_hankel_function_in_a_thin_gap():
    pytest.importorskip("ngsolve")
    sizes = (11 * MM, 0.6 * MM, 30 * MM)
    hankel, layer = (HarmonicJoint(*sizes, degree=3, absorber=x * MM) for x in (0, 60))
    both = zip(hankel.scattering(10e9), layer.scattering(10e9), strict=True)
    assert max(abs(one - other) for one, other in both) < 3e-6


@pytest.mark.slow
def test_tm01_joint_in_space_agrees_with_the_half_plane():
    joint = RotatingJoint(CircularGuide(27 * MM), gap=18 * MM, rim_radius=20 * MM)
    frequency = np.array([9.5e9, 10.5e9])
    flat = solve_in_half_plane(joint, frequency, 1e-5)
    problem = quarter_problem(joint, frequency, 1e-3, ("magnetic", "magnetic"))
    mesh = problem.mesh(0)
    ((_, pencil),) = problem.spaces(mesh, [4])
    swept = sweep(
        pencil.stiffness,
        pencil.mass,
        pencil.columns,
        problem.squared,
        lambda model: problem.scattering(mesh, model.impedance(problem.squared), problem.squared),
        1e-6,
        (),
        problem.moving,
    )
    row = len(problem.modes[0])
    # order 4 on cells that are not graded; order 5 is 2e-4 off
    assert np.abs(swept.response[:, 0, 0] - flat.s[:, 0, 0]).max() < 5e-4
    assert np.abs(swept.response[:, row, 0] - flat.s[:, flat.problem.modes.count, 0]).max() < 3e-4
    leaked = (np.abs(swept.response[:, len(problem.port_modes) :, 0]) ** 2).sum(axis=1)
    assert np.abs(leaked - flat.leaked_power).max() < 2e-4
