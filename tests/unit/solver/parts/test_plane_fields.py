"""Fields read from plane elements: gradients by the metal's coordinates, cells cut in pieces."""

import numpy as np
import pytest

from geometries.plane_meshes.parts_in_plane import mesh_in_plane
from geometries.shapes.bends import Bend
from geometries.shapes.corners import Corner
from geometries.shapes.guides import RectangularGuide
from solver.fem.scalar_field import assemble
from solver.parts.plane_fields import (
    cut_cell,
    gradient_in_plane,
    gradients,
    sampled,
    square_grid,
)

GUIDE = RectangularGuide(22.86e-3, 10.16e-3)
PARTS = {"bend": Bend(GUIDE, "H", 1.3, 25e-3), "corner": Corner(GUIDE, "H", 1.3, 6e-3)}


@pytest.fixture(scope="module", params=PARTS)
def field(request):
    """Some field of degree 3 on the quadrilaterals of a bend or the triangles of a corner."""
    made = mesh_in_plane(PARTS[request.param], 40e-3)
    system = assemble(made, 3, lambda port, t: np.ones((1, *np.shape(t))), fixed_wall=True)
    rng = np.random.default_rng(50311)
    n = system.columns.shape[0]
    return system, rng.normal(size=n) + 1j * rng.normal(size=n)


def values(system, unknowns, grid):
    """The field at points of the reference cell, and where they lie in the metal."""
    table = np.array([system.element.lbasis(grid, i)[0] for i in range(len(system.local))])
    mesh = system.plane_mesh.mesh
    at = np.append(unknowns, 0.0)[system.local].T @ table
    return at, system.plane_mesh.chart.position(mesh._mapping().F(grid))


def test_gradient_by_the_metals_coordinates_is_the_slope_of_the_field(field):
    system, unknowns = field
    grid, step = np.array([[0.21, 0.4], [0.35, 0.17]]), 1e-6
    points, gradient = gradient_in_plane(system, unknowns, grid, inwards=0.0)
    for axis in range(2):
        move = step * np.eye(2)[:, axis : axis + 1]
        (ahead, there), (behind, here) = (
            values(system, unknowns, grid + sign * move) for sign in (1, -1)
        )
        change = (gradient.reshape(2, *ahead.shape) * (there - here)).sum(axis=0)
        np.testing.assert_allclose(change, ahead - behind, atol=1e-4 * np.abs(change).max())
    np.testing.assert_allclose(points.reshape(there.shape), (there + here) / 2, atol=1e-9)


def test_points_are_moved_towards_the_middle_of_their_cell(field):
    system, unknowns = field
    corners = system.plane_mesh.mesh.t.shape[0]
    grid, _ = cut_cell(corners, 1)
    on, _ = gradient_in_plane(system, unknowns, grid, inwards=0.0)
    half, _ = gradient_in_plane(system, unknowns, grid, inwards=0.5)
    middle, _ = gradient_in_plane(system, unknowns, grid, inwards=1.0)
    # every point of a cell falls on its middle
    middle = middle.reshape(2, -1, grid.shape[1])
    np.testing.assert_allclose(middle, middle[:, :, :1] + 0 * middle, atol=1e-12)
    away = [np.linalg.norm((x - middle.reshape(2, -1)), axis=0) for x in (on, half)]
    np.testing.assert_allclose(away[1] / away[0], 0.5, atol=0.15)


def test_gradients_of_several_fields_are_those_of_each(field):
    system, unknowns = field
    grid, cells = np.array([[0.2, 0.3], [0.3, 0.1]]), np.array([3, 0])
    both = np.stack([unknowns, 2j * unknowns[::-1]], axis=1)
    points, found = gradients(system, both, grid, cells)
    for i in range(2):
        alone_at, alone = gradients(system, both[:, i : i + 1], grid, cells)
        np.testing.assert_allclose(found[..., i], alone[..., 0], rtol=1e-12)
        np.testing.assert_array_equal(points, alone_at)


def test_a_picture_covers_the_metal_and_holds_the_field(field):
    system, unknowns = field
    points, cells, shown = sampled(system, unknowns, 6)
    grid, _ = cut_cell(system.plane_mesh.mesh.t.shape[0], 6)
    expected, there = values(system, unknowns, grid)
    np.testing.assert_allclose(shown, expected.ravel(), rtol=1e-12)
    np.testing.assert_allclose(points, there.reshape(2, -1))
    a, b, c = (points[:, corner] for corner in cells)
    area = np.abs((b - a)[0] * (c - a)[1] - (b - a)[1] * (c - a)[0]).sum() / 2
    # all of it: what `weights` integrates to, the determinant of the map
    mesh = system.plane_mesh.mesh
    steps = mesh._mapping()
    node = np.array([[1 / 3], [1 / 3]]) if grid.shape[1] == 28 else np.array([[0.5], [0.5]])
    size = 0.5 if grid.shape[1] == 28 else 1.0
    whole = system.plane_mesh.chart.weights(steps.F(node))[1] * np.abs(steps.detDF(node)) * size
    assert area == pytest.approx(float(whole.sum()), rel=5e-3)


@pytest.mark.parametrize(("corners", "area"), [(3, 0.5), (4, 1.0)])
@pytest.mark.parametrize("pieces", [1, 2, 5])
def test_pieces_of_a_cell_fill_it(corners, area, pieces):
    grid, cut = cut_cell(corners, pieces)
    a, b, c = (grid[:, corner] for corner in cut)
    sizes = np.abs((b - a)[0] * (c - a)[1] - (b - a)[1] * (c - a)[0]) / 2
    np.testing.assert_allclose(sizes, 0.5 / pieces**2)
    assert sizes.sum() == pytest.approx(area)
    assert np.unique(cut).size == grid.shape[1]
    if corners == 4:
        np.testing.assert_array_equal(square_grid(pieces), grid)
