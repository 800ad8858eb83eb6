"""Quarters of horns and of joints with a gap: exact maps, volumes, spheres and named sides."""

import math

import numpy as np
import pytest

from geometries.cells.space_ports import HALF_SPHERE
from geometries.shapes.choke_flanges import ChokeFlange
from geometries.shapes.guides import CircularGuide, RectangularGuide
from geometries.shapes.horns import ConicalHorn, RectangularHorn
from geometries.shapes.rotating_joints import RotatingJoint
from geometries.space_meshes.choke_blocks import choke_blocks
from geometries.space_meshes.choke_plans import arc, line, lines_towards
from geometries.space_meshes.horn_blocks import horn_blocks, sphere_about

GUIDE, ROUND = RectangularGuide(22.86e-3, 10.16e-3), CircularGuide(24e-3)
WAVELENGTH, FEED = 25e-3, 10e-3
GROOVE = (14e-3, 16e-3, 8e-3)

HORNS = {
    "horn": RectangularHorn(GUIDE, 40e-3, 30e-3, 50e-3),
    "flat horn": RectangularHorn(GUIDE, 45e-3, 10.16e-3, 30e-3),
    "open guide": RectangularHorn(GUIDE, 22.86e-3, 10.16e-3, 0.0),
    "cone": ConicalHorn(ROUND, 40e-3, 50e-3),
    "open tube": ConicalHorn(ROUND, 24e-3, 0.0),
}
JOINTS = {
    "flange": ChokeFlange(GUIDE, 0.4e-3, 25e-3),
    "choke": ChokeFlange(GUIDE, 0.4e-3, 25e-3, *GROOVE),
    "closed choke": ChokeFlange(GUIDE, 0.4e-3, 25e-3, *GROOVE, rim="closed"),
    "gasket": ChokeFlange(
        GUIDE, 0.4e-3, 25e-3, *GROOVE, gasket_permittivity=2.5, gasket_inner_radius=20e-3
    ),
    "joint": RotatingJoint(ROUND, 0.5e-3, 30e-3, 17e-3, 19e-3, 8e-3, mode="TE11"),
    "bare joint": RotatingJoint(ROUND, 0.5e-3, 30e-3, mode="TE11"),
}


def horn_mesh(name, refinement=0):
    horn = HORNS[name]
    return horn, horn_blocks(horn, wavelength=WAVELENGTH, refinement=refinement, feed=FEED)


def joint_mesh(name, refinement=0):
    part = JOINTS[name]
    return part, choke_blocks(part, wavelength=WAVELENGTH, refinement=refinement, feed=FEED)


def gauss(count=9):
    x, w = np.polynomial.legendre.leggauss(count)
    grids = np.meshgrid(*[(x + 1) / 2] * 3, indexing="ij")
    return np.stack([g.ravel() for g in grids]), np.einsum("i,j,k->ijk", w, w, w).ravel() / 8


def volumes(mesh):
    """Volume of every cell [m^3]."""
    points, weights = gauss()
    _, slopes = mesh.located(points, np.arange(mesh.t.shape[1]))
    determinants = np.linalg.det(np.moveaxis(slopes, (0, 1), (-2, -1)))
    # a ring's parameters run left-handed; no cell may run both ways
    each = determinants.reshape(mesh.t.shape[1], -1)
    assert (np.abs(np.sign(each).sum(axis=1)) == len(weights)).all()
    return np.abs(each) @ weights


def flare(horn):
    """Volume of guide and flare, a frustum of a cone or a prismatoid [m^3]."""
    length = horn.length
    if isinstance(horn, ConicalHorn):
        a, b = horn.guide.radius, horn.aperture_diameter / 2
        return math.pi * (a**2 * FEED + length / 3 * (a**2 + a * b + b**2))
    a, b = horn.guide.broad_width, horn.guide.narrow_height
    w, h = horn.aperture_width, horn.aperture_height
    return a * b * FEED + length / 3 * (a * b + w * h + (a * h + w * b) / 2)


@pytest.mark.parametrize("name", HORNS)
def test_volume_of_a_horn_with_its_half_sphere(name):
    horn, found = horn_mesh(name)
    whole = flare(horn) + 2 / 3 * math.pi * sphere_about(horn) ** 3
    assert found.images * volumes(found.mesh).sum() == pytest.approx(whole, rel=1e-5)


@pytest.mark.parametrize("name", ["horn", "cone"])
def test_named_sides_of_a_horn(name):
    horn, found = horn_mesh(name, refinement=1)
    mesh = found.mesh
    at = {side: mesh.p[:, mesh.facets[:, chosen]] for side, chosen in mesh.boundaries.items()}
    assert set(at) == {"port1", "magnetic", HALF_SPHERE}
    radius = np.linalg.norm(at[HALF_SPHERE], axis=0)
    np.testing.assert_allclose(radius, sphere_about(horn), rtol=1e-12)
    assert (at[HALF_SPHERE][2] > -1e-12).all()
    np.testing.assert_allclose(at["magnetic"][0], 0.0, atol=1e-15)
    np.testing.assert_allclose(at["port1"][2], -horn.length - FEED)
    (port,) = found.ports
    assert port.origin[2] + port.feed_length == pytest.approx(-horn.length)
    # all that is left is metal, or the electric wall y = 0
    left = np.setdiff1d(mesh.boundary_facets(), np.concatenate(list(mesh.boundaries.values())))
    walls = mesh.p[:, mesh.facets[:, left]]
    beyond = walls[:, :, (walls[2] > 1e-9).any(axis=0)]
    np.testing.assert_allclose(beyond[1], 0.0, atol=1e-12)


