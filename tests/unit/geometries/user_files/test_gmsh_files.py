"""Files as users write them with gmsh, of a bend body made by extrude, revolve and extrude."""

import itertools
import math

import meshio
import numpy as np
import pytest

from geometries import standard_guide
from geometries.cells.gmsh_session import gmsh_session
from geometries.errors import MeshingError
from geometries.user_files.mesh_files import read_mesh_file
from geometries.user_files.user_meshes import MeshPart, user_mesh

WR90 = standard_guide("WR-90")
WAVELENGTH = 24e-3
A, B = WR90.broad_width * 1e3, WR90.narrow_height * 1e3
RADIUS, STRAIGHT = 30.0, 10.0
#: Volume by Pappus's theorem [mm3].
VOLUME = A * B * (2 * STRAIGHT + RADIUS * math.pi / 2)
FORMATS = [(2.2, 0), (2.2, 1), (4.0, 0), (4.1, 0), (4.1, 1)]


def draw(gmsh, united="fuse", scale=1.0):
    """Draw the body; return the surfaces of port 1, port 2, the wall and between volumes."""
    occ = gmsh.model.occ
    a, b, radius, straight = (scale * x for x in (A, B, RADIUS, STRAIGHT))
    face = occ.addRectangle(-a / 2, -b / 2, 0, a, b)
    made = occ.extrude([(2, face)], 0, 0, -straight)
    bend = occ.revolve([(2, face)], 0, radius, 0, 1, 0, 0, -math.pi / 2)
    made += bend + occ.extrude([bend[0]], 0, straight, 0)
    solids = [entity for entity in made if entity[0] == 3]
    if united == "loose":
        for solid in solids:
            occ.copy([solid])
        occ.remove(solids, recursive=True)
    else:
        getattr(occ, united)(solids[:1], solids[1:])
    occ.synchronize()
    faces = ([], [], [], [])
    for _, tag in gmsh.model.getEntities(2):
        _, y, z = occ.getCenterOfMass(2, tag)
        shared = len(gmsh.model.getAdjacencies(2, tag)[0]) > 1
        first, second = z < -0.999 * straight, y > radius + 0.999 * straight
        faces[0 if first else 1 if second else 3 if shared else 2].append(tag)
    return faces


def set_size(gmsh, size):
    gmsh.option.setNumber("Mesh.MeshSizeMin", size)
    gmsh.option.setNumber("Mesh.MeshSizeMax", size)


def write(path, *, groups=None, united="fuse", scale=1.0, order=1, **options):
    """Mesh the body and write it; `groups` names the volume, the ports and the wall."""
    names = {"air": "air", "port1": "port1", "port2": "port2", "wall": "wall"} | (groups or {})
    with gmsh_session("bend") as gmsh:
        first, second, wall, _ = draw(gmsh, united, scale)
        solids = [tag for _, tag in gmsh.model.getEntities(3)]
        for what, (dimension, tags) in {
            "air": (3, solids),
            "port1": (2, first),
            "port2": (2, second),
            "wall": (2, wall),
        }.items():
            if names[what] is not None:
                gmsh.model.addPhysicalGroup(dimension, tags, name=names[what])
        set_size(gmsh, 7.0 * scale)
        for name, value in {"ElementOrder": order, **options}.items():
            gmsh.option.setNumber(f"Mesh.{name}", value)
        gmsh.model.mesh.generate(3)
        gmsh.write(str(path))
    return path


def part(path, **changes):
    return MeshPart(**({"guide": WR90, "file": path, "units": "mm"} | changes))


def refused(path, **changes):
    with pytest.raises(MeshingError) as caught:
        user_mesh(part(path, **changes), wavelength=WAVELENGTH)
    message = str(caught.value)
    assert message.startswith(f"{path}: ")
    assert "\n" not in message
    return message


def check_read(path, metres=1e-3, ports=("port1", "port2"), wall="wall", order=1):
    """Compare the volume and the area of every group with those of the drawing."""
    cells = read_mesh_file(path, metres)
    corners = cells.points[:, cells.tets[:4]]
    volumes = np.linalg.det(np.moveaxis(corners[:, 1:] - corners[:, :1], 2, 0)) / 6
    # chords of the bend leave out up to 1 - sin(x) / x of an arc of 2 x; x < 7 mm / 2 / 25 mm
    assert np.abs(volumes.sum()) * 1e9 == pytest.approx(VOLUME, rel=0.01)
    areas = {}
    for name, facets in cells.groups.items():
        a, b, c = (cells.points[:, v] for v in facets)
        areas[name] = np.linalg.norm(np.cross(b - a, c - a, axis=0), axis=0).sum() / 2 * 1e6
    for port in ports:
        assert areas[port] == pytest.approx(A * B, rel=1e-9)
    if wall is not None:
        assert areas[wall] == pytest.approx(2 * (A + B) * VOLUME / (A * B), rel=0.01)
    assert cells.curved == (order == 2)
    return cells


