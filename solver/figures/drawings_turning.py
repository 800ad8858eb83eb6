"""Drawings of straights, bends and corners in the plane in which they turn."""

from __future__ import annotations

import math

import numpy as np

from geometries.shapes.bends import Bend
from geometries.shapes.corners import Corner
from geometries.shapes.straights import Straight
from solver.figures.views import (
    Angle,
    Drawing,
    Length,
    Mark,
    Pointer,
    View,
    cross_section,
    degrees,
    line,
    size_text,
    to_scale,
)
from solver.studies.inches import length_text


def draw_straight(straight: Straight) -> Drawing:
    """Return a straight from the side that shows its broad wall's width."""
    guide, length = straight.guide, straight.length
    half = getattr(guide, "broad_width", getattr(guide, "diameter", 0.0)) / 2
    view = View(
        "along the axis",
        walls=tuple(line((0.0, side), (length, side)) for side in (half, -half)),
        ports=tuple((i, line((x, -half), (x, half))) for i, x in ((1, 0.0), (2, length))),
        axis=(line((0.0, 0.0), (length, 0.0)),),
        marks=(Length("length_mm", size_text(length), (0.0, half), (length, half)),),
    )
    return Drawing((view, cross_section(guide)), to_scale())


def draw_bend(bend: Bend) -> Drawing:
    """Return a bend in its plane, port 1 at the left, beside its cross-section."""
    half = bend.width_in_plane / 2
    s = np.linspace(0.0, bend.arc_length, 91)
    axis, (turn, _) = bend.axis(s), bend.turned(s)
    outward = half * np.stack([np.sin(turn), -np.cos(turn)])
    outer, inner = axis + outward, axis - outward
    view = View(
        f"in the {bend.plane}-plane",
        walls=(outer, inner),
        ports=tuple((n, np.array([outer[:, i], inner[:, i]]).T) for n, i in ((1, 0), (2, -1))),
        axis=(axis,),
        marks=(
            *_radius_and_angle(bend, float(np.ptp(outer, axis=1).max())),
            Length("", size_text(2 * half), (0.0, half), (0.0, -half), -1.6),
        ),
    )  # fmt: skip
    return Drawing(
        (view, cross_section(bend.guide)),
        to_scale(),
        (
            ("inner radius", length_text(bend.inner_radius, 5)),
            *_tightest(bend),
            ("length of the axis", length_text(bend.arc_length, 5)),
        ),
    )


def _tightest(bend: Bend) -> tuple[tuple[str, str], ...]:
    """The smallest radius of the axis, where it is not the one that the study gives."""
    if bend.profile == "constant":
        return ()
    return (("smallest radius of the axis", length_text(bend.smallest_radius, 5)),)


def _radius_and_angle(bend: Bend, extent: float) -> tuple[Mark, ...]:
    """Radius, angle and onset of a bend, about its centre unless that lies far off."""
    # off the bisector, where the angle is written
    middle, end = bend.axis(bend.arc_length * np.array([0.8, 1.0])).T
    on_axis = (float(middle[0]), float(middle[1]))
    # here the planes of both ends meet; of an arc it is the centre
    away = 0.5 * float(np.hypot(*end)) / math.sin(bend.angle / 2)
    centre, near = (0.0, away), bend.angle > 0.6 * np.pi or away < 1.5 * extent
    smooth = bend.profile != "constant"
    if near:
        turn = (-np.pi / 2, -np.pi / 2 + bend.angle)
        arc = max(0.45 * bend.inner_radius, 0.1 * away)
        angle = Angle("angle_deg", degrees(bend.angle), centre, arc, *turn)
    else:
        # the tangents at both ends meet here
        vertex = (away * math.tan(bend.angle / 2), 0.0)
        angle = Angle("angle_deg", degrees(bend.angle), vertex, 1.2 * vertex[0], 0.0, bend.angle)
    text = f"R {size_text(bend.mean_radius)}"
    if near and not smooth:
        return Length("mean_radius_mm", text, centre, on_axis, 0.0), angle
    if not smooth:
        return Pointer("mean_radius_mm", text, on_axis, (-1.0, 4.0)), angle
    mean = f"axis / angle {size_text(bend.mean_radius)}"
    top = bend.axis(np.array([bend.onset * bend.arc_length]))[:, 0]
    return (
        Pointer("mean_radius_mm", mean, on_axis, (-1.0, 4.0)),
        Pointer("onset", f"onset {bend.onset:g}", (float(top[0]), float(top[1])), (-1.5, 2.5)),
        angle,
    )


def draw_corner(corner: Corner) -> Drawing:
    """Return a corner in its plane, port 1 at the left, beside its cross-section."""
    width, half_turn, cut = corner.width_in_plane, corner.angle / 2, corner.cut
    # The inner edge is the origin; the outer walls meet on the bisector behind it.
    ahead = np.array([math.cos(corner.angle), math.sin(corner.angle)])
    outward = np.array([math.sin(corner.angle), -math.cos(corner.angle)])
    tip = np.array([width * math.tan(half_turn), -width])
    start, end = np.array([0.0, -width]), width * outward
    # A deep cut reaches past the reference planes, so the arms go on beyond it.
    arm = max(cut - corner.outer_arm, 0.0) + 0.4 * width
    back = np.array([-arm, 0.0])
    cut_from, cut_to = tip - [cut, 0.0], tip + cut * ahead
    outer = np.array([start + back, cut_from, cut_to, end + arm * ahead]).T
    edge = np.zeros(2)
    at = (float(tip[0]), float(tip[1]))
    marks: list[Mark] = [
        Length("", size_text(width), (-arm, 0.0), (-arm, -width), -1.4),
        Angle("angle_deg", degrees(corner.angle), at, 0.55 * width, 0.0, corner.angle),
    ]
    if cut:
        marks.append(Length("cut_mm", size_text(cut), (at[0] - cut, at[1]), at, -1.4))
    view = View(
        f"in the {corner.plane}-plane",
        walls=(outer, np.array([back, edge, arm * ahead]).T),
        ports=((1, np.array([start, edge]).T), (2, np.array([end, edge]).T)),
        axis=(np.array([start / 2 + back, tip / 2, end / 2 + arm * ahead]).T,),
        hidden=(np.array([cut_from, tip, cut_to]).T,) if cut else (),
        marks=tuple(marks),
    )
    return Drawing((view, cross_section(corner.guide)), to_scale())
