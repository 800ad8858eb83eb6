"""Solids and fields of every kind lie on each other, in the frame of port 1."""

import math
from dataclasses import dataclass

import meshio
import numpy as np
import pytest

from geometries.cells.gmsh_session import gmsh_session
from geometries.errors import MeshingError
from geometries.shapes.bends import Bend
from geometries.shapes.choke_flanges import ChokeFlange
from geometries.shapes.corners import Corner
from geometries.shapes.dents import Dent
from geometries.shapes.flexibles import Flexible
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
from solver.exchange.field_files import vtu_bytes
from solver.judgement.port_frame import in_port_frame
from solver.parts.solver_choice import solver_for
from solver.studies.component_keys import KNOWN_KINDS

A, B, ANGLE = 20e-3, 10e-3, 1.0
GUIDE, ROUND = RectangularGuide(A, B), CircularGuide(27e-3)
GROOVE = {"groove_inner_radius": 19e-3, "groove_outer_radius": 22e-3, "groove_depth": 8e-3}
GAP = {"gap": 0.8e-3, "rim_radius": 34e-3}
ABSORBER = {"permittivity": 4.0, "loss_tangent": 0.3}
#: For planes, for boxes of points that need not lie on them, and for flat facets of round walls
#: [mm]: 34 mm (1 - cos(3 deg)) is 0.05 mm.
SLACK, SMALL, FACET = 0.01, 0.02 * 20.0, 0.1


def between(low, high):
    """Points between two heights along the axis of port 1 [mm]."""
    return lambda p: (p[2] > low - SLACK) & (p[2] < high + SLACK)


def up_to_port_2(place, side):
    """Points between the reference planes of a part that turns by `ANGLE` towards a side.

    `place` is a point (across, along) of the second plane [mm].
    """

    def kept(p):
        ahead = (p[side] - place[0]) * math.sin(ANGLE) + (p[2] - place[1]) * math.cos(ANGLE)
        return (p[2] > -SLACK) & (ahead < SLACK)

    return kept


def arc(radius, side):
    """Of a bend: its axis ends at R (1 - cos) across and R sin along."""
    return up_to_port_2((radius * (1 - math.cos(ANGLE)), radius * math.sin(ANGLE)), side)


@dataclass
class Case:
    """A part, where boxes of STL and VTU are compared and along what, and where cells lie within.

    `within` is the same by default.
    """

    part: object
    kept: object
    box: tuple = (0, 1, 2)
    in_space: bool = False
    frequency: float = 10e9
    within: object = None


CASES = {
    "straight": Case(Straight(GUIDE, 30e-3), between(0, 30)),
    "bend E": Case(Bend(GUIDE, "E", ANGLE, 15e-3), arc(15, 1)),
    "bend H": Case(Bend(GUIDE, "H", ANGLE, 25e-3), arc(25, 0)),
    # its end is not known on paper
    "smooth bend": Case(Bend(GUIDE, "E", ANGLE, 15e-3, "smooth", 0.3), between(0, 8), (0,)),
    "bend E in space": Case(Bend(GUIDE, "E", ANGLE, 15e-3), arc(15, 1), in_space=True),
    "bend H in space": Case(Bend(GUIDE, "H", ANGLE, 25e-3), arc(25, 0), in_space=True),
    # both planes of a corner hold its inner edge
    "corner E": Case(Corner(GUIDE, "E", ANGLE, 3e-3), up_to_port_2((5, 0), 1)),
    "corner H": Case(Corner(GUIDE, "H", ANGLE, 3e-3), up_to_port_2((10, 0), 0)),
    "twist": Case(Twist(GUIDE, math.pi / 4, 30e-3), between(0, 30)),
    "taper": Case(Taper(GUIDE, RectangularGuide(24e-3, 11e-3), 30e-3), between(0, 30)),
    "dent": Case(Dent(GUIDE, "broad", 2e-3, 12e-3, 8e-3), between(0, 12)),
    "dent of the narrow wall": Case(Dent(GUIDE, "narrow", 2e-3, 12e-3, 8e-3), between(0, 12)),
    "offset E": Case(Offset(GUIDE, 0.0, 1e-3, 0.0), between(-10, 10), (0, 1)),
    "offset H": Case(Offset(GUIDE, 1e-3, 0.0, 0.0), between(-10, 10), (0, 1)),
    "load H": Case(Load(GUIDE, "H", "wall", 20e-3, 10e-3, **ABSORBER), between(0, 30)),
    "load in the middle": Case(
        Load(GUIDE, "H", "centre", 20e-3, 10e-3, **ABSORBER), between(0, 30)
    ),
}
SLOW_CASES = {
    "corner E in space": Case(
        Corner(GUIDE, "E", ANGLE, 3e-3), up_to_port_2((5, 0), 1), in_space=True
    ),
    "transition": Case(Transition(GUIDE, 24e-3, 30e-3), between(0, 30)),
    "offset": Case(Offset(GUIDE, 1e-3, 0.6e-3, 0.0), between(-10, 10), (0, 1)),
    "choke-flange": Case(ChokeFlange(GUIDE, **GAP, **GROOVE), between(-9, 9), (0, 1)),
    # at the throat: beyond the aperture the field goes on
    "horn": Case(
        RectangularHorn(GUIDE, 30e-3, 25e-3, 20e-3),
        between(-5, 0),
        (0, 1),
        within=between(-9, 19.9),
    ),
    "conical horn": Case(
        ConicalHorn(ROUND, 40e-3, 20e-3),
        between(-5, 0),
        (0, 1),
        frequency=7.5e9,
        within=between(-9, 19.9),
    ),
}


