"""Trapped resonances: poles of another library's S, and the line formula of gap and groove."""

import numpy as np
import pytest

from geometries.shapes.guides import CircularGuide
from geometries.shapes.rotating_joints import RotatingJoint
from solver.closed_forms.choke_resonances import trapped_resonances
from solver.fem.reduced_model import ReducedModel
from solver.parts.half_plane_solver import solve_in_half_plane
from solver.resonances.trapped_resonances import complex_resonances, trapped_resonances_of
from tests.references.joint_half_plane import HalfPlane

MM = 1e-3
SPEED_OF_LIGHT = 299_792_458.0
GROOVE = (28.0, 30.0, 9.0)
BAND = np.linspace(9.2e9, 10.6e9, 12)


def joint(gap):
    names = ("groove_inner_radius", "groove_outer_radius", "groove_depth")
    sizes = {name: x * MM for name, x in zip(names, GROOVE, strict=True)}
    return RotatingJoint(CircularGuide(27 * MM), gap=gap * MM, rim_radius=40 * MM, **sizes)


def resonances(part):
    found = solve_in_half_plane(part, BAND, 1e-5)
    return trapped_resonances_of(
        found.found, found.problem.admittance_at, (BAND[0], BAND[-1]), "m = 0"
    )


@pytest.mark.slow
def test_line_formula_finds_the_same_resonance():
    # the formula seals the gap outside the groove, and says a few per cent
    part = joint(0.2)
    near = [f for f in trapped_resonances(part, 0, BAND[-1]) if f > BAND[0]]
    (found,) = resonances(part)
    assert len(near) == 1
    assert abs(found.frequency / near[0] - 1) < 0.03


@pytest.mark.slow
def test_another_library_has_a_pole_there():
    pytest.importorskip("ngsolve")
    (found,) = resonances(joint(0.5))
    metres = [x * MM for x in GROOVE]
    other = HalfPlane(13.5 * MM, 0.5 * MM, 40 * MM, metres, degree=9, layers=4)
    ours = found.frequency * (1 + 0.5j / found.quality)

    def inverse(f):
        return 1 / other.scattering(f)[0]

    # secant on 1/S11, which is zero at the pole
    a, b = ours * (1 + 2e-4), ours * (1 - 1e-4j)
    va, vb = inverse(a), inverse(b)
    for _ in range(3):
        a, b, va = b, b - vb * (b - a) / (vb - va), vb
        vb = inverse(b)
    # its degree 6 is 2e-4 off, its degree 9 is 3e-5 off
    assert abs(b - ours) < 5e-5 * abs(ours)
    assert abs(b.real / (2 * b.imag) / found.quality - 1) < 5e-4
    assert found.error < 1e5


def test_one_pole_that_loses_through_one_port():
    # (p + j c^2 Y - q) v = 0 with constant Y: q is known
    pole, c, y = 210.0**2, 30.0, 2.0
    model = ReducedModel(np.array([pole]), np.array([[c]]), np.eye(1), np.eye(1))
    band = tuple(k * SPEED_OF_LIGHT / (2 * np.pi) for k in (180.0, 240.0))
    (k,) = complex_resonances(model, lambda q: np.full((len(q), 1), y + 0j), band, 0.0, 1.0)
    assert abs(k - np.sqrt(pole + 1j * c**2 * y)) < 1e-9 * abs(k)
    assert (
        complex_resonances(model, lambda q: np.full((len(q), 1), y + 0j), band, 0.0, 100.0).size
        == 0
    )
