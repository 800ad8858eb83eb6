"""The solid body of each kind of part, built by gmsh's OpenCASCADE kernel.

The centre of port 1 is the origin, in its reference plane z = 0; the axis leaves it along +z, with
the broad wall along x and the narrow wall along y, and turns towards +y (E-plane) or +x (H-plane).
A part between two planes is the space between its reference planes; joints, offsets and
the arms of a corner, whose reference planes leave nothing or too little, go on in straight guides.
"""

from __future__ import annotations

import math
from functools import singledispatch
from types import ModuleType
from typing import Any

import numpy as np

from geometries.errors import MeshingError
from geometries.shapes.bends import Bend
from geometries.shapes.choke_flanges import ChokeFlange
from geometries.shapes.corners import Corner
from geometries.shapes.dents import Dent
from geometries.shapes.guides import CircularGuide, RectangularGuide
from geometries.shapes.horns import ConicalHorn, RectangularHorn
from geometries.shapes.loads import Load
from geometries.shapes.offsets import Offset
from geometries.shapes.part import Guide, kind_of
from geometries.shapes.rotating_joints import RotatingJoint
from geometries.shapes.straights import Straight
from geometries.shapes.tapers import Taper
from geometries.shapes.transitions import Transition
from geometries.shapes.twists import Twist
from geometries.solids.lofts import lofted, rectangle_sides, section_sides

#: A body in a gmsh session.
Bodies = list[tuple[int, int]]
#: Straight guide beyond a reference plane, over the guide's longest side.
ARM = 0.5


@singledispatch
def solid_of(part: Any, gmsh: ModuleType) -> Bodies:
    """Build the space inside a part in the open gmsh session, in mm.

    Parameters
    ----------
    part : object
    gmsh : module
        From `geometries.cells.gmsh_session.gmsh_session`.

    Returns
    -------
    list of (int, int)
        The body, as gmsh names it.

    Raises
    ------
    MeshingError
        For a kind that has no solid here.
    """
    raise MeshingError(f"a {kind_of(part)} cannot be written as a solid body yet")


@solid_of.register
def _(part: Straight, gmsh: ModuleType) -> Bodies:
    return [_guide(gmsh, part.guide, 0.0, part.length)]


@solid_of.register
def _(part: Bend, gmsh: ModuleType) -> Bodies:
    if part.profile != "constant":
        return _half_turned(gmsh, lofted(gmsh, section_sides(part), ruled=False))
    occ, a, b = gmsh.model.occ, 1e3 * part.guide.broad_width, 1e3 * part.guide.narrow_height
    radius = 1e3 * part.mean_radius
    section = [(2, occ.addRectangle(-a / 2, -b / 2, 0.0, a, b))]
    if part.plane == "E":
        swept = occ.revolve(section, 0.0, radius, 0.0, -1.0, 0.0, 0.0, part.angle)
    else:
        swept = occ.revolve(section, radius, 0.0, 0.0, 0.0, 1.0, 0.0, part.angle)
    return [body for body in swept if body[0] == 3]


@solid_of.register
def _(part: Corner, gmsh: ModuleType) -> Bodies:
    """A polygon in the plane of the corner, as thick as the guide across it."""
    width, half = part.width_in_plane, math.tan(part.angle / 2)
    arm = part.overhang + ARM * width
    ahead = np.array([math.cos(part.angle), math.sin(part.angle)])
    outward = np.array([math.sin(part.angle), -math.cos(part.angle)])
    tip, back = np.array([width * half, -width]), np.array([-arm, 0.0])
    outer = [tip - [part.cut, 0.0], tip + part.cut * ahead] if part.cut else [tip]
    edge = np.zeros(2)
    ring = [back - [0.0, width], *outer, width * outward + arm * ahead, arm * ahead, edge, back]
    across = part.guide.broad_width if part.plane == "E" else part.guide.narrow_height
    occ = gmsh.model.occ
    points = [_corner_point(occ, part.plane, s, t + width / 2, across) for s, t in ring]
    edges = [occ.addLine(p, q) for p, q in zip(points, points[1:] + points[:1], strict=True)]
    face = occ.addPlaneSurface([occ.addCurveLoop(edges)])
    shift = (1e3 * across, 0.0, 0.0) if part.plane == "E" else (0.0, 1e3 * across, 0.0)
    return [body for body in occ.extrude([(2, face)], *shift) if body[0] == 3]


def _corner_point(occ: Any, plane: str, z: float, beside: float, across: float) -> int:
    """A point of the corner's plane, on one of its two faces."""
    if plane == "E":
        return int(occ.addPoint(-500.0 * across, 1e3 * beside, 1e3 * z))
    return int(occ.addPoint(1e3 * beside, -500.0 * across, 1e3 * z))


