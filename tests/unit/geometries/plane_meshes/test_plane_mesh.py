"""Plane meshes: area and boundary lengths against closed forms, cells the right way round."""

import math

import numpy as np
import pytest

from geometries.errors import MeshingError
from geometries.plane_meshes.parts_in_plane import mesh_in_plane
from geometries.plane_meshes.plane_mesh import feed_length
from geometries.shapes.bends import Bend
from geometries.shapes.corners import Corner
from geometries.shapes.guides import RectangularGuide
from geometries.shapes.straights import Straight

GUIDE = RectangularGuide(22.86e-3, 10.16e-3)
WAVELENGTH = 25e-3


def cell_areas(mesh):
    """Signed areas of the polygons, (cells,): the shoelace formula."""
    x, y = mesh.p[:, mesh.t]
    return 0.5 * (x * np.roll(y, -1, axis=0) - np.roll(x, -1, axis=0) * y).sum(axis=0)


def metal_area(plane_mesh):
    """Area of the metal [m^2]: the chart's weight is linear over each cell."""
    middle = plane_mesh.mesh.p[:, plane_mesh.mesh.t].mean(axis=1)
    return float((np.abs(cell_areas(plane_mesh.mesh)) * plane_mesh.chart.weights(middle)[1]).sum())


def boundary_length(plane_mesh, name):
    """Length of the metal's named edges [m]; along a wall the stretch is constant on a cell."""
    mesh = plane_mesh.mesh
    ends = mesh.p[:, mesh.facets[:, mesh.boundaries[name]]]
    size = np.hypot(*(ends[:, 1] - ends[:, 0]))
    along = np.abs(ends[0, 1] - ends[0, 0]) > np.abs(ends[1, 1] - ends[1, 0])
    stretch = plane_mesh.chart.stretch(ends.mean(axis=1))
    return float((size * np.where(along, stretch, 1.0)).sum())


@pytest.mark.parametrize("refinement", [0, 1])
@pytest.mark.parametrize("plane", ["E", "H"])
@pytest.mark.parametrize(("degrees", "inner"), [(1.0, 30e-3), (77.0, 1e-3), (180.0, 4e-3)])
def test_area_and_walls_of_a_bend(plane, degrees, inner, refinement):
    width = GUIDE.narrow_height if plane == "E" else GUIDE.broad_width
    bend = Bend(GUIDE, plane, math.radians(degrees), inner + width / 2)
    made = mesh_in_plane(bend, WAVELENGTH, refinement=refinement)
    outer = inner + width
    sector = 0.5 * bend.angle * (outer**2 - inner**2)
    feed = feed_length(width)
    assert metal_area(made) == pytest.approx(sector + 2 * feed * width, rel=1e-9)
    assert boundary_length(made, "port1") == pytest.approx(width)
    assert boundary_length(made, "port2") == pytest.approx(width)
    assert boundary_length(made, "wall") == pytest.approx(bend.angle * (inner + outer) + 4 * feed)


@pytest.mark.parametrize("plane", ["E", "H"])
@pytest.mark.parametrize(("degrees", "share"), [(1.0, 0.0), (90.0, 0.0), (90.0, 0.6), (165.0, 0.3)])
def test_area_and_walls_of_a_corner(plane, degrees, share):
    angle = math.radians(degrees)
    cut = share * Corner(GUIDE, plane, angle).largest_cut
    corner = Corner(GUIDE, plane, angle, cut)
    made = mesh_in_plane(corner, WAVELENGTH)
    width, arm = corner.width_in_plane, corner.outer_arm
    feed = made.ports[0].feed_length
    kite, flat = width * arm, 0.5 * cut**2 * math.sin(angle)
    assert metal_area(made) == pytest.approx(2 * feed * width + kite - flat, rel=1e-9)
    chord = 2 * cut * math.cos(angle / 2)
    assert boundary_length(made, "wall") == pytest.approx(4 * feed + 2 * arm - 2 * cut + chord)
    assert feed >= max(0.0, cut - arm) + 0.999 * feed_length(width)


