"""Offsets that shift along both walls: the solver in space against the field in the opening."""

import numpy as np
import pytest

from geometries import standard_guide
from geometries.shapes.offsets import Offset
from solver.parts.space_parts import space_problem
from solver.parts.space_solver import solve_in_space
from tests.references.offset_modes import offset_scattering
from tests.references.rectangular_opening import opening_scattering

WR90 = standard_guide("WR-90")
A, B = WR90.broad_width, WR90.narrow_height
BAND = np.array([8.2e9, 10.0e9, 12.4e9])
#: How far functions and cuts of the reference still move it: 6 or 8 functions, order 300 or 600.
REFERENCE = 2.5e-5


@pytest.mark.slow
def test_the_reference_has_converged():
    few, _ = opening_scattering(A, B, (2e-3, 1e-3), 10e9, 6, 300)
    many, _ = opening_scattering(A, B, (2e-3, 1e-3), 10e9, 8, 600)
    assert np.abs(few - many).max() < REFERENCE


@pytest.mark.slow
def test_with_a_shift_along_one_wall_it_is_nearly_that_of_the_plane():
    # walls without a step are no edges, which its functions do not know
    for plane, shifts in (("H", (4e-3, 0.0)), ("E", (0.0, 2e-3))):
        found, _ = opening_scattering(A, B, shifts, 10e9)
        exact = np.array(offset_scattering(plane, A, B, max(shifts), 10e9))[:, 0]
        assert np.abs(found - exact).max() < 4e-4


@pytest.mark.slow
@pytest.mark.parametrize(
    ("shifts", "s_error"),
    [((2e-3, 1e-3), 1e-3), ((5e-3, 3e-3), 5e-3)],
    ids=["small", "large"],
)
def test_the_bar_of_a_double_shift_holds(shifts, s_error):
    problem = space_problem(Offset(WR90, *shifts), BAND, s_error)
    found = solve_in_space(problem, BAND, s_error).found
    second = len(problem.modes[0])
    for at, frequency in enumerate(BAND):
        reference, _ = opening_scattering(A, B, shifts, frequency)
        wrong = np.abs(found.s[at, [0, second], 0] - reference).max()
        assert wrong < found.error[at] + REFERENCE
        # the reference is sharp enough to tell
        assert found.error[at] > 3 * REFERENCE
