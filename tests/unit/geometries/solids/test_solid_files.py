"""Solids against volumes known on paper, read back by other programs than wrote them."""

import math

import meshio
import numpy as np
import pytest

from geometries.cells.gmsh_session import gmsh_session
from geometries.errors import MeshingError
from geometries.shapes.bends import Bend
from geometries.shapes.choke_flanges import ChokeFlange
from geometries.shapes.corners import Corner
from geometries.shapes.dents import Dent
from geometries.shapes.guides import CircularGuide, RectangularGuide
from geometries.shapes.horns import ConicalHorn, RectangularHorn
from geometries.shapes.loads import Load
from geometries.shapes.offsets import Offset
from geometries.shapes.rotating_joints import RotatingJoint
from geometries.shapes.straights import Straight
from geometries.shapes.tapers import Taper
from geometries.shapes.transitions import Transition
from geometries.shapes.twists import Twist
from geometries.solids.solid_files import solid_file
from geometries.user_files.user_meshes import MeshPart

A, B = 20e-3, 10e-3
GUIDE, ROUND = RectangularGuide(A, B), CircularGuide(27e-3)
GROOVE = {"groove_inner_radius": 19e-3, "groove_outer_radius": 22e-3, "groove_depth": 8e-3}
GAP = {"gap": 0.8e-3, "rim_radius": 34e-3}


def transition_volume(a, b, diameter, length):
    """Area of the polygon through straight generators, by Gauss over the length."""
    corner, eta = math.atan(b / a), np.linspace(-1, 1, 4001)
    angle = np.concatenate([corner * eta, math.pi / 2 + (math.pi / 2 - corner) * eta])
    line = np.concatenate([a / 2 + 0j + 1j * b / 2 * eta, -a / 2 * eta + 1j * b / 2])
    circle = diameter / 2 * np.exp(1j * angle)
    line, circle = (np.concatenate([z, -z]) for z in (line, circle))
    places, weights = np.polynomial.legendre.leggauss(3)
    total = 0.0
    for place, weight in zip((places + 1) / 2, weights / 2, strict=True):
        ring = (1 - place) * line + place * circle
        total += weight * (np.conj(ring) * np.roll(ring, -1)).imag.sum() / 2
    return total * length


def corner_volume(width, across, angle, cut, arm):
    """Two arms, the kite between the planes through the inner edge, less the cut triangle."""
    area = 2 * arm * width + width**2 * math.tan(angle / 2) - cut**2 * math.sin(angle) / 2
    return area * across


#: Parts, their volumes [m^3] by hand and how well facets of the curved walls can hold them.
CASES = {
    "straight": (Straight(GUIDE, 50e-3), A * B * 50e-3, 1e-6),
    "round straight": (Straight(ROUND, 50e-3), math.pi * 13.5e-3**2 * 50e-3, 4e-3),
    "bend E": (Bend(GUIDE, "E", 1.0, 45e-3), A * B * 45e-3, 1e-3),
    "bend H": (Bend(GUIDE, "H", math.pi, 45e-3), A * B * 45e-3 * math.pi, 1e-3),
    "smooth bend": (Bend(GUIDE, "H", 1.0, 45e-3, "smooth", 0.4), A * B * 45e-3, 1e-3),
    "corner E": (
        Corner(GUIDE, "E", math.pi / 2, 8e-3),
        corner_volume(B, A, math.pi / 2, 8e-3, B / 2),
        1e-6,
    ),
    # the cut reaches past the planes: 20 tan 30 = 11.5 mm; the arms go on beyond it
    "corner H": (
        Corner(GUIDE, "H", math.pi / 3, 15e-3),
        corner_volume(A, B, math.pi / 3, 15e-3, 15e-3 - A * math.tan(math.pi / 6) + A / 2),
        1e-6,
    ),
    "square corner": (
        Corner(GUIDE, "E", math.pi / 2, 0.0),
        corner_volume(B, A, math.pi / 2, 0.0, B / 2),
        1e-6,
    ),
    "twist": (Twist(GUIDE, math.pi / 2, 60e-3), A * B * 60e-3, 2e-3),
    # the prismatoid: L/3 (a b + a' b' + (a b' + a' b)/2)
    "taper": (
        Taper(GUIDE, RectangularGuide(24e-3, 11e-3), 50e-3),
        50e-3 / 3 * (200e-6 + 264e-6 + (220e-6 + 240e-6) / 2),
        1e-6,
    ),
    "transition": (
        Transition(GUIDE, 24e-3, 50e-3),
        transition_volume(A, B, 24e-3, 50e-3),
        3e-3,
    ),
    # cos^2 has the mean 1/2 each way
    "dent": (Dent(GUIDE, "broad", 1e-3, 12e-3, 8e-3), A * B * 12e-3 - 24e-9, 1e-3),
    "dent of the narrow wall": (
        Dent(GUIDE, "narrow", 1e-3, 12e-3, 8e-3),
        A * B * 12e-3 - 24e-9,
        1e-3,
    ),
    "offset": (Offset(GUIDE, 0.4e-3, 0.2e-3, math.radians(2)), A * B * A, 1e-6),
    "joint": (
        RotatingJoint(ROUND, mode="TM01", **GAP, **GROOVE),
        math.pi * (13.5e-3**2 * 27e-3 + 34e-3**2 * 0.8e-3 + (22e-3**2 - 19e-3**2) * 8e-3),
        4e-3,
    ),
    "two grooves": (
        RotatingJoint(
            ROUND,
            mode="TM01",
            second_groove_inner_radius=25e-3,
            second_groove_outer_radius=28e-3,
            second_groove_depth=6e-3,
            second_groove_flange=1,
            **GAP,
            **GROOVE,
        ),
        math.pi
        * (
            13.5e-3**2 * 27e-3
            + 34e-3**2 * 0.8e-3
            + (22e-3**2 - 19e-3**2) * 8e-3
            + (28e-3**2 - 25e-3**2) * 6e-3
        ),
        4e-3,
    ),
    # the prismatoid again, and the frustum: pi L/3 (r^2 + r r' + r'^2); an arm of half a guide each
    "horn": (
        RectangularHorn(GUIDE, 40e-3, 30e-3, 30e-3),
        A * B * A / 2 + 30e-3 / 3 * (200e-6 + 1200e-6 + (600e-6 + 400e-6) / 2),
        1e-6,
    ),
    "open end": (RectangularHorn(GUIDE, A, B, 0.0), A * B * A / 2, 1e-6),
    "conical horn": (
        ConicalHorn(ROUND, 54e-3, 40e-3),
        math.pi * 13.5e-3**2 * 13.5e-3 + math.pi * 40e-3 / 3 * 13.5e-3**2 * (1 + 2 + 4),
        4e-3,
    ),
    "load": (
        Load(GUIDE, "H", "centre", 60e-3, 20e-3, permittivity=4.0, loss_tangent=0.2),
        A * B * 80e-3,
        1e-6,
    ),
    "choke": (
        ChokeFlange(GUIDE, **GAP, **GROOVE),
        A * B * A + math.pi * (34e-3**2 * 0.8e-3 + (22e-3**2 - 19e-3**2) * 8e-3),
        4e-3,
    ),
}