@pytest.mark.parametrize("plane", ["E", "H"])
def test_area_of_a_straight(plane):
    made = mesh_in_plane(Straight(GUIDE, 31e-3), WAVELENGTH, plane=plane)
    width = GUIDE.narrow_height if plane == "E" else GUIDE.broad_width
    assert metal_area(made) == pytest.approx((31e-3 + 2 * feed_length(width)) * width)


@pytest.mark.parametrize("part", [Bend(GUIDE, "H", 2.0, 13e-3), Straight(GUIDE, 9e-3)])
def test_quadrilaterals_go_round_from_their_least_corner(part):
    mesh = mesh_in_plane(part, WAVELENGTH).mesh
    s, t = mesh.p[:, mesh.t]
    assert (cell_areas(mesh) > 0).all()
    tiny = 1e-12
    assert (s[[0, 3]].max(axis=0) < s[[1, 2]].min(axis=0)).all()
    assert (t[[0, 1]].max(axis=0) < t[[2, 3]].min(axis=0)).all()
    assert np.ptp(s[[0, 3]], axis=0).max() < tiny
    assert np.ptp(t[[0, 1]], axis=0).max() < tiny


def test_triangles_have_sorted_vertices_and_shrink_to_the_inner_edge():
    mesh = mesh_in_plane(Corner(GUIDE, "E", math.radians(90)), WAVELENGTH).mesh
    assert (np.diff(mesh.t, axis=0) > 0).all()
    at_edge = (np.hypot(*mesh.p[:, mesh.t]) < 1e-12).any(axis=0)
    size = np.sqrt(np.abs(cell_areas(mesh)))
    assert size[at_edge].max() < 1e-5 * size.max()


@pytest.mark.parametrize(
    "part", [Bend(GUIDE, "E", 2.0, 8e-3), Corner(GUIDE, "H", 1.5, 5e-3), Straight(GUIDE, 9e-3)]
)
def test_ports_count_from_the_wall_towards_which_the_part_turns(part):
    made = mesh_in_plane(part, WAVELENGTH)
    for port in made.ports:
        nodes = np.unique(made.mesh.facets[:, made.mesh.boundaries[port.name]])
        across = port.coordinate(made.mesh.p[:, nodes])
        assert across.min() == pytest.approx(0.0, abs=1e-12)
        assert across.max() == pytest.approx(port.width)
        assert np.linalg.norm(port.direction) == pytest.approx(1.0)
    # both ends on the inside: of an anticlockwise turn the chord between them is the shorter one
    inner = [made.chart.position(port.start[:, None])[:, 0] for port in made.ports]
    outer = [
        made.chart.position((port.start + port.width * port.direction)[:, None])[:, 0]
        for port in made.ports
    ]
    if not isinstance(part, Straight):
        assert np.linalg.norm(inner[1] - inner[0]) < np.linalg.norm(outer[1] - outer[0])


def test_every_edge_of_the_outline_has_one_name():
    made = mesh_in_plane(Corner(GUIDE, "E", 0.7, 2e-3), WAVELENGTH).mesh
    named = np.concatenate([made.boundaries[name] for name in ("port1", "port2", "wall")])
    np.testing.assert_array_equal(np.sort(named), made.boundary_facets())


def test_refinement_adds_cells():
    for part in (Bend(GUIDE, "E", 2.0, 8e-3), Corner(GUIDE, "H", 1.5)):
        cells = [mesh_in_plane(part, WAVELENGTH, refinement=r).mesh.nelements for r in range(3)]
        assert cells[0] < cells[1] < cells[2]


def test_a_circular_guide_has_no_plane():
    from geometries.shapes.guides import CircularGuide

    with pytest.raises(MeshingError, match="no plane"):
        mesh_in_plane(Straight(CircularGuide(27e-3), 10e-3), WAVELENGTH)