@pytest.mark.parametrize("order", [1, 2])
@pytest.mark.parametrize(("version", "binary"), FORMATS)
def test_every_format_of_gmsh(tmp_path, version, binary, order):
    path = write(tmp_path / "b.msh", order=order, MshFileVersion=version, Binary=binary)
    check_read(path, order=order)
    user_mesh(part(path), wavelength=WAVELENGTH)


@pytest.mark.parametrize(("version", "binary"), FORMATS[2:])
def test_all_saved_and_the_wall_in_no_group(tmp_path, version, binary):
    path = write(
        tmp_path / "b.msh",
        groups={"wall": None, "air": None},
        MshFileVersion=version,
        Binary=binary,
        SaveAll=1,
    )
    check_read(path, wall=None)
    user_mesh(part(path), wavelength=WAVELENGTH)


def test_a_version_that_loses_the_groups_leaves_the_numbers_of_surfaces(tmp_path):
    path = write(tmp_path / "b.msh", MshFileVersion=2.2, SaveAll=1)
    message = refused(path)
    assert (
        "there is no port 'port1'; the file's groups have no names, only these numbers" in message
    )
    assert "1, 2, 3, 4, 5, 6, 7, 8, 9, 10 (gmsh drops names" in message
    ends = [n for n, f in read_mesh_file(path, 1e-3).groups.items() if _flat_end(path, f)]
    check_read(path, ports=ends, wall=None)
    user_mesh(part(path, ports=tuple(ends)), wavelength=WAVELENGTH)


def _flat_end(path, facets):
    points = read_mesh_file(path, 1.0).points[:, facets.ravel()]
    return (
        np.ptp(points[1:], axis=1).min() < 1e-6
        and (points[2] < -9.9).all() | (points[1] > 39.9).all()
    )


@pytest.mark.parametrize("version", [2.2, 4.1])
def test_groups_without_names_go_by_their_numbers(tmp_path, version):
    nameless = dict.fromkeys(("air", "port1", "port2", "wall"), "")
    path = write(tmp_path / "b.msh", groups=nameless, MshFileVersion=version)
    assert "numbers, which serve as names: 2, 3, 4 " in refused(path)
    check_read(path, ports=("2", "3"), wall="4")
    user_mesh(part(path, ports=("2", "3"), walls=("4",)), wavelength=WAVELENGTH)


@pytest.mark.parametrize("version", [2.2, 4.1])
def test_names_with_blanks_and_other_characters(tmp_path, version):
    names = {"port1": "port's 1", "port2": "p#2", "wall": "die Wände"}
    path = write(tmp_path / "b.msh", groups=names, MshFileVersion=version)
    check_read(path, ports=("port's 1", "p#2"), wall="die Wände")
    user_mesh(part(path, ports=("port's 1", "p#2"), walls=("die Wände",)), wavelength=WAVELENGTH)


def test_a_volume_that_was_not_saved(tmp_path):
    message = refused(write(tmp_path / "b.msh", groups={"air": None}))
    assert "no tetrahedra (Triangle 3)" in message
    assert "put the volume in a physical group or set Mesh.SaveAll = 1" in message


def test_volumes_that_share_their_faces(tmp_path):
    path = write(tmp_path / "b.msh", united="fragment")
    check_read(path)
    user_mesh(part(path), wavelength=WAVELENGTH)


@pytest.mark.parametrize("version", [2.2, 4.1])
def test_volumes_that_were_not_united(tmp_path, version):
    path = write(tmp_path / "b.msh", united="loose", MshFileVersion=version)
    assert "merge the nodes that coincide, or in gmsh fuse the volumes" in refused(path)


def test_a_wall_inside_the_part(tmp_path):
    """A shared face in the wall's group would be a sheet of metal, which is not solved."""
    path = tmp_path / "b.msh"
    with gmsh_session("bend") as gmsh:
        first, second, wall, between = draw(gmsh, "fragment")
        gmsh.model.addPhysicalGroup(3, [tag for _, tag in gmsh.model.getEntities(3)])
        for name, tags in (("port1", first), ("port2", second), ("wall", wall + between)):
            gmsh.model.addPhysicalGroup(2, tags, name=name)
        set_size(gmsh, 7.0)
        gmsh.model.mesh.generate(3)
        gmsh.write(str(path))
    assert "facets of the wall 'wall' are inside the part" in refused(path)


