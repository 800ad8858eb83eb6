"""Meshes from plain arrays: sorted, named, straight or curved."""

import numpy as np
import pytest

from geometries.cells.tetrahedral_mesh import tetrahedral_mesh
from geometries.errors import MeshingError

# Node 0 belongs to no cell; two cells have the face 2-4-5 in common.
POINTS = np.array(
    [[9.0, 9.0, 9.0], [0, 0, 0], [1, 0, 0], [1, 1, 1], [0, 1, 0], [0, 0, 1]], dtype=float
).T
CELLS = np.array([[5, 1, 4, 2], [4, 3, 2, 5]]).T


def test_cells_are_sorted_and_unused_nodes_are_dropped():
    mesh = tetrahedral_mesh(POINTS, CELLS, {})
    assert mesh.p.shape == (3, 5)
    assert np.all(np.diff(mesh.t, axis=0) > 0)
    volumes = np.linalg.det((mesh.p[:, mesh.t[1:]] - mesh.p[:, mesh.t[:1]]).transpose(2, 0, 1))
    assert np.abs(volumes).sum() == pytest.approx(1.0 + 2.0)


def test_named_facets_are_found_from_their_corners():
    triples = np.array([[4, 2, 1], [2, 5, 3]]).T
    mesh = tetrahedral_mesh(POINTS, CELLS, {"port1": triples})
    corners = mesh.p[:, mesh.facets[:, mesh.boundaries["port1"]]].mean(axis=1)
    expected = POINTS[:, triples].mean(axis=1)
    assert {tuple(np.round(c, 12)) for c in corners.T} == {
        tuple(np.round(c, 12)) for c in expected.T
    }


@pytest.mark.parametrize("triple", [[2, 4, 5], [1, 2, 3], [0, 1, 2]])
def test_facets_off_the_surface_are_refused(triple):
    with pytest.raises(MeshingError, match="'port1' is not on the surface"):
        tetrahedral_mesh(POINTS, CELLS, {"port1": np.array([triple]).T})


def test_unusable_cells_are_refused():
    with pytest.raises(MeshingError, match="same corner twice"):
        tetrahedral_mesh(POINTS, np.array([[1, 2, 2, 3]]).T, {})
    with pytest.raises(MeshingError, match=r"must be \(4, n\) or \(10, n\)"):
        tetrahedral_mesh(POINTS, CELLS[:3], {})


def test_middle_nodes_go_to_their_own_edges():
    """gmsh lists the middles of edges 01 12 20 30 32 31; here each is moved by its own amount."""
    pairs = ((0, 1), (1, 2), (2, 0), (3, 0), (3, 2), (3, 1))
    cell = CELLS[:, 0]
    ends = np.array([[cell[a], cell[b]] for a, b in pairs])
    shifts = 0.01 * np.arange(1, 7)
    middles = POINTS[:, ends].mean(axis=2) + shifts
    points = np.concatenate([POINTS, middles], axis=1)
    ten = np.concatenate([cell, 6 + np.arange(6)])[:, None]
    mesh = tetrahedral_mesh(points, ten, {"wall": cell[:3, None]})
    assert mesh.doflocs.shape == (3, 10)
    for edge, (a, b) in enumerate(mesh.edges.T):
        found = mesh.doflocs[:, mesh.dofs.edge_dofs[0, edge]]
        straight = (mesh.doflocs[:, a] + mesh.doflocs[:, b]) / 2
        original = [np.flatnonzero((mesh.doflocs[:, v] == POINTS.T).all(axis=1))[0] for v in (a, b)]
        which = [set(pair) == set(original) for pair in ends].index(True)
        np.testing.assert_allclose(found - straight, shifts[which], atol=1e-14)
