"""Edges of a box and feeds drawn out of its ports, in a frame that is turned in space."""

from dataclasses import replace
from types import SimpleNamespace

import numpy as np
import pytest
from scipy.spatial.transform import Rotation
from skfem import MeshTet1

from geometries.cells.space_ports import SpacePort
from geometries.cells.tetrahedral_cells import MIDDLES, TetrahedralCells
from geometries.shapes.guides import RectangularGuide
from geometries.user_files import outlines
from geometries.user_files.outlines import outline_of
from geometries.user_files.port_feeds import with_feed

A, B, LENGTH = 20e-3, 10e-3, 30e-3
#: Some rotation, and where it takes the middle of port 1.
TURN, AT = Rotation.from_euler("xyz", [0.4, -1.1, 2.0]).as_matrix(), np.array([0.1, -0.2, 0.3])


def box(curved=False):
    """A box with its broad wall along x and its axis along z, then turned and moved."""
    lines = (
        np.linspace(-A / 2, A / 2, 4),
        np.linspace(-B / 2, B / 2, 3),
        np.linspace(0, LENGTH, 5),
    )
    plain = MeshTet1.init_tensor(*lines)
    points, tets = plain.p.copy(), plain.t.copy()
    facets = plain.facets[:, plain.boundary_facets()]
    height = points[2][facets]
    groups = {
        "port1": facets[:, (height < 1e-9).all(axis=0)],
        "port2": facets[:, (height > LENGTH - 1e-9).all(axis=0)],
    }
    if curved:
        ends = np.sort(np.concatenate([tets[list(edge)] for edge in MIDDLES], axis=1), axis=0)
        edges, number = np.unique(ends, axis=1, return_inverse=True)
        tets = np.concatenate([tets, points.shape[1] + number.reshape(6, -1)])
        points = np.concatenate([points, points[:, edges].mean(axis=1)], axis=1)
    return TetrahedralCells(TURN @ points + AT[:, None], tets, groups)


def port():
    x, y, z = TURN.T
    return SpacePort("port1", RectangularGuide(A, B), AT, x, y, -z, 0.0)


def volumes(cells):
    a, b, c, d = (cells.points[:, corner] for corner in cells.tets[:4])
    return np.abs(np.einsum("in,in->n", np.cross(b - a, c - a, axis=0), d - a)) / 6


@pytest.mark.parametrize("curved", [False, True])
@pytest.mark.parametrize("length", [1e-3, 17e-3])
def test_a_feed_adds_straight_guide(curved, length):
    cells = box(curved)
    longer, moved = with_feed(cells, port(), length)
    sizes = volumes(longer)
    assert sizes.min() > 0
    assert sizes.sum() == pytest.approx(A * B * (LENGTH + length), rel=1e-12)
    # nothing that was there has moved
    n = cells.points.shape[1]
    np.testing.assert_array_equal(longer.points[:, :n], cells.points)
    np.testing.assert_array_equal(longer.tets[:, : cells.tets.shape[1]], cells.tets)
    # the port went out with its group, its reference plane stayed
    np.testing.assert_allclose(moved.origin, AT - length * TURN[:, 2])
    assert moved.feed_length == pytest.approx(length)
    height = TURN[:, 2] @ (longer.points[:, longer.groups["port1"]].reshape(3, -1) - AT[:, None])
    np.testing.assert_allclose(height, -length, rtol=1e-12)
    assert longer.groups["port1"].shape == cells.groups["port1"].shape
    # whole again: the only facets of one cell alone are those of a box's surface
    surface = longer.boundary()
    a, b, c = (longer.points[:, corner] for corner in surface)
    area = np.linalg.norm(np.cross(b - a, c - a, axis=0), axis=0).sum() / 2
    assert area == pytest.approx(2 * (A * B + (A + B) * (LENGTH + length)), rel=1e-12)


def test_middle_nodes_of_a_feed_are_shared_and_in_the_middle():
    cells, _ = with_feed(box(curved=True), port(), 17e-3)
    for node, ends in enumerate(MIDDLES, start=4):
        first, second = (cells.points[:, cells.tets[end]] for end in ends)
        np.testing.assert_allclose(cells.points[:, cells.tets[node]], (first + second) / 2)
    ends = np.sort(np.concatenate([cells.tets[list(e)] for e in MIDDLES], axis=1), axis=0)
    both = np.concatenate([ends, cells.tets[4:].reshape(1, -1)])
    edges = np.unique(ends, axis=1).shape[1]
    assert np.unique(both, axis=1).shape[1] == np.unique(cells.tets[4:]).size == edges


def test_a_bulge_of_the_port_is_carried_along():
    """The middle of an edge of the port, off its line, is off it in every layer."""
    cells = box(curved=True)
    a, b = cells.groups["port1"][0, 0], cells.groups["port1"][1, 0]
    middle = cells.middle_nodes(np.array([a]), np.array([b]))[0]
    points = cells.points.copy()
    points[:, middle] += 0.2e-3 * TURN[:, 0]
    longer, _ = with_feed(replace(cells, points=points), port(), 5e-3)
    # one layer: its outer edge is above the port's
    outer = {}
    for corner in (a, b):
        above = points[:, corner] - 5e-3 * TURN[:, 2]
        outer[corner] = int(np.argmin(np.linalg.norm(longer.points - above[:, None], axis=0)))
    found = longer.middle_nodes(np.array([outer[a]]), np.array([outer[b]]))[0]
    np.testing.assert_allclose(longer.points[:, found], points[:, middle] - 5e-3 * TURN[:, 2])


def test_a_box_is_drawn_by_its_twelve_edges_in_the_frame_of_port_1(monkeypatch):
    cells = box()
    monkeypatch.setattr(outlines, "read_cells", lambda part: cells)
    found = outline_of(SimpleNamespace(port_names=("port1", "port2")))
    low, high = np.array([[-A / 2, -B / 2, 0.0], [A / 2, B / 2, LENGTH]])[:, :, None]
    ends = found.edges
    at_side = np.isclose(ends, low[:, None], atol=1e-12) | np.isclose(
        ends, high[:, None], atol=1e-12
    )
    # every piece of an edge runs along one axis, on a side in both others
    along = np.abs(ends[:, 1] - ends[:, 0]) > 1e-9
    assert (along.sum(axis=0) == 1).all()
    assert (at_side.all(axis=1) | along).all()
    total = np.linalg.norm(ends[:, 1] - ends[:, 0], axis=0).sum()
    assert total == pytest.approx(4 * (A + B + LENGTH), rel=1e-9)
    for place, points in zip((0.0, LENGTH), found.ports, strict=True):
        np.testing.assert_allclose(points[2], place, atol=1e-12)
        assert points.shape[1] == 12