@pytest.mark.parametrize("name", CASES)
def test_a_step_body_has_the_volume_known_on_paper(name, tmp_path, capfd):
    part, volume, _ = CASES[name]
    path = tmp_path / "part.step"
    path.write_bytes(solid_file(part, ".step"))
    with gmsh_session("read") as gmsh:
        bodies = gmsh.model.occ.importShapes(str(path))
        (body,) = [body for body in bodies if body[0] == 3]
        assert gmsh.model.occ.getMass(*body) == pytest.approx(volume * 1e9, rel=3e-5)
    assert capfd.readouterr().out == ""


def closed_surface(path):
    """Volume [m^3] of an STL file by meshio; every edge has to have a triangle on each side."""
    mesh = meshio.read(path)
    triangles = mesh.cells_dict["triangle"]
    points, number = np.unique(mesh.points.round(4), axis=0, return_inverse=True)
    triangles = number.ravel()[triangles]
    ways = np.concatenate([triangles[:, [0, 1]], triangles[:, [1, 2]], triangles[:, [2, 0]]])
    counted = {tuple(way) for way in ways}
    assert len(counted) == len(ways)
    assert all((b, a) in counted for a, b in counted)
    a, b, c = points[triangles].transpose(1, 0, 2)
    return float(np.einsum("ni,ni->n", a, np.cross(b, c)).sum() / 6 * 1e-9)


@pytest.mark.parametrize("name", CASES)
def test_an_stl_surface_is_closed_and_counted_outwards(name, tmp_path):
    part, volume, rel = CASES[name]
    path = tmp_path / "part.stl"
    path.write_bytes(solid_file(part, ".stl"))
    assert closed_surface(path) == pytest.approx(volume, rel=rel)


def test_port_1_lies_in_the_plane_z_0_and_the_axis_turns_towards_y(tmp_path):
    path = tmp_path / "part.stl"
    path.write_bytes(solid_file(Bend(GUIDE, "E", math.pi / 2, 45e-3), ".stl"))
    low, high = (end(meshio.read(path).points, axis=0) for end in (np.min, np.max))
    # from the axis at the origin to the second port at y = 45, z = 45 mm
    np.testing.assert_allclose(low, [-10, -5, 0], atol=1e-3)
    np.testing.assert_allclose(high, [10, 45, 50], atol=1e-3)


def test_the_mesh_of_a_user_gives_its_surface(tmp_path):
    with gmsh_session("box") as gmsh:
        gmsh.model.occ.addBox(0, 0, 0, 20, 10, 24)
        gmsh.model.occ.synchronize()
        gmsh.model.addPhysicalGroup(3, [1], name="inside")
        gmsh.model.addPhysicalGroup(2, [5], name="port1")
        gmsh.model.addPhysicalGroup(2, [6], name="port2")
        gmsh.option.setNumber("Mesh.MeshSizeMax", 8)
        gmsh.model.mesh.generate(3)
        gmsh.write(str(tmp_path / "box.msh"))
    part = MeshPart(GUIDE, tmp_path / "box.msh", "mm")
    path = tmp_path / "part.stl"
    path.write_bytes(solid_file(part, ".stl"))
    # the straight feeds that are solved with it belong to it
    assert closed_surface(path) >= A * B * 24e-3 * (1 - 1e-6)
    with pytest.raises(MeshingError, match=r"no exact walls; write it as \.stl"):
        solid_file(part, ".step")


def test_what_has_no_solid_and_other_endings_are_refused():
    class Elbow:
        kind = "elbow"

    with pytest.raises(MeshingError, match="elbow cannot be written"):
        solid_file(Elbow(), ".step")
    with pytest.raises(MeshingError, match=r"end it in \.stl or \.step"):
        solid_file(Straight(GUIDE, 1e-2), ".obj")
