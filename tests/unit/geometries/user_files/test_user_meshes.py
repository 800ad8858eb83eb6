"""Mesh files: what is read, what is refused, and with which line."""

import meshio
import numpy as np
import pytest
from numpy.testing import assert_allclose
from skfem import MeshTet1

from geometries import CircularGuide, RectangularGuide
from geometries.cells.gmsh_session import gmsh_session
from geometries.cells.tetrahedral_cells import TetrahedralCells, read_tetrahedra
from geometries.errors import InvalidDimensionError, MeshingError
from geometries.user_files.mesh_files import read_mesh_file
from geometries.user_files.port_sections import port_section, ports_in_frame
from geometries.user_files.user_meshes import MeshPart, user_mesh

GUIDE = RectangularGuide(20e-3, 10e-3)
SIZE = np.array([20.0, 10.0, 24.0])  # mm
WAVELENGTH = 25e-3


def box():
    """Points [mm], tetrahedra of one orientation and named facets of a straight length."""
    plain = MeshTet1.init_tensor(
        *(np.linspace(0, s, n) for s, n in zip(SIZE, (4, 3, 4), strict=True))
    )
    points, tets = plain.p.copy(), plain.t.copy()
    corners = points[:, tets]
    volumes = np.linalg.det(np.moveaxis(corners[:, 1:] - corners[:, :1], 2, 0))
    tets[:2] = np.where(volumes < 0, tets[1::-1], tets[:2])
    facets = plain.facets[:, plain.boundary_facets()]
    middle = points[2][facets].mean(axis=0)
    ends = {"port1": middle == 0, "port2": middle == SIZE[2]}
    named = {name: facets[:, where] for name, where in ends.items()}
    named["wall"] = facets[:, ~(ends["port1"] | ends["port2"])]
    return points, tets, named


def write(path, points, tets, named):
    cells = [("tetra", tets.T)] if tets.size else []
    cells += [("triangle", facets.T) for facets in named.values()]
    first = 1 if tets.size else 0
    tags = [np.full(block[1].shape[0], i) for i, block in enumerate(cells, start=1 - first)]
    mesh = meshio.Mesh(points.T, cells, cell_data={"gmsh:physical": tags, "gmsh:geometrical": tags})
    mesh.field_data = {name: np.array([i, 2]) for i, name in enumerate(named, start=1)}
    meshio.write(path, mesh, file_format="gmsh22", binary=False)
    return path


def part(path, **changes):
    return MeshPart(**({"guide": GUIDE, "file": path, "units": "mm"} | changes))


def refused(path, **changes):
    with pytest.raises(MeshingError) as caught:
        user_mesh(part(path, **changes), wavelength=WAVELENGTH)
    message = str(caught.value)
    assert message.startswith(f"{path}: ")
    assert "\n" not in message
    return message


def test_a_sound_mesh_is_extended_by_feeds(tmp_path):
    found = user_mesh(part(write(tmp_path / "box.msh", *box())), wavelength=WAVELENGTH)
    feed = 0.55 * 20e-3
    first, second = found.ports
    assert_allclose([first.feed_length, second.feed_length], feed)
    assert_allclose(first.origin, [10e-3, 5e-3, -feed])
    assert_allclose(second.origin, [10e-3, 5e-3, 24e-3 + feed])
    assert_allclose([first.x_axis, second.x_axis], [[1, 0, 0]] * 2, atol=1e-12)
    assert_allclose([first.y_axis, second.y_axis], [[0, 1, 0]] * 2, atol=1e-12)
    assert first.guide.broad_width == pytest.approx(20e-3)
    corners = found.mesh.p[:, found.mesh.t]
    volumes = np.abs(np.linalg.det(np.moveaxis(corners[:, 1:] - corners[:, :1], 2, 0))) / 6
    assert volumes.sum() == pytest.approx(20e-3 * 10e-3 * (24e-3 + 2 * feed), rel=1e-12)
    assert set(found.mesh.boundaries) == {"port1", "port2"}


