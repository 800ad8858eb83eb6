"""Fields of planes carried on into space, beside the modes of whole guides."""

from types import SimpleNamespace

import numpy as np
import pytest
from scipy.special import j0, j1

from geometries.shapes.guides import RectangularGuide
from solver.errors import OutputError
from solver.exchange.whole_fields import goes_on, whole_field
from solver.parts.field_picture import FieldPicture

A, B, F = 22.86e-3, 10.16e-3, 10e9
K = 2 * np.pi * F / 299792458.0
BETA = np.sqrt(K**2 - (np.pi / A) ** 2)
PART = SimpleNamespace(guide=RectangularGuide(A, B))


def te10(x, z):
    """E_y, eta0 H_x and eta0 H_z (D. M. Pozar, Microwave Engineering, 4th ed., eqs. 3.89)."""
    wave = np.exp(-1j * BETA * z)
    even, odd = np.cos(np.pi * x / A) * wave, np.sin(np.pi * x / A) * wave
    return even, -BETA / K * even, -1j * np.pi / (K * A) * odd


def plane(across, axes, electric, magnetic):
    """A strip of two triangles; fields as (along z, across, upright)."""
    points = np.array([[0.0, 7e-3, 7e-3, 0.0], [-across, -across, across, across]])
    cells = np.array([[0, 0], [1, 2], [2, 3]])
    none = np.zeros(4, dtype=complex)
    both = (np.stack([none if c is None else c for c in v]) for v in (electric, magnetic))
    return FieldPicture(points, cells, none, F, "E", *both, axes=axes)


def volume(field):
    """Of wedges, each three tetrahedra."""
    total = 0.0
    for corners in ((0, 1, 2, 5), (0, 1, 4, 5), (0, 3, 4, 5)):
        a, b, c, d = (field.points[:, field.cells[i]] for i in corners)
        total += np.abs(np.einsum("in,in->n", np.cross(b - a, c - a, axis=0), d - a)).sum() / 6
    return total


def test_an_e_plane_part_goes_as_a_half_wave_across():
    z = np.array([0.0, 7e-3, 7e-3, 0.0])
    e_y, h_x, _ = te10(0.0, z)
    # in the plane of z and y what stands upright is -x
    flat = plane(B / 2, ("z", "y"), (None, e_y, None), (None, None, -h_x))
    found = whole_field(flat, PART)
    x, _, z = found.points
    e_y, h_x, h_z = te10(x, z)
    np.testing.assert_allclose(found.electric, [0 * x, e_y, 0 * x], atol=1e-14)
    np.testing.assert_allclose(found.magnetic, [h_x, 0 * x, h_z], atol=1e-14)
    np.testing.assert_allclose(found.values, np.abs(e_y), atol=1e-14)
    assert volume(found) == pytest.approx(A * B * 7e-3)


def test_an_e_plane_part_has_e_along_its_axis_too():
    """E = (E_y, E_z) cos(pi x/a): eta0 H_y is -j/k dE_z/dx."""
    e_z = np.array([1.0, 2j, -1.0, 0.5])
    flat = plane(B / 2, ("z", "y"), (e_z, None, None), (None, None, None))
    found = whole_field(flat, PART)
    x, count = found.points[0], found.points.shape[1] // 4
    np.testing.assert_allclose(found.electric[2], np.cos(np.pi * x / A) * np.tile(e_z, count))
    slope = -np.pi / A * np.sin(np.pi * x / A) * np.tile(e_z, count)
    # (curl E)_y = -dE_z/dx = -j k eta0 H_y
    np.testing.assert_allclose(found.magnetic[1], slope / (1j * K), atol=1e-14)


def test_an_h_plane_part_is_the_same_at_every_height():
    x, z = np.array([-A / 4, -A / 4, A / 4, A / 4]), np.array([0.0, 7e-3, 7e-3, 0.0])
    e_y, h_x, h_z = te10(x, z)
    flat = plane(A / 4, ("z", "x"), (None, None, e_y), (h_z, h_x, None))
    found = whole_field(flat, PART)
    x, y, z = found.points
    e_y, h_x, h_z = te10(x, z)
    np.testing.assert_allclose(found.electric, [0 * x, e_y, 0 * x], atol=1e-14)
    np.testing.assert_allclose(found.magnetic, [h_x, 0 * x, h_z], atol=1e-14)
    assert (y.min(), y.max()) == pytest.approx((-B / 2, B / 2))
    assert volume(found) == pytest.approx(A / 2 * B * 7e-3)


def test_a_half_plane_goes_round_its_axis():
    """TM01: E along z and r, H about the axis."""
    kc = 2.404826 / 12e-3
    points = np.array([[0.0, 7e-3, 7e-3, 0.0], [2e-3, 2e-3, 11e-3, 11e-3]])
    r, none = points[1], np.zeros(4, dtype=complex)
    e = np.stack([j0(kc * r), 0.3j * j1(kc * r), none])
    h = np.stack([none, none, 1j * j1(kc * r)])
    cells = np.array([[0, 0], [1, 2], [2, 3]])
    flat = FieldPicture(points, cells, none, F, "E", e, h, axes=("z", "r"))
    found = whole_field(flat, PART)
    x, y, _ = found.points
    r = np.hypot(x, y)
    cos, sin = x / r, y / r
    np.testing.assert_allclose(
        found.electric, [0.3j * j1(kc * r) * cos, 0.3j * j1(kc * r) * sin, j0(kc * r)], atol=1e-12
    )
    around = 1j * j1(kc * r)
    np.testing.assert_allclose(found.magnetic, [-around * sin, around * cos, 0 * r], atol=1e-12)
    # a ring of so many flat sides
    sides = found.points.shape[1] // 4 - 1
    flat_share = sides / (2 * np.pi) * np.sin(2 * np.pi / sides)
    ring = np.pi * (11e-3**2 - 2e-3**2) * 7e-3
    assert volume(found) == pytest.approx(ring * flat_share, rel=1e-9)


def test_what_does_not_go_on():
    flat = plane(B / 2, ("s", "t"), (None, None, None), (None, None, None))
    assert not goes_on(flat)
    with pytest.raises(OutputError, match="how a field on"):
        whole_field(flat, PART)
    bare = FieldPicture(flat.points, flat.cells, flat.values, F, "E", axes=("z", "y"))
    assert not goes_on(bare)
