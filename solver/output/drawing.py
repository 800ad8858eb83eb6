"""Outline of a part in the plane in which it turns, for the report."""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import singledispatch
from typing import Any

import numpy as np

from geometries.arrays import Array
from geometries.shapes.bends import Bend
from geometries.shapes.choke_flanges import ChokeFlange
from geometries.shapes.corners import Corner
from geometries.shapes.dents import Dent
from geometries.shapes.offsets import Offset
from geometries.shapes.part import kind_of
from geometries.shapes.rotating_joints import RotatingJoint
from geometries.shapes.straights import Straight
from geometries.shapes.tapers import Taper
from geometries.shapes.transitions import Transition
from geometries.shapes.twists import Twist
from geometries.user_files.user_meshes import MeshPart
from solver.errors import UnsupportedPartError

Polyline = Array


@dataclass(frozen=True, eq=False)
class Drawing:
    """Lines to draw, in metres; port 1 at the left, its guide along x.

    Parameters
    ----------
    walls : tuple of (2, n) arrays
        Inside walls.
    axis : (2, n) array
        Axis of the guide.
    ports : tuple of (2, 2) arrays
        Reference planes, in the order of the port numbers.
    dimensions : tuple of (str, str)
        Name and value of each dimension, in the units of the study file.
    """

    walls: tuple[Polyline, ...]
    axis: Polyline
    ports: tuple[Polyline, ...]
    dimensions: tuple[tuple[str, str], ...]


@singledispatch
def drawing_of(component: Any) -> Drawing | None:
    """Return the drawing of a part, or None where no single plane shows it.

    Raises
    ------
    UnsupportedPartError
        For a kind that is neither drawn nor said to have no drawing.
    """
    raise UnsupportedPartError(f"nothing says whether a {kind_of(component)} can be drawn")


def _not_drawn(component: Any) -> None:
    """No single plane shows these, or their outline is in a file."""
    return


for _kind in (Twist, Taper, Transition, Offset, Dent, RotatingJoint, ChokeFlange, MeshPart):
    drawing_of.register(_kind, _not_drawn)


def in_mm(length: float) -> str:
    """Return a length [m] as text in mm."""
    return f"{length * 1e3:.6g} mm"


@drawing_of.register
def _bend(bend: Bend) -> Drawing:
    half = bend.width_in_plane / 2
    turn = np.linspace(0.0, bend.angle, 91)

    def arc(radius: float) -> Polyline:
        return np.array([radius * np.sin(turn), bend.mean_radius - radius * np.cos(turn)])

    outer, inner = arc(bend.mean_radius + half), arc(bend.mean_radius - half)
    return Drawing(
        walls=(outer, inner),
        axis=arc(bend.mean_radius),
        ports=tuple(np.array([outer[:, i], inner[:, i]]).T for i in (0, -1)),
        dimensions=(
            ("angle", f"{math.degrees(bend.angle):.6g}°"),
            ("mean radius", in_mm(bend.mean_radius)),
            ("inner radius", in_mm(bend.inner_radius)),
            ("length of the axis", in_mm(bend.arc_length)),
            ("width in the plane", in_mm(bend.width_in_plane)),
        ),
    )


@drawing_of.register
def _corner(corner: Corner) -> Drawing:
    width, half_turn = corner.width_in_plane, corner.angle / 2
    # The inner edge is the origin; the outer walls meet on the bisector behind it.
    ahead = np.array([math.cos(corner.angle), math.sin(corner.angle)])
    outward = np.array([math.sin(corner.angle), -math.cos(corner.angle)])
    tip = np.array([width * math.tan(half_turn), -width])
    start, end = np.array([0.0, -width]), width * outward
    # A deep cut reaches past the reference planes, so the arms go on beyond it.
    arm = max(corner.cut - corner.outer_arm, 0.0) + 0.4 * width
    back = np.array([-arm, 0.0])
    outer = [start + back, tip - [corner.cut, 0.0], tip + corner.cut * ahead, end + arm * ahead]
    edge = np.zeros(2)
    return Drawing(
        walls=(np.array(outer).T, np.array([back, edge, arm * ahead]).T),
        axis=np.array([start / 2 + back, tip / 2, end / 2 + arm * ahead]).T,
        ports=(np.array([start, edge]).T, np.array([end, edge]).T),
        dimensions=(
            ("angle", f"{math.degrees(corner.angle):.6g}°"),
            ("cut along each outer wall", in_mm(corner.cut)),
            ("width in the plane", in_mm(width)),
        ),
    )


@drawing_of.register
def _straight(straight: Straight) -> Drawing:
    guide, length = straight.guide, straight.length
    half = getattr(guide, "broad_width", getattr(guide, "diameter", 0.0)) / 2
    walls = tuple(np.array([[0.0, length], [side, side]]) for side in (half, -half))
    return Drawing(
        walls=walls,
        axis=np.array([[0.0, length], [0.0, 0.0]]),
        ports=tuple(np.array([[x, x], [-half, half]]) for x in (0.0, length)),
        dimensions=(("length", in_mm(length)),),
    )