def test_a_refined_mesh_has_eight_times_the_cells(tmp_path):
    path = write(tmp_path / "box.msh", *box())
    cells = read_mesh_file(path, 1e-3)
    finer = cells.refined()
    assert finer.tets.shape[1] == 8 * cells.tets.shape[1]
    assert finer.boundary().shape[1] == 4 * cells.boundary().shape[1]
    assert {n: f.shape[1] for n, f in finer.groups.items()} == {
        n: 4 * f.shape[1] for n, f in cells.groups.items()
    }
    user_mesh(part(path), wavelength=WAVELENGTH, refinement=1)


def test_numbers_serve_as_names_where_a_format_has_none(tmp_path):
    points, tets, named = box()
    tags = [np.zeros(tets.shape[1], int)]
    tags += [np.full(f.shape[1], i) for i, f in enumerate(named.values(), start=1)]
    cells = [("tetra", tets.T), *(("triangle", f.T) for f in named.values())]
    path = tmp_path / "box.vtu"
    meshio.write(path, meshio.Mesh(points.T, cells, cell_data={"surface": tags}))
    found = user_mesh(part(path, ports=("1", "2"), walls=("3",)), wavelength=WAVELENGTH)
    assert len(found.mesh.boundaries["port1"]) == named["port1"].shape[1]


def test_rubbish_is_no_mesh(tmp_path):
    path = tmp_path / "part.msh"
    path.write_text("this is no mesh\n" * 20)
    assert "not a mesh that can be read" in refused(path)
    path = tmp_path / "part.xyzzy"
    path.write_text("nor is this")
    assert "not a mesh that can be read" in refused(path)