def field_of(part, in_space=False, frequency=10e9):
    band = np.array([frequency, 1.02 * frequency])
    solved = solver_for(part, in_space)(part, band, 3e-2, None, None)
    return in_port_frame(part, solved.picture(frequency))


def read(content, path):
    path.write_bytes(content)
    return meshio.read(path)


def box(points, along):
    return np.array([points[list(along)].min(axis=1), points[list(along)].max(axis=1)])


def turns_about(point, triangles):
    """Winding number of a closed surface, corners (t, 3, 3) counted outwards, about a point."""
    a, b, c = np.moveaxis(triangles - point, 1, 0)
    x, y, z = (np.linalg.norm(corner, axis=1) for corner in (a, b, c))
    volume = np.einsum("ti,ti->t", a, np.cross(b, c))
    dots = (np.einsum("ti,ti->t", *pair) for pair in ((a, b), (b, c), (c, a)))
    ab, bc, ca = dots
    return 2 * np.arctan2(volume, x * y * z + ab * z + bc * x + ca * y).sum() / (4 * np.pi)


def lies_within(point, triangles):
    """Whether a point, or one a facet's depth nearer to the axis, lies within a surface."""
    inwards = point - FACET * np.array([*point[:2], 0.0]) / np.hypot(*point[:2])
    return any(
        turns_about(at, triangles) == pytest.approx(1.0, abs=1e-3) for at in (point, inwards)
    )


