"""Pictures in the frame of port 1, beside a TE10 wave by hand and points known on paper."""

import math

import numpy as np
import pytest

from geometries.shapes.bends import Bend
from geometries.shapes.corners import Corner
from geometries.shapes.flexibles import Flexible
from geometries.shapes.guides import RectangularGuide
from geometries.shapes.horns import RectangularHorn
from geometries.shapes.loads import Load
from geometries.shapes.straights import Straight
from solver.judgement.assess_part import assess
from solver.judgement.port_frame import in_port_frame
from solver.parts.field_picture import CutPlane, FieldPicture
from solver.studies.band import Band

A, B, F = 20e-3, 10e-3, 10e9
GUIDE = RectangularGuide(A, B)
K, KX = 2 * np.pi * F / 299792458.0, np.pi / A
BETA = np.sqrt(K**2 - KX**2)
ABSORBER = {"permittivity": 4.0, "loss_tangent": 0.3}


def te10(points):
    """E and eta0 H with E along +y (D. M. Pozar, Microwave Engineering, 4th ed., eqs. 3.89)."""
    x, _, z = points
    wave = np.exp(-1j * BETA * z)
    even, odd, none = np.cos(KX * x) * wave, np.sin(KX * x) * wave, 0j * x
    return np.stack([none, even, none]), np.stack([-BETA / K * even, none, -1j * KX / K * odd])


def picture(dimensions):
    points = np.array([[1e-3, 7e-3, -4e-3, 2e-3], [3e-3, -2e-3, 1e-3, 4e-3], [0, 1e-3, 2e-3, 5e-3]])
    if dimensions == 2:
        cells, none = np.array([[0], [1], [2]]), np.zeros((3, 4), dtype=complex)
        return FieldPicture(points[[2, 1]], cells, none[0], F, "E", none, none, ("z", "y"))
    cut = CutPlane("middle", np.zeros(3), np.eye(3)[2], np.eye(3)[1], ("z", "y"))
    cells = np.arange(4)[:, None]
    return FieldPicture(points, cells, np.ones(4) + 0j, F, "E", *te10(points), cuts=(cut,))


@pytest.mark.parametrize(
    "part",
    [
        Bend(GUIDE, "E", 1.0, 45e-3),
        Bend(GUIDE, "H", 1.0, 45e-3),
        Flexible(GUIDE, 6e-3, 1.2e-3, 4, "sinusoidal", "E", 0.3),
    ],
)
def test_what_is_turned_half_way_is_the_same_te10_wave(part):
    field = picture(3)
    found = in_port_frame(part, field)
    np.testing.assert_array_equal(found.points, field.points * [[-1], [-1], [1]])
    electric, magnetic = te10(found.points)
    np.testing.assert_allclose(found.electric, electric, atol=1e-15)
    np.testing.assert_allclose(found.magnetic, magnetic, atol=1e-15)
    assert found.cuts == field.cuts


@pytest.mark.parametrize(
    ("part", "dimensions", "shift"),
    [
        (Straight(GUIDE, 30e-3), 2, (0, 0)),
        (Bend(GUIDE, "E", 1.0, 45e-3), 2, (0, 0)),
        (Flexible(GUIDE, 6e-3, 1.2e-3, 4), 3, (0, 0, 0)),
        # from the inner edge to the axis
        (Corner(GUIDE, "E", math.pi / 2, 0.0), 2, (0, 5e-3)),
        (Corner(GUIDE, "H", math.pi / 2, 0.0), 2, (0, 10e-3)),
        (Corner(GUIDE, "H", math.pi / 2, 0.0), 3, (0, 0, 0)),
        # from the aperture to the throat
        (RectangularHorn(GUIDE, 30e-3, 25e-3, 40e-3), 3, (0, 0, 40e-3)),
        (Load(GUIDE, "H", "wall", 20e-3, 10e-3, **ABSORBER), 2, (0, -10e-3)),
        (Load(GUIDE, "H", "centre", 20e-3, 10e-3, **ABSORBER), 2, (0, 0)),
    ],
)
def test_what_is_moved(part, dimensions, shift):
    field = picture(dimensions)
    found = in_port_frame(part, field)
    np.testing.assert_allclose((found.points - field.points).T, [shift] * 4, atol=1e-15)
    np.testing.assert_array_equal(found.electric, field.electric)
    for cut, before in zip(found.cuts, field.cuts, strict=True):
        np.testing.assert_array_equal(cut.origin - before.origin, shift)


def test_an_assessment_holds_its_pictures_so():
    part = Load(GUIDE, "H", "wall", 20e-3, 10e-3, **ABSORBER)
    found = assess(part, Band(10e9, 10.2e9, 2), s_error=3e-2)
    for field in found.fields:
        assert (field.points[1].min(), field.points[1].max()) == pytest.approx((-A / 2, A / 2))