def test_half_a_file_is_no_mesh(tmp_path):
    path = write(tmp_path / "box.msh", *box())
    path.write_text(path.read_text()[: path.stat().st_size // 2])
    assert "not a mesh that can be read" in refused(path)


def test_a_file_that_is_not_there(tmp_path):
    assert "there is no such file" in refused(tmp_path / "gone.msh")


def test_a_surface_has_no_tetrahedra(tmp_path):
    points, _, named = box()
    path = write(tmp_path / "shell.msh", points, np.empty((4, 0), int), named)
    assert "the mesh has no tetrahedra (Triangle 3)" in refused(path)


def test_a_missing_port_is_named_with_what_there_is(tmp_path):
    points, tets, named = box()
    named["outlet"] = named.pop("port2")
    message = refused(write(tmp_path / "box.msh", points, tets, named))
    assert "there is no port 'port2'; the file's groups are: outlet, port1, wall" in message


def test_an_open_wall_is_placed(tmp_path):
    points, tets, named = box()
    named["wall"] = named["wall"][:, 1:]
    path = write(tmp_path / "box.msh", points, tets, named)
    assert "the wall is open: 1 of" in refused(path)
    user_mesh(part(path, walls=()), wavelength=WAVELENGTH)  # all the rest is wall


def test_a_missing_wall_group(tmp_path):
    message = refused(write(tmp_path / "box.msh", *box()), walls=("shell",))
    assert "there is no wall 'shell'" in message


def test_an_inverted_element(tmp_path):
    points, tets, named = box()
    tets[:2, 5] = tets[1::-1, 5]
    assert "element 5 is inverted (1 such" in refused(
        write(tmp_path / "b.msh", points, tets, named)
    )


def test_a_node_on_the_wrong_side(tmp_path):
    points, tets, named = box()
    inner = np.setdiff1d(
        np.arange(points.shape[1]), np.concatenate([f.ravel() for f in named.values()])
    )
    points[:, inner[0]] += [15.0, 0, 0]
    assert "is inverted" in refused(write(tmp_path / "b.msh", points, tets, named))


def test_all_elements_numbered_the_other_way_round(tmp_path):
    points, tets, named = box()
    turned = write(tmp_path / "turned.msh", points, tets[[1, 0, 2, 3]], named)
    plain = write(tmp_path / "plain.msh", points, tets, named)
    found, expected = (user_mesh(part(path), wavelength=WAVELENGTH) for path in (turned, plain))
    assert_allclose(found.mesh.p, expected.mesh.p, atol=1e-15)
    np.testing.assert_array_equal(np.sort(found.mesh.t, axis=0), np.sort(expected.mesh.t, axis=0))
    for name, facets in expected.mesh.boundaries.items():
        np.testing.assert_array_equal(found.mesh.boundaries[name], facets)


def test_a_flat_element(tmp_path):
    points, tets, named = box()
    a, b, c, d = tets[:, 7]
    extra = points[:, [a]] / 3 + points[:, [b]] / 3 + points[:, [c]] / 3
    points = np.concatenate([points, extra], axis=1)
    tets[3, 7] = points.shape[1] - 1
    assert "element 7 is degenerate" in refused(write(tmp_path / "b.msh", points, tets, named))
    assert d >= 0


@pytest.mark.parametrize(("units", "scale"), [("m", 1.0), ("in", 1.0), ("mm", 1e-3)])
def test_wrong_units_are_named(tmp_path, units, scale):
    points, tets, named = box()
    path = write(tmp_path / "box.msh", points * scale, tets, named)
    fits = "mm" if scale == 1.0 else "m"
    assert f'the numbers fit units = "{fits}"' in refused(path, units=units)


def test_another_guide(tmp_path):
    path = write(tmp_path / "box.msh", *box())
    message = refused(path, guide=RectangularGuide(22.86e-3, 10.16e-3, "WR-90"))
    assert "port1 is 20 x 10 mm, but the guide is WR-90" in message
    assert "but the guide is diameter 20 mm" in refused(path, guide=CircularGuide(20e-3))


def test_a_part_in_two_pieces(tmp_path):
    points, tets, named = box()
    middle = points[2][tets].mean(axis=0)
    lower, upper = tets[:, middle < 8.0], tets[:, middle > 16.0]
    cells = np.concatenate([lower, upper], axis=1)
    del named["wall"]
    assert "2 separate parts" in refused(write(tmp_path / "b.msh", points, cells, named))


def test_pieces_that_touch_but_are_not_joined(tmp_path):
    points, tets, named = box()
    n = points.shape[1]
    upper = points[2][tets].mean(axis=0) > 8.0
    tets = np.where(upper, tets + n, tets)
    named = {"port1": named["port1"], "port2": named["port2"] + n}
    path = write(tmp_path / "b.msh", np.concatenate([points, points], axis=1), tets, named)
    assert "merge the nodes that coincide" in refused(path)


def test_a_port_that_is_not_flat(tmp_path):
    points, tets, named = box()
    points[2, points[2] == SIZE[2]] += 0.2 * points[0, points[2] == SIZE[2]] ** 2 / 20
    assert "port2 is not flat" in refused(write(tmp_path / "b.msh", points, tets, named))


def test_a_port_of_unknown_shape(tmp_path):
    points, tets, named = box()
    points[0] += 0.3 * points[1] * points[2] / SIZE[2]
    message = refused(write(tmp_path / "b.msh", points, tets, named))
    assert "port2 is neither a rectangle nor a circle" in message


def test_a_port_inside_the_part(tmp_path):
    points, tets, named = box()
    mesh = MeshTet1(points, np.sort(tets, axis=0))
    inside = np.isclose(points[2][mesh.facets].mean(axis=0), 8.0)
    named["port2"] = mesh.facets[:, inside]
    del named["wall"]
    assert "is not on the surface" in refused(write(tmp_path / "b.msh", points, tets, named))


def test_a_part_of_a_hundred_wavelengths(tmp_path):
    path = write(tmp_path / "box.msh", *box())
    with pytest.raises(MeshingError, match="100 wavelengths"):
        user_mesh(part(path), wavelength=0.24e-3)


def test_units_and_ports_of_the_part(tmp_path):
    with pytest.raises(InvalidDimensionError, match="mm, m or in"):
        part(tmp_path, units="cm")
    with pytest.raises(InvalidDimensionError, match="two different ports"):
        part(tmp_path, ports=("port1", "port1"))


def test_a_folded_run_is_as_long_as_its_volume_over_its_opening(tmp_path):
    path = tmp_path / "fold.step"
    with gmsh_session("fold") as gmsh:
        gmsh.model.occ.addBox(0, 0, 0, 20, 10, 60)
        gmsh.model.occ.addBox(0, -30, 50, 20, 30, 10)
        gmsh.model.occ.fuse([(3, 1)], [(3, 2)])
        gmsh.model.occ.synchronize()
        gmsh.write(str(path))
    fold = part(path)
    # 60 mm and 30 mm of one cross-section; the diagonal of its box is 75 mm
    assert fold.axis_length == pytest.approx(90e-3, rel=1e-9)
    assert fold.guides[1].broad_width == pytest.approx(20e-3, rel=1e-9)


def test_the_length_of_a_file_that_is_not_there(tmp_path):
    path = tmp_path / "none.msh"
    with pytest.raises(MeshingError, match="there is no such file"):
        _ = part(path).axis_length


def test_a_step_file_that_is_none(tmp_path):
    path = tmp_path / "part.step"
    path.write_text("no STEP\n")
    assert "not a STEP file" in refused(path)


def cylinder(order):
    with gmsh_session("cylinder") as gmsh:
        gmsh.model.occ.addCylinder(0, 0, 0, 0, 0, 20e-3, 10e-3)
        gmsh.model.occ.synchronize()
        gmsh.model.addPhysicalGroup(2, [3], name="port1")
        gmsh.model.addPhysicalGroup(2, [2], name="port2")
        gmsh.option.setNumber("Mesh.MeshSizeMax", 4e-3)
        gmsh.option.setNumber("Mesh.ElementOrder", order)
        gmsh.model.mesh.generate(3)
        return read_tetrahedra(gmsh)


@pytest.mark.parametrize("order", [1, 2])
def test_a_circle_is_recognised(order):
    section = port_section(cylinder(order), "port1")
    assert isinstance(section.guide, CircularGuide)
    assert section.guide.diameter == pytest.approx(20e-3, rel=1e-6)
    assert_allclose(section.outward, [0, 0, -1], atol=1e-9)
    assert_allclose(section.centre, 0, atol=1e-8)


def test_cut_cells_keep_their_curved_shape():
    cells = cylinder(2)
    finer = cells.refined()
    radius = [np.hypot(*c.points[:2, c.middle_nodes(*_rim(c))]) for c in (cells, finer)]
    assert radius[0].min() == pytest.approx(10e-3, rel=1e-9)
    # a parabola through three points of the circle, not the chord
    assert radius[1].min() > 10e-3 * (1 - 2e-4)


def _rim(cells):
    facets = cells.groups["port1"]
    edges = np.sort(
        np.concatenate([facets[[0, 1]], facets[[1, 2]], facets[[0, 2]]], axis=1), axis=0
    )
    distinct, counts = np.unique(edges, axis=1, return_counts=True)
    return distinct[:, counts == 1]


def test_frames_follow_a_bend_and_keep_a_rotated_section():
    """A right-angled block: in through its low z face, out through its high x face, then turned."""
    points, tets, _ = box()
    points[0] *= 10 / 20
    points[2] *= 20 / 24
    plain = MeshTet1(points, np.sort(tets, axis=0))
    middle = points[:, plain.facets].mean(axis=1)
    on_boundary = np.isin(np.arange(plain.facets.shape[1]), plain.boundary_facets())
    groups = {
        "port1": plain.facets[:, on_boundary & np.isclose(middle[2], 0)],
        "port2": plain.facets[:, on_boundary & np.isclose(middle[0], 10)],
    }
    turn, _ = np.linalg.qr(np.random.default_rng(5).normal(size=(3, 3)))
    turn *= np.linalg.det(turn)
    cells = TetrahedralCells(turn @ points, tets, groups)
    sections = [port_section(cells, name) for name in groups]
    assert [s.guide.broad_width for s in sections] == pytest.approx([10.0, 20.0])
    assert_allclose(sections[1].outward, turn[:, 0], atol=1e-9)
    first, second = ports_in_frame(*sections, ("port1", "port2"))
    assert_allclose(np.cross(first.x_axis, first.y_axis), turn[:, 2], atol=1e-9)
    assert_allclose(np.cross(second.x_axis, second.y_axis), turn[:, 0], atol=1e-9)