@solid_of.register(Twist)
@solid_of.register(Taper)
@solid_of.register(Dent)
@solid_of.register(Transition)
def _(part: Any, gmsh: ModuleType) -> Bodies:
    return lofted(gmsh, section_sides(part), ruled=isinstance(part, Transition))


@solid_of.register
def _(part: RectangularHorn, gmsh: ModuleType) -> Bodies:
    """The flare, and an arm of guide before its throat."""
    arm = ARM * part.guide.longest_side
    guide = _guide(gmsh, part.guide, -arm, arm)
    if not part.length:
        return [guide]
    throat = part.guide.broad_width, part.guide.narrow_height, 0.0
    aperture = part.aperture_width, part.aperture_height, part.length
    sections = [rectangle_sides(*throat), rectangle_sides(*aperture)]
    return _joined(gmsh, [guide, *lofted(gmsh, sections, ruled=True)])


@solid_of.register
def _(part: ConicalHorn, gmsh: ModuleType) -> Bodies:
    arm, radius = ARM * part.guide.diameter, part.aperture_diameter / 2
    bodies = [_guide(gmsh, part.guide, -arm, arm)]
    if part.length and radius == part.guide.radius:
        bodies.append(_cylinder(gmsh, radius, 0.0, part.length))
    elif part.length:
        sizes = 1e3 * part.length, 1e3 * part.guide.radius, 1e3 * radius
        bodies.append((3, gmsh.model.occ.addCone(0, 0, 0, 0, 0, *sizes)))
    return _joined(gmsh, bodies) if len(bodies) > 1 else bodies


@solid_of.register
def _(part: Load, gmsh: ModuleType) -> Bodies:
    """The guide from the tip to the short; the absorber lies in it."""
    return [_guide(gmsh, part.guide, 0.0, part.taper_length + part.base_length)]


@solid_of.register
def _(part: Offset, gmsh: ModuleType) -> Bodies:
    arm = ARM * part.guide.longest_side
    first = _guide(gmsh, part.guide, -arm, arm)
    second = _guide(gmsh, part.guide, 0.0, arm)
    occ = gmsh.model.occ
    occ.rotate([second], 0.0, 0.0, 0.0, 0.0, 0.0, 1.0, part.turn)
    occ.translate([second], 1e3 * part.shift_x, 1e3 * part.shift_y, 0.0)
    return _joined(gmsh, [first, second])


@solid_of.register(ChokeFlange)
@solid_of.register(RotatingJoint)
def _(part: Any, gmsh: ModuleType) -> Bodies:
    """Both guides, the gap out to the rim and the grooves."""
    occ, arm = gmsh.model.occ, ARM * part.guide.longest_side
    bodies = [
        _guide(gmsh, part.guide, -arm, arm),
        _guide(gmsh, part.guide, part.gap, arm),
        _cylinder(gmsh, part.rim_radius, 0.0, part.gap),
    ]
    for groove in part.grooves:
        start = part.gap if groove.flange == 2 else -groove.depth
        outer = _cylinder(gmsh, groove.outer_radius, start, groove.depth)
        inner = _cylinder(gmsh, groove.inner_radius, start, groove.depth)
        bodies += occ.cut([outer], [inner])[0]
    return _joined(gmsh, bodies)


def _guide(gmsh: ModuleType, guide: Guide, start: float, length: float) -> tuple[int, int]:
    """A straight length of guide along z [m]."""
    if isinstance(guide, CircularGuide):
        return _cylinder(gmsh, guide.radius, start, length)
    assert isinstance(guide, RectangularGuide)
    a, b = 1e3 * guide.broad_width, 1e3 * guide.narrow_height
    return 3, gmsh.model.occ.addBox(-a / 2, -b / 2, 1e3 * start, a, b, 1e3 * length)


def _cylinder(gmsh: ModuleType, radius: float, start: float, length: float) -> tuple[int, int]:
    """A cylinder about the z axis [m]."""
    tag = gmsh.model.occ.addCylinder(0, 0, 1e3 * start, 0, 0, 1e3 * length, 1e3 * radius)
    return 3, tag


def _half_turned(gmsh: ModuleType, bodies: Bodies) -> Bodies:
    """Turn bodies by 180 degrees about the z axis: their maps turn away from +y and +x."""
    gmsh.model.occ.rotate(bodies, 0.0, 0.0, 0.0, 0.0, 0.0, 1.0, math.pi)
    return bodies


def _joined(gmsh: ModuleType, bodies: Bodies) -> Bodies:
    """One body of several that touch or overlap."""
    joined, _ = gmsh.model.occ.fuse(bodies[:1], bodies[1:])
    if len(joined) != 1:
        raise MeshingError(f"the part falls into {len(joined)} bodies; do its openings overlap?")
    return list(joined)