def disc(*radii):
    return math.pi * sum(sign * r**2 for sign, r in zip((1, -1), radii, strict=False))


@pytest.mark.parametrize("name", JOINTS)
def test_volume_of_a_joint(name):
    part, found = joint_mesh(name)
    rectangular = isinstance(part.guide, RectangularGuide)
    opening = GUIDE.broad_width * GUIDE.narrow_height if rectangular else disc(12e-3)
    # without a groove the mesh may reach beyond the rim, see `gap_end`; here it does not
    whole = 2 * FEED * opening + part.gap * disc(part.rim_radius)
    whole += sum(g.depth * disc(g.outer_radius, g.inner_radius) for g in part.grooves)
    cells = volumes(found.mesh)
    assert found.images * cells.sum() == pytest.approx(whole, rel=1e-6)
    filled = found.images * cells[found.permittivity > 1].sum()
    assert set(found.permittivity) <= {1.0, 2.5}
    gasket = part.gap * disc(25e-3, 20e-3) if name == "gasket" else 0.0
    assert filled == pytest.approx(gasket, rel=1e-6)


@pytest.mark.parametrize("name", JOINTS)
def test_named_sides_of_a_joint(name):
    part, found = joint_mesh(name, refinement=1)
    mesh = found.mesh
    at = {side: mesh.p[:, mesh.facets[:, chosen]] for side, chosen in mesh.boundaries.items()}
    rim = {"open_rim"} if part.rim == "open" else set()
    assert set(at) == {"port1", "port2", "magnetic"} | rim
    for side, place in (("port1", -FEED), ("port2", part.gap + FEED)):
        np.testing.assert_allclose(at[side][2], place, rtol=1e-12)
    np.testing.assert_allclose(at["magnetic"][0], 0.0, atol=1e-15)
    for side in rim:
        np.testing.assert_allclose(np.hypot(*at[side][:2]), part.rim_radius, rtol=1e-12)
        assert at[side][2].min() >= 0 and at[side][2].max() <= part.gap + 1e-15


@pytest.mark.parametrize(("flange", "start"), [(1, -6e-3), (2, 0.5e-3)])
def test_a_groove_lies_in_its_flange(flange, start):
    part = RotatingJoint(
        ROUND,
        0.5e-3,
        30e-3,
        mode="TE11",
        second_groove_inner_radius=17e-3,
        second_groove_outer_radius=19e-3,
        second_groove_depth=6e-3,
        second_groove_flange=flange,
    )
    points = choke_blocks(part, wavelength=WAVELENGTH, feed=FEED).mesh.p
    height = points[2, np.hypot(*points[:2]) > 16e-3]
    low, high = min(start, 0.0), max(start + 6e-3, 0.5e-3)
    assert (height.min(), height.max()) == pytest.approx((low, high))


@pytest.mark.parametrize("refinement", [1, 2])
def test_refinement_draws_cells_closer_to_the_edges(refinement):
    for mesh in (horn_mesh, joint_mesh):
        name = "horn" if mesh is horn_mesh else "choke"
        coarse, fine = (mesh(name, r)[1].description["finest_cell_mm"] for r in (0, refinement))
        assert fine == pytest.approx(coarse / 10**refinement)


def test_lines_towards_an_edge():
    found = lines_towards(10e-3, (0.01e-3, 0.1e-3), 4e-3) * 10e-3
    # each a tenth of the next, up to 0.4 of the length
    np.testing.assert_allclose(found[1:4], [0.01e-3, 0.1e-3, 1e-3])
    np.testing.assert_allclose(10e-3 - found[-3:], [1e-3, 0.1e-3, 0.0], atol=1e-15)
    assert np.diff(found).max() < 4e-3 * (1 + 1e-9) and (np.diff(found) > 0).all()
    np.testing.assert_allclose(lines_towards(10e-3, (0.0, 0.0), 4e-3), np.linspace(0, 1, 4))


@pytest.mark.parametrize("curve", [line((1, 2), (-3, 5)), arc(2.0, 0.3, 1.4)])
def test_slopes_of_the_outlines_curves(curve):
    u, step = np.linspace(0.1, 0.9, 5), 1e-6
    exact = (curve(u + step)[0] - curve(u - step)[0]) / (2 * step)
    np.testing.assert_allclose(curve(u)[1], exact, rtol=1e-8)


@pytest.mark.parametrize("name", ["horn", "cone", "choke", "joint"])
def test_derivatives_of_the_maps(name):
    _, found = horn_mesh(name) if name in HORNS else joint_mesh(name)
    rng = np.random.default_rng(60411)
    for block in found.mesh.blocks:
        low, high = (np.array([b[end] for b in block.breaks])[:, None] for end in (0, -1))
        at = low + (high - low) * rng.uniform(0.05, 0.95, (3, 4))
        _, slopes = block.mapping(at)
        for axis in range(3):
            step = 1e-6 * (high - low)[axis, 0] * np.eye(3)[:, axis : axis + 1]
            ahead, behind = (block.mapping(at + sign * step)[0] for sign in (1, -1))
            exact = (ahead - behind) / (2 * step[axis])
            np.testing.assert_allclose(slopes[:, axis], exact, atol=1e-6 * np.abs(exact).max())
