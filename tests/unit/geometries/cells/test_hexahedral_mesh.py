"""Blocks join into one mesh with numbered entities and named facets."""

import numpy as np
import pytest

from geometries.cells.hexahedral_mesh import Block, hexahedral_mesh
from geometries.errors import MeshingError


def quarter_ring(parameters):
    """Radius 1 + u, angle v, height w."""
    u, v, w = parameters
    points = np.stack([(1 + u) * np.cos(v), (1 + u) * np.sin(v), w])
    slopes = np.array(
        [
            [np.cos(v), -(1 + u) * np.sin(v), 0 * u],
            [np.sin(v), (1 + u) * np.cos(v), 0 * u],
            [0 * u, 0 * u, 1 + 0 * u],
        ]
    )
    return points, slopes


def ring_block(first, last, cells=(2, 2, 3), sides=None):
    breaks = (
        np.linspace(0, 1, cells[0] + 1),
        np.linspace(first, last, cells[1] + 1),
        np.linspace(0, 1, cells[2] + 1),
    )
    return Block(breaks, quarter_ring, sides or {})


def test_two_blocks_share_their_common_vertices_edges_and_faces():
    one = hexahedral_mesh([ring_block(0.0, 2.0, (2, 4, 3))])
    two = hexahedral_mesh([ring_block(1.0, 2.0), ring_block(0.0, 1.0)])
    for mesh in (one, two):
        assert mesh.p.shape[1] == 3 * 5 * 4
        assert mesh.t.shape == (8, 24)
        assert mesh.edges.shape[1] == 2 * 5 * 4 + 3 * 4 * 4 + 3 * 5 * 3
        assert mesh.facets.shape[1] == 3 * 4 * 3 + 2 * 5 * 3 + 2 * 4 * 4
        assert len(mesh.boundary_facets()) == 2 * (4 * 3 + 2 * 3 + 2 * 4)


def test_a_full_ring_closes():
    mesh = hexahedral_mesh([ring_block(0.0, np.pi), ring_block(np.pi, 2 * np.pi)])
    assert len(mesh.boundary_facets()) == 2 * (4 * 3 + 2 * 4)


def test_points_are_on_the_exact_shape_and_slopes_are_their_derivatives():
    mesh = hexahedral_mesh([ring_block(0.0, 1.0), ring_block(1.0, 2.0)])
    X = np.array([[0.0, 0.3], [0.5, 0.9], [0.2, 0.4]])
    cells = np.array([20, 0, 13])
    points, slopes = mesh.located(X, cells)
    assert points.shape == (3, 3, 2)
    step = 1e-6
    for a in range(3):
        shift = step * np.eye(3)[:, [a]]
        there, back = mesh.located(X + shift, cells)[0], mesh.located(X - shift, cells)[0]
        np.testing.assert_allclose(slopes[:, a], (there - back) / (2 * step), atol=1e-9)
    radius = np.hypot(points[0], points[1])
    np.testing.assert_allclose(radius[:, 0], [1.5, 1.0, 1.0], atol=1e-14)


@pytest.mark.parametrize(
    ("side", "axis", "value", "count"),
    [("w0", 2, 0.0, 4), ("w1", 2, 1.0, 4), ("v0", 1, 0.0, 6)],
)
def test_named_sides_lie_where_their_name_says(side, axis, value, count):
    mesh = hexahedral_mesh([ring_block(0.0, 1.0, sides={side: "port1"})])
    facets = mesh.boundaries["port1"]
    assert len(facets) == count
    np.testing.assert_allclose(mesh.p[axis][mesh.facets[:, facets]], value, atol=1e-14)


def test_one_name_may_cover_sides_of_several_blocks():
    sides = {"w0": "port1"}
    mesh = hexahedral_mesh([ring_block(0.0, 1.0, sides=sides), ring_block(1.0, 2.0, sides=sides)])
    assert len(mesh.boundaries["port1"]) == 8


def test_inner_sides_cannot_be_named():
    blocks = [ring_block(0.0, 1.0, sides={"v1": "port1"}), ring_block(1.0, 2.0)]
    with pytest.raises(MeshingError, match="lies inside the part"):
        hexahedral_mesh(blocks)
    blocks = [
        ring_block(0.0, 1.0, sides={"v1": "port1"}),
        ring_block(1.0, 2.0, sides={"v0": "port2"}),
    ]
    with pytest.raises(MeshingError, match="share a face"):
        hexahedral_mesh(blocks)


def test_unusable_blocks_are_refused():
    with pytest.raises(MeshingError, match="must ascend"):
        ring_block(1.0, 0.0)
    with pytest.raises(MeshingError, match=r"\['top'\] are not sides"):
        ring_block(0.0, 1.0, sides={"top": "port1"})


def test_one_name_may_cover_two_sides_of_one_block():
    mesh = hexahedral_mesh([ring_block(0.0, 1.0, sides={"w0": "magnetic", "w1": "magnetic"})])
    one = hexahedral_mesh([ring_block(0.0, 1.0, sides={"w0": "magnetic"})])
    assert len(mesh.boundaries["magnetic"]) == 2 * len(one.boundaries["magnetic"])
