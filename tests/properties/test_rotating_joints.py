"""Rotating joints: another library, the radial line's own formula, and limits known beforehand."""

import numpy as np
import pytest

from geometries.shapes.guides import CircularGuide
from geometries.shapes.rotating_joints import RotatingJoint
from solver.parts.half_plane_solver import solve_in_half_plane
from tests.references.joint_half_plane import HalfPlane

MM = 1e-3
GUIDE = CircularGuide(27 * MM)
BAND = np.array([8.75e9, 10.1e9, 11.5e9])


def joint(gap, rim, groove=None, guide=GUIDE, **more):
    if groove is not None:
        names = ("groove_inner_radius", "groove_outer_radius", "groove_depth")
        more |= {name: x * MM for name, x in zip(names, groove, strict=True)}
    return RotatingJoint(guide, gap=gap * MM, rim_radius=rim * MM, **more)


def pair(solution, i):
    return solution.s[i, 0, 0], solution.s[i, solution.problem.modes.count, 0]


@pytest.mark.slow
@pytest.mark.parametrize(
    ("gap", "rim", "groove"),
    [
        (1.0, 30.0, (19.0, 22.0, 7.5)),
        (3.0, 25.0, None),
        (5.5, 24.0, (16.0, 21.0, 5.0)),
    ],
)
def test_another_library_agrees_within_the_bars(gap, rim, groove):
    pytest.importorskip("ngsolve")
    found = solve_in_half_plane(joint(gap, rim, groove), BAND, 1e-4)
    assert found.error.max() <= 1e-4
    metres = None if groove is None else [x * MM for x in groove]
    fine = HalfPlane(GUIDE.radius, gap * MM, rim * MM, metres, degree=8, layers=6)
    rough = HalfPlane(GUIDE.radius, gap * MM, rim * MM, metres, degree=6, layers=5)
    for i, f in list(enumerate(BAND))[::2]:
        exact, other = fine.scattering(f), rough.scattering(f)
        doubt = max(abs(a - b) for a, b in zip(exact, other, strict=True))
        assert doubt < 5e-5
        for ours, theirs in zip(pair(found, i), exact, strict=False):
            assert abs(ours - theirs) < 0.5 * doubt + found.error[i]
        assert abs(found.leaked_power[i] - exact[2]) < max(5e-4 * exact[2], 5e-8) + 0.5 * doubt


@pytest.mark.slow
def test_radial_line_goes_on_as_if_it_had_no_end():
    # without a groove the line beyond any radius is the same line
    near, far = (solve_in_half_plane(joint(2.0, rim), BAND, 1e-6) for rim in (17.0, 40.0))
    assert np.abs(near.s[:, 0, 0] - far.s[:, 0, 0]).max() < 1e-6
    assert np.abs(near.leaked_power - far.leaked_power).max() < 1e-6


@pytest.mark.slow
def test_no_gap_is_no_joint():
    reflection = []
    for gap in (0.1, 0.02):
        found = solve_in_half_plane(joint(gap, 30.0, (19.0, 22.0, 7.5)), BAND, 1e-4)
        reflection.append(np.abs(found.s[:, 0, 0]).max())
        assert found.leaked_power.max() < 1e-2
    assert reflection[1] < 0.4 * reflection[0]
    assert reflection[1] < 3e-3


@pytest.mark.slow
def test_mirrored_joint_has_the_ports_exchanged():
    # the groove in the other flange: the same metal, seen from port 2
    one = solve_in_half_plane(joint(1.0, 30.0, (19.0, 22.0, 7.5)), BAND, 1e-6)
    second = {
        "second_groove_inner_radius": 19 * MM,
        "second_groove_outer_radius": 22 * MM,
        "second_groove_depth": 7.5 * MM,
    }
    other = solve_in_half_plane(joint(1.0, 30.0, **second), BAND, 1e-6)
    n, m = one.problem.modes.count, other.problem.modes.count
    bar = one.error + other.error
    assert (np.abs(one.s[:, 0, 0] - other.s[:, m, m]) < bar).all()
    assert (np.abs(one.s[:, n, n] - other.s[:, 0, 0]) < bar).all()


def test_power_past_the_rim_is_what_the_ports_lack():
    found = solve_in_half_plane(joint(1.5, 24.0, (17.0, 19.0, 6.0)), BAND, 1e-4)
    n = found.problem.modes.count
    through = np.abs(found.s[:, 0, 0]) ** 2 + np.abs(found.s[:, n, 0]) ** 2
    assert np.abs(1 - through - found.leaked_power).max() < 1e-10
    assert np.abs(found.s[:, n, 0] - found.s[:, 0, n]).max() < 1e-10


@pytest.mark.slow
def test_bar_holds_the_error_against_a_finer_answer():
    for gap, rim, groove in ((0.87, 26.9, (17.6, 18.4, 8.4)), (0.12, 30.0, (22.0, 26.0, 4.0))):
        part = joint(gap, rim, groove)
        coarse, fine = (solve_in_half_plane(part, BAND, tolerance) for tolerance in (1e-4, 1e-7))
        for i in range(len(BAND)):
            for ours, theirs in zip(pair(coarse, i), pair(fine, i), strict=True):
                assert abs(ours - theirs) < coarse.error[i]
        assert (np.abs(coarse.leaked_power - fine.leaked_power) < coarse.leaked_error).all()
