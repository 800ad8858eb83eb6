"""Offsets that shift along one wall: the plane solver against the aperture's field."""

import numpy as np
import pytest
from numpy.testing import assert_allclose

from geometries import standard_guide
from geometries.errors import MeshingError
from geometries.plane_meshes.offset_mesh import mesh_offset
from geometries.shapes.offsets import Offset
from solver.parts.plane_solver import solve_in_plane
from tests.references.offset_modes import offset_scattering

WR90 = standard_guide("WR-90")
A, B = WR90.broad_width, WR90.narrow_height
BAND = np.linspace(8.2e9, 12.4e9, 5)


def solved(plane, shift, s_error=1e-5):
    along = "shift_x" if plane == "H" else "shift_y"
    solution = solve_in_plane(Offset(WR90, **{along: shift}), BAND, s_error)
    assert solution.reached
    return solution.s[:, 0, 0], solution.s[:, solution.problem.modes.count, 0], solution.error


@pytest.mark.parametrize(
    ("plane", "shift"), [("H", 4e-3), ("H", -9e-3), ("E", 1e-3), ("E", -4e-3), ("E", 7e-3)]
)
def test_complex_scattering_agrees_with_the_aperture_field(plane, shift):
    """The reference changes by less than 5e-7 from 12 to 20 functions."""
    s11, s21, error = solved(plane, shift)
    reference = offset_scattering(plane, A, B, shift, BAND)
    assert_allclose(s11, reference[0], atol=2e-6, rtol=0)
    assert_allclose(s21, reference[1], atol=2e-6, rtol=0)
    assert np.all(np.abs(s11 - reference[0]) < error + 5e-7)
    assert np.all(np.abs(s21 - reference[1]) < error + 5e-7)


@pytest.mark.parametrize("plane", ["E", "H"])
def test_the_reference_converges(plane):
    shift = 0.3 * (A if plane == "H" else B)
    coarse = offset_scattering(plane, A, B, shift, BAND, functions=8, modes=20_000)
    fine = offset_scattering(plane, A, B, shift, BAND, functions=16, modes=60_000)
    assert_allclose(coarse[0], fine[0], atol=3e-6, rtol=0)
    assert_allclose(coarse[1], fine[1], atol=3e-6, rtol=0)


@pytest.mark.parametrize("plane", ["E", "H"])
def test_no_shift_reflects_nothing(plane):
    s11, s21, error = solved(plane, 0.0)
    assert np.all(np.abs(s11) < error)
    assert np.all(np.abs(s21 - 1.0) < error)
    assert error.max() < 1e-5


def test_flange_tolerance_of_the_letter_of_1976():
    """Displaced unequal guides at their extreme tolerances: about -41 dB at worst.

    "Reflection coefficient of displaced unequal rectangular waveguides", IEEE Trans. MTT, July
    1976, doi 10.1109/TMTT.1976.1128879, abstract: tolerance +- a/500 and displacement 0.0175 a.
    The two guides differ by 2a/500 in width and in height.  To first order their step reflects
    (1/2)(delta a/a)(lambda_g/2a)^2 + (1/2)(delta b/b), which is real; the shift's share is
    reactive, so the two add as squares.
    """
    s11, _, _ = solved("H", 0.0175 * A)
    beta = np.sqrt((2 * np.pi * BAND / 299_792_458.0) ** 2 - (np.pi / A) ** 2)
    difference = 2 * A / 500
    step = 0.5 * difference / A * (np.pi / (beta * A)) ** 2 + 0.5 * difference / B
    worst_db = 20 * np.log10(np.hypot(np.abs(s11), step).max())
    assert worst_db == pytest.approx(-41.0, abs=0.5)  # "approximately", printed to 1 dB
    # shift alone: degrades the tolerances' own return loss by about the 1 dB that the IEC allows
    assert worst_db - 20 * np.log10(step.max()) == pytest.approx(1.0, abs=0.5)


def test_an_offset_that_turns_has_no_plane():
    for offset in (Offset(WR90, turn=0.1), Offset(WR90, shift_x=1e-3, shift_y=1e-3)):
        assert offset.plane is None
        with pytest.raises(MeshingError, match="no plane to cut it in"):
            mesh_offset(offset, 0.02, 0)
