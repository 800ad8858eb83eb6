"""Port modes: orthonormal across the port, with the cutoffs and names of the guide's modes."""

import math

import numpy as np
import pytest

from geometries.plane_meshes.plane_mesh import PlanePort
from geometries.shapes.guides import RectangularGuide
from solver.waves.plane_modes import PlaneModes, kept_apart, modes_for

A, B = 22.86e-3, 10.16e-3
GUIDE = RectangularGuide(A, B)
C = 299_792_458.0


def port_of(width):
    return PlanePort("port1", np.zeros(2), np.array([0.0, 1.0]), width, 0.0)


@pytest.mark.parametrize(("plane", "width"), [("E", B), ("H", A)])
def test_functions_are_orthonormal_and_obey_the_walls(plane, width):
    modes = PlaneModes(GUIDE, plane, 7)
    x, w = np.polynomial.legendre.leggauss(40)
    t, w = 0.5 * width * (x + 1), 0.5 * width * w
    e = modes.functions(port_of(width), t)
    np.testing.assert_allclose((e * w) @ e.T, np.eye(7), atol=1e-12)
    walls = np.array([0.0, width])
    step = 1e-6 * width
    if plane == "H":
        assert np.abs(modes.functions(port_of(width), walls)).max() < 1e-12 * np.abs(e).max()
    else:
        inward = walls + step * np.array([1, -1])
        change = modes.functions(port_of(width), inward) - modes.functions(port_of(width), walls)
        assert np.abs(change).max() < 1e-9 * np.abs(e).max()


@pytest.mark.parametrize(
    ("plane", "numbers", "names"),
    [
        ("E", [(1, 0), (1, 1), (1, 2)], ["TE10", "LSE11", "LSE12"]),
        ("H", [(1, 0), (2, 0), (3, 0)], ["TE10", "TE20", "TE30"]),
    ],
)
def test_cutoffs_are_those_of_the_rectangle(plane, numbers, names):
    made = PlaneModes(GUIDE, plane, 3).port_modes(2)
    assert [mode.name for mode in made] == names
    assert {mode.port for mode in made} == {2}
    exact = [C / 2 * math.hypot(m / A, n / B) for m, n in numbers]
    assert [mode.cutoff for mode in made] == pytest.approx(exact)


@pytest.mark.parametrize("plane", ["E", "H"])
def test_phase_constants_on_either_side_of_cutoff(plane):
    modes = PlaneModes(GUIDE, plane, 4)
    frequency = np.array([8.2e9, 12.4e9, 20e9])
    beta = modes.phase_constants(modes.wavenumber_squared(frequency))
    k = 2 * np.pi * frequency / C
    guided = np.sqrt(k**2 - (np.pi / A) ** 2)
    assert beta[:, 0] == pytest.approx(guided)
    cutoffs = np.array([mode.cutoff for mode in modes.port_modes(1)])
    carried = frequency[:, None] > cutoffs
    assert ((beta.real > 0) == carried).all()
    assert (beta.imag[~carried] < 0).all()  # exp(-j beta z) decays
    across = np.array([2 * np.pi * c / C for c in cutoffs])
    assert beta**2 == pytest.approx(k[:, None] ** 2 - across**2, rel=1e-9)


@pytest.mark.parametrize("plane", ["E", "H"])
@pytest.mark.parametrize("highest", [12.4e9, 40e9])
def test_left_out_modes_die_in_the_feed(plane, highest):
    feed, leftover = 10e-3, 1e-8
    modes = modes_for(GUIDE, plane, highest, feed, leftover)
    more = PlaneModes(GUIDE, plane, modes.count + 1)
    beta = more.phase_constants(more.wavenumber_squared(np.array([highest])))[0]
    there_and_back = np.exp(2 * beta.imag * feed)
    assert there_and_back[-1] < leftover <= there_and_back[-2]
    assert (beta.real > 0).sum() < modes.count


def test_modes_that_symmetry_keeps_apart_are_named():
    assert kept_apart(GUIDE, "E", 12.4e9) == kept_apart(GUIDE, "H", 12.4e9) == ()
    # up to 17 GHz: TE10, TE20, TE01, TE11, TM11
    assert kept_apart(GUIDE, "H", 17e9) == ("TE01", "TE11", "TM11")
    assert kept_apart(GUIDE, "E", 17e9) == ("TE20", "TE01", "LSM11")


def test_reflection_of_magnetic_field_changes_sign():
    assert PlaneModes(GUIDE, "E", 1).reflection_sign == -1
    assert PlaneModes(GUIDE, "H", 1).reflection_sign == 1