def check_fields_lie_in_the_solid(case, part, folder):
    vtu = read(vtu_bytes(field_of(part, case.in_space, case.frequency), part), folder / "a.vtu")
    stl = read(solid_file(part, ".stl"), folder / "a.stl")
    points, corners = 1e3 * vtu.points.T, stl.points.T
    np.testing.assert_allclose(
        box(points[:, case.kept(points)], case.box),
        box(corners[:, case.kept(corners)], case.box),
        atol=SMALL,
    )
    ((_, cells),) = vtu.cells_dict.items()
    middles = points[:, cells].mean(axis=2)
    middles = middles[:, (case.within or case.kept)(middles)]
    surface = stl.points[stl.cells_dict["triangle"]]
    chosen = middles[:, :: max(1, middles.shape[1] // 200)].T
    assert len(chosen) >= 100
    assert all(lies_within(at, surface) for at in chosen)
    return points, (vtu.point_data["E real"] + 1j * vtu.point_data["E imaginary"]).T


def at_port_1(points, field):
    """The field nearest to the axis at the outer end of the first feed."""
    return field[:, np.argmin(np.hypot(*points[:2]) + np.abs(points[2] - points[2].min()))]


def check_te10(electric):
    assert electric[1].real > 0.5
    assert max(abs(electric[0]), abs(electric[2])) < 0.1 * abs(electric[1])


@pytest.mark.parametrize("name", CASES)
def test_fields_lie_in_the_solid_with_e_along_y(name, tmp_path):
    case = CASES[name]
    check_te10(at_port_1(*check_fields_lie_in_the_solid(case, case.part, tmp_path)))


@pytest.mark.slow
@pytest.mark.parametrize("name", SLOW_CASES)
def test_so_they_do_where_it_takes_longer(name, tmp_path):
    case = SLOW_CASES[name]
    check_te10(at_port_1(*check_fields_lie_in_the_solid(case, case.part, tmp_path)))


@pytest.mark.slow
def test_a_joint_has_its_field_along_the_axis(tmp_path):
    part = RotatingJoint(ROUND, mode="TM01", **GAP, **GROOVE)

    def within(p):
        """Of a picture that goes round in 12 steps chords cut off what is nearest to the groove."""
        r = np.hypot(*p[:2])
        return between(-9, 9)(p) & ~((r > 19 * math.cos(math.pi / 12)) & (r < 19) & (p[2] > 0.8))

    case = Case(part, between(-9, 9), (0, 1), within=within)
    points, field = check_fields_lie_in_the_solid(case, part, tmp_path)
    electric = at_port_1(points, field)
    assert abs(electric[2]) > 0.5 > 20 * np.abs(electric[:2]).max()


def test_a_field_that_is_a_number_lies_in_its_plane(tmp_path):
    part = Load(GUIDE, "E", "wall", 20e-3, 10e-3, **ABSORBER)
    vtu = read(vtu_bytes(field_of(part), part), tmp_path / "a.vtu")
    points = 1e3 * vtu.points.T
    np.testing.assert_allclose(
        box(points[:, points[2] > -SLACK], (0, 1, 2)), [[0, -5, 0], [0, 5, 30]], atol=SLACK
    )


@pytest.mark.slow
def test_a_users_mesh_stays_in_the_coordinates_of_its_file(tmp_path):
    with gmsh_session("box") as gmsh:
        gmsh.model.occ.addBox(3, 5, 7, 20, 10, 24)
        gmsh.model.occ.synchronize()
        for dimension, tag, name in ((3, 1, "inside"), (2, 5, "port1"), (2, 6, "port2")):
            gmsh.model.addPhysicalGroup(dimension, [tag], name=name)
        gmsh.option.setNumber("Mesh.MeshSizeMax", 8)
        gmsh.model.mesh.generate(3)
        gmsh.write(str(tmp_path / "box.msh"))
    part = MeshPart(GUIDE, tmp_path / "box.msh", "mm")
    everywhere = Case(part, lambda p: np.full(p.shape[1], True), (0, 1))
    points, _ = check_fields_lie_in_the_solid(everywhere, part, tmp_path)
    np.testing.assert_allclose(box(points, (0, 1)), [[3, 5], [23, 15]], atol=1e-4)


@pytest.mark.slow
def test_a_flexible_guide_is_whole_and_turns_as_a_bend_does(tmp_path):
    part = Flexible(GUIDE, 6e-3, 1.2e-3, 1, "sinusoidal", "E", 0.15)
    with pytest.raises(MeshingError, match="flexible cannot be written"):
        solid_file(part, ".stl")
    field = field_of(part)
    points = 1e3 * read(vtu_bytes(field, part), tmp_path / "a.vtu").points.T
    # a convolution of 1.2 mm stands out of every wall
    low, high = box(points, (0, 1))
    assert (low[0], high[0]) == pytest.approx((-11.2, 11.2), abs=SMALL)
    # over the convolution and the feed of 0.55 a the axis gains 6/0.15 (1 - cos) + 11 sin
    gain = 40 * (1 - math.cos(0.15)) + 11 * math.sin(0.15)
    assert points[1, np.argmax(points[2])] < gain
    assert high[1] == pytest.approx(gain + 5 * math.cos(0.15), abs=SMALL)
    check_te10(at_port_1(points, field.whole().electric))


def test_every_kind_is_here():
    parts = [case.part for case in (CASES | SLOW_CASES).values()]
    others = {"rotating-joint", "flexible", "mesh"}
    assert {part.kind for part in parts} | others == set(KNOWN_KINDS)