@pytest.mark.parametrize(("units", "scale"), [("m", 1e-3), ("in", 1 / 25.4)])
def test_other_units(tmp_path, units, scale):
    path = write(tmp_path / "b.msh", scale=scale)
    user_mesh(part(path, units=units), wavelength=WAVELENGTH)
    assert f'the numbers fit units = "{units}"' in refused(path)


@pytest.mark.parametrize("order", [1, 2])
@pytest.mark.parametrize("suffix", [".med", ".unv"])
def test_other_formats_with_names(tmp_path, suffix, order):
    path = write(tmp_path / f"b{suffix}", order=order)
    check_read(path, order=order)
    user_mesh(part(path), wavelength=WAVELENGTH)


@pytest.mark.parametrize("order", [1, 2])
@pytest.mark.parametrize("suffix", [".vtu", ".vtk"])
def test_a_mesh_that_meshio_has_converted(tmp_path, suffix, order):
    path = write(tmp_path / "b.msh", order=order, MshFileVersion=2.2)
    meshio.write(path.with_suffix(suffix), meshio.read(path))
    path = path.with_suffix(suffix)
    assert set(read_mesh_file(path, 1e-3).groups) == {"2", "3", "4"}  # not those of surfaces
    check_read(path, ports=("2", "3"), wall="4", order=order)
    user_mesh(part(path, ports=("2", "3"), walls=("4",)), wavelength=WAVELENGTH)


def test_a_format_without_groups(tmp_path):
    assert "names no boundary groups; write a format that keeps them" in refused(
        write(tmp_path / "b.vtk")
    )


def test_cells_of_other_kinds(tmp_path):
    assert "(Tetrahedron 20); use tetrahedra of first or of second order only" in refused(
        write(tmp_path / "b.msh", order=3)
    )
    for quadrangles, kind in ((True, "Hexahedron 8"), (False, "Prism 6")):
        path = tmp_path / "layers.msh"
        with gmsh_session("straight") as gmsh:
            face = gmsh.model.occ.addRectangle(0, 0, 0, A, B)
            made = gmsh.model.occ.extrude([(2, face)], 0, 0, 10, [3], recombine=True)
            gmsh.model.occ.synchronize()
            if quadrangles:
                gmsh.model.mesh.setTransfiniteSurface(face)
                gmsh.model.mesh.setRecombine(2, face)
            gmsh.model.addPhysicalGroup(3, [made[1][1]], name="air")
            gmsh.model.addPhysicalGroup(2, [face], name="port1")
            gmsh.model.addPhysicalGroup(2, [made[0][1]], name="port2")
            gmsh.model.mesh.generate(3)
            gmsh.write(str(path))
        assert f"cells of other kinds than can be solved ({kind}" in refused(path)


@pytest.mark.parametrize("version", [2.2, 4.1])
def test_points_lines_and_quadrangles_beside(tmp_path, version):
    path = tmp_path / "b.msh"
    with gmsh_session("bend") as gmsh:
        first, second, wall, _ = draw(gmsh)
        gmsh.model.addPhysicalGroup(3, [tag for _, tag in gmsh.model.getEntities(3)])
        for name, tags in (("port1", first), ("port2", second), ("wall", wall)):
            gmsh.model.addPhysicalGroup(2, tags, name=name)
        for dimension in (0, 1):
            every = [tag for _, tag in gmsh.model.getEntities(dimension)]
            gmsh.model.addPhysicalGroup(dimension, every, name=f"edges {dimension}")
        plate = gmsh.model.occ.addRectangle(-40, -40, 60, 20, 20)
        gmsh.model.occ.synchronize()
        gmsh.model.mesh.setTransfiniteSurface(plate)
        gmsh.model.mesh.setRecombine(2, plate)
        gmsh.model.addPhysicalGroup(2, [plate], name="plate")
        set_size(gmsh, 7.0)
        gmsh.option.setNumber("Mesh.MshFileVersion", version)
        gmsh.model.mesh.generate(3)
        gmsh.write(str(path))
    cells = check_read(path)
    assert cells.groups["plate"].shape == (3, 0)
    user_mesh(part(path), wavelength=WAVELENGTH)
    message = refused(path, ports=("port1", "plate"))
    assert "the port 'plate' holds no triangles" in message


def test_a_surface_in_two_groups(tmp_path):
    """Format 2.2 then repeats its elements."""
    for version in (2.2, 4.1):
        path = tmp_path / "b.msh"
        with gmsh_session("bend") as gmsh:
            first, second, wall, _ = draw(gmsh)
            inside = [tag for _, tag in gmsh.model.getEntities(3)]
            for name in ("air", "all"):
                gmsh.model.addPhysicalGroup(3, inside, name=name)
            for name, tags in (
                ("port1", first),
                ("port2", second),
                ("wall", first + second + wall),
            ):
                gmsh.model.addPhysicalGroup(2, tags, name=name)
            set_size(gmsh, 7.0)
            gmsh.option.setNumber("Mesh.MshFileVersion", version)
            gmsh.model.mesh.generate(3)
            gmsh.write(str(path))
        user_mesh(part(path), wavelength=WAVELENGTH)


