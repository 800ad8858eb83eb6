"""Straight edges bent to the curved wall that they stand for."""

import numpy as np
import pytest
from numpy.testing import assert_allclose
from skfem import MeshTet1

from geometries.cells.gmsh_session import gmsh_session
from geometries.cells.tetrahedral_cells import TetrahedralCells, read_tetrahedra
from geometries.user_files.curved_walls import with_curved_walls
from geometries.user_files.mesh_checks import check_cells

PORTS = ("port1", "port2")


def wall_edges(cells):
    facets = cells.boundary()
    pairs = np.concatenate([facets[[0, 1]], facets[[1, 2]], facets[[0, 2]]], axis=1)
    return np.unique(np.sort(pairs, axis=0), axis=1)


def quarter_bend(size):
    """First-order cells of a 20 x 10 guide that turns in the plane of its 10, axis radius 30."""
    with gmsh_session("bend") as gmsh:
        occ = gmsh.model.occ
        face = occ.addRectangle(-10, -5, 0, 20, 10)
        made = occ.revolve([(2, face)], 0, 30, 0, 1, 0, 0, -np.pi / 2)
        occ.synchronize()
        gmsh.model.addPhysicalGroup(3, [made[1][1]], name="inside")
        gmsh.model.addPhysicalGroup(2, [face], name="port1")
        gmsh.model.addPhysicalGroup(2, [made[0][1]], name="port2")
        gmsh.option.setNumber("Mesh.MeshSizeMax", size)
        gmsh.model.mesh.generate(3)
        return read_tetrahedra(gmsh)


@pytest.mark.parametrize("radius", [25.0, 35.0])
def test_middles_come_to_lie_on_the_curved_wall(radius):
    cells = quarter_bend(5.0)
    bent = with_curved_walls(cells, PORTS)
    check_cells(bent)
    edges = wall_edges(cells)
    ends = np.hypot(bent.points[1][edges] - 30, bent.points[2][edges])
    chosen = edges[:, np.isclose(ends, radius).all(axis=0)]
    straight = cells.points[:, chosen].mean(axis=1)
    curved = bent.points[:, bent.middle_nodes(*chosen)]
    sag, left = (np.hypot(p[1] - 30, p[2]) - radius for p in (straight, curved))
    assert np.abs(left.mean()) < 0.03 * np.abs(sag.mean())
    assert np.abs(left).max() < 0.3 * np.abs(sag).max()


def test_flat_walls_and_ports_stay_flat():
    cells = quarter_bend(5.0)
    bent = with_curved_walls(cells, PORTS)
    edges = wall_edges(cells)
    for axis, value in ((0, -10.0), (0, 10.0), (1, 30.0), (2, 0.0)):
        chosen = edges[:, np.isclose(cells.points[axis][edges], value).all(axis=0)]
        assert chosen.shape[1] > 5
        assert_allclose(bent.points[axis, bent.middle_nodes(*chosen)], value, atol=1e-9)


def test_a_box_has_no_curved_wall():
    mesh = MeshTet1.init_tensor(*(np.linspace(0, 1, 3) for _ in range(3)))
    facets = mesh.facets[:, mesh.boundary_facets()]
    height = mesh.p[2][facets].mean(axis=0)
    groups = {"port1": facets[:, height == 0], "port2": facets[:, height == 1]}
    assert with_curved_walls(TetrahedralCells(mesh.p, mesh.t, groups), PORTS) is None


def test_second_order_cells_keep_their_shape():
    cells = quarter_bend(5.0)
    bent = with_curved_walls(cells, PORTS)
    assert with_curved_walls(bent, PORTS) is None


def test_wide_flats_that_meet_at_45_degrees_are_a_mitre():
    """Two guides of a square section, joined at a slant: nothing is bent."""
    with gmsh_session("mitre") as gmsh:
        occ = gmsh.model.occ
        corners = [(0, 0), (30, 0), (60, 30), (53, 37), (27, 11), (0, 11)]
        points = [occ.addPoint(x, y, 0) for x, y in corners]
        lines = [occ.addLine(a, b) for a, b in zip(points, points[1:] + points[:1], strict=True)]
        face = occ.addPlaneSurface([occ.addCurveLoop(lines)])
        made = occ.extrude([(2, face)], 0, 0, 10)
        occ.synchronize()
        gmsh.model.addPhysicalGroup(3, [made[1][1]], name="inside")
        gmsh.model.addPhysicalGroup(2, [made[4][1]], name="port2")
        gmsh.model.addPhysicalGroup(2, [made[7][1]], name="port1")
        gmsh.option.setNumber("Mesh.MeshSizeMax", 4.0)
        gmsh.model.mesh.generate(3)
        cells = read_tetrahedra(gmsh)
    assert with_curved_walls(cells, PORTS) is None