def test_ports_that_share_facets(tmp_path):
    path = tmp_path / "b.msh"
    with gmsh_session("bend") as gmsh:
        first, second, _, _ = draw(gmsh)
        gmsh.model.addPhysicalGroup(3, [tag for _, tag in gmsh.model.getEntities(3)])
        for name, tags in (("port1", first), ("port2", first + second)):
            gmsh.model.addPhysicalGroup(2, tags, name=name)
        set_size(gmsh, 7.0)
        gmsh.model.mesh.generate(3)
        gmsh.write(str(path))
    assert "the ports 'port1' and 'port2' share" in refused(path)


def test_ports_of_two_guides_in_the_wrong_order(tmp_path):
    path = tmp_path / "taper.msh"
    with gmsh_session("taper") as gmsh:
        occ = gmsh.model.occ
        wires = []
        for z, grown in ((0.0, 1.0), (30.0, 1.2)):
            a, b = A * grown, B * grown
            corners = [
                occ.addPoint(x * a, y * b, z) for x, y in ((-1, -1), (1, -1), (1, 1), (-1, 1))
            ]
            ring = [occ.addLine(p, q) for p, q in itertools.pairwise([*corners, corners[0]])]
            wires.append(occ.addCurveLoop(ring))
        occ.addThruSections(wires, makeRuled=True)
        occ.dilate(occ.getEntities(3), 0, 0, 0, 0.5, 0.5, 1.0)
        occ.synchronize()
        ends = {}
        for _, tag in gmsh.model.getEntities(2):
            z = occ.getCenterOfMass(2, tag)[2]
            ends.setdefault("port1" if z < 1e-6 else "port2" if z > 29.99 else "wall", []).append(
                tag
            )
        gmsh.model.addPhysicalGroup(3, [tag for _, tag in gmsh.model.getEntities(3)])
        for name, tags in ends.items():
            gmsh.model.addPhysicalGroup(2, tags, name=name)
        set_size(gmsh, 8.0)
        gmsh.model.mesh.generate(3)
        gmsh.write(str(path))
    user_mesh(part(path), wavelength=WAVELENGTH)
    assert "port1 is of that guide: swap the ports" in refused(path, ports=("port2", "port1"))


@pytest.mark.parametrize(
    "text",
    [
        'SystemCall "touch ran";\nPoint(1) = {0, 0, 0};\n',
        "",
        "$MeshFormat\n4.1 0 8\n$EndMeshFormat\n",
    ],
)
def test_a_text_that_is_no_mesh_is_not_run(tmp_path, text, monkeypatch):
    monkeypatch.chdir(tmp_path)
    path = tmp_path / "b.msh"
    path.write_text(text)
    refused(path)
    assert not (tmp_path / "ran").exists()


@pytest.mark.parametrize(("version", "binary"), FORMATS)
def test_damaged_files_give_one_line(tmp_path, version, binary):
    whole = write(tmp_path / "b.msh", MshFileVersion=version, Binary=binary).read_bytes()
    random = np.random.default_rng(821)
    for place in random.integers(60, len(whole) - 60, size=10):
        damaged = bytearray(whole)
        if binary or place % 2:
            del damaged[place:]
        else:
            del damaged[place : place + int(random.integers(1, 200))]
        (tmp_path / "b.msh").write_bytes(damaged)
        try:
            user_mesh(part(tmp_path / "b.msh"), wavelength=WAVELENGTH)
        except MeshingError as error:
            assert "\n" not in str(error)


def test_fields_of_other_kinds_are_no_groups(tmp_path):
    """Fields as other programs add them: times, element numbers, gaps."""
    path = write(tmp_path / "b.msh", MshFileVersion=2.2)
    mesh = meshio.read(path)
    count = [len(block.data) for block in mesh.cells]
    mesh.cell_data["stress"] = [np.full(n, np.nan) for n in count]
    mesh.cell_data["large"] = [np.full(n, np.inf) for n in count]
    mesh.cell_data["velocity"] = [np.zeros((n, 3)) for n in count]
    mesh.field_data = {"TIME": np.array([0.5]), "STEP": np.array([3])}
    for suffix in (".vtk", ".vtu"):
        meshio.write(path.with_suffix(suffix), mesh)
        assert set(read_mesh_file(path.with_suffix(suffix), 1e-3).groups) == {"2", "3", "4"}
