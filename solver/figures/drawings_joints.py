"""Drawings of joints: offsets, choke flanges and rotating joints."""

from __future__ import annotations

import math

from geometries.shapes.choke_flanges import ChokeFlange
from geometries.shapes.grooves import Groove
from geometries.shapes.guides import CircularGuide
from geometries.shapes.offsets import Offset
from geometries.shapes.rotating_joints import RotatingJoint
from solver.figures.views import (
    Drawing,
    Length,
    Mark,
    Pointer,
    Polyline,
    View,
    circle,
    degrees,
    line,
    rectangle,
    size_text,
    to_scale,
)

#: The gap is drawn at least this wide, over the radius of the rim.
_LEAST_GAP = 0.035
_GAP_NOTE = " The gap is drawn wider than it is."
_RIM_NOTE = " The dashed line is the rim, past which power has leaked."


def draw_offset(offset: Offset) -> Drawing:
    """Return an offset from port 1, and along the axis."""
    a, b = offset.guide.broad_width, offset.guide.narrow_height
    x, y = offset.shift_x, offset.shift_y
    marks: list[Mark] = [
        Length("guide.width_mm", size_text(a), (-a / 2, -b / 2), (a / 2, -b / 2), -3.2),
        Length("guide.height_mm", size_text(b), (-a / 2, -b / 2), (-a / 2, b / 2), 3.0),
    ]
    if x:
        away = 2.2 * math.copysign(1, x)
        marks.append(Length("shift_x_mm", size_text(x), (0.0, b / 2), (x, b / 2), away))
    if y:
        away = -2.2 * math.copysign(1, y)
        marks.append(Length("shift_y_mm", size_text(y), (a / 2, 0.0), (a / 2, y), away))
    if offset.turn:
        cos, sin = math.cos(offset.turn), math.sin(offset.turn)
        corner = (x - a / 2 * cos - b / 2 * sin, y - a / 2 * sin + b / 2 * cos)
        marks.append(Pointer("turn_deg", f"turn {degrees(offset.turn)}", corner, (1.0, 2.2)))
    face = View(
        "from port 1: guide 1 and, thin, guide 2",
        walls=(rectangle(a, b),),
        seen=(rectangle(a, b, (x, y), offset.turn),),
        axis=(
            line((-0.6 * a, 0.0), (0.6 * a, 0.0)),
            line((0.0, -0.7 * b), (0.0, 0.7 * b)),
        ),
        marks=tuple(marks),
    )
    return Drawing((face, _offset_along(offset)), to_scale())


def _offset_along(offset: Offset) -> View:
    """The step along the axis, in the plane of the larger shift."""
    sideways = abs(offset.shift_x) > abs(offset.shift_y)
    size = offset.guide.broad_width if sideways else offset.guide.narrow_height
    shift = offset.shift_x if sideways else offset.shift_y
    half, arm = size / 2, 0.5 * offset.guide.broad_width
    walls: list[Polyline] = []
    for side in (half, -half):
        walls.append(line((-arm, side), (0.0, side), (0.0, side + shift), (arm, side + shift)))
    return View(
        "along the axis, from above" if sideways else "along the axis, from the side",
        walls=tuple(walls),
        ports=(
            (1, line((0.0, -half), (0.0, min(half, half + shift)))),
            (2, line((0.0, max(-half, -half + shift)), (0.0, half + shift))),
        ),
        axis=(line((-arm, 0.0), (0.0, 0.0)), line((0.0, shift), (arm, shift))),
    )


def draw_choke_flange(part: ChokeFlange) -> Drawing:
    """Return the section across the broad wall through gap and groove, and the flange's face."""
    section = _section(part, part.guide.narrow_height / 2, "guide.height_mm", half=False)
    a, b = part.guide.broad_width, part.guide.narrow_height
    rings = tuple(circle(r) for g in part.grooves for r in (g.inner_radius, g.outer_radius))
    rim = circle(part.rim_radius)
    face = View(
        "face of the flange with the groove",
        walls=(rectangle(a, b), *rings),
        seen=(rim,) if part.rim == "closed" else (),
        rims=(rim,) if part.rim == "open" else (),
        axis=(
            line((-1.08 * part.rim_radius, 0.0), (1.08 * part.rim_radius, 0.0)),
            line((0.0, -1.08 * part.rim_radius), (0.0, 1.08 * part.rim_radius)),
        ),
        marks=(
            Length("guide.width_mm", size_text(a), (-a / 2, -b / 2), (a / 2, -b / 2), -0.9),
            Length("rim_radius_mm", f"Ø {size_text(2 * part.rim_radius)}",
                   (-part.rim_radius, -part.rim_radius), (part.rim_radius, -part.rim_radius), -1.2),
        ),
    )  # fmt: skip
    return Drawing((section, face), to_scale() + _notes(part, part.rim == "open"))


def draw_rotating_joint(part: RotatingJoint) -> Drawing:
    """Return the half-section through the axis."""
    section = _section(part, part.guide.radius, "guide.diameter_mm", half=True)
    return Drawing((section,), to_scale() + _notes(part, True))


def _notes(part: ChokeFlange | RotatingJoint, leaks: bool) -> str:
    return (_GAP_NOTE if _drawn_gap(part) > part.gap else "") + (_RIM_NOTE if leaks else "")


def _drawn_gap(part: ChokeFlange | RotatingJoint) -> float:
    return max(part.gap, _LEAST_GAP * part.rim_radius)


def _section(part: ChokeFlange | RotatingJoint, opening: float, key: str, *, half: bool) -> View:
    """Section through the axis; its lower half mirrors the upper one, or is left out."""
    gap, rim = _drawn_gap(part), part.rim_radius
    deepest = max([groove.depth for groove in part.grooves], default=0.25 * rim)
    thick = 1.45 * deepest
    left, right = -thick, gap + thick
    sides = (1.0,) if half else (1.0, -1.0)
    metal = [
        outline * [[1.0], [side]]
        for side in sides
        for outline in (
            _flange(part, 1, opening, rim, 0.0, left),
            _flange(part, 2, opening, rim, gap, right),
        )
    ]
    closed = getattr(part, "rim", "open") == "closed"
    if closed:
        metal += [_bar(side, rim, 1.06 * rim, left, right) for side in sides]
    low = 0.0 if half else -opening
    return View(
        "half-section through the axis" if half else "section through gap and groove",
        walls=tuple(metal),
        metal=tuple(metal),
        filling=tuple(_gasket(part, gap, side) for side in sides if _has_gasket(part)),
        ports=((1, line((0.0, low), (0.0, opening))), (2, line((gap, low), (gap, opening)))),
        axis=(line((1.06 * left, 0.0), (1.06 * right, 0.0)),),
        rims=() if closed else tuple(line((0.0, s * rim), (gap, s * rim)) for s in sides),
        marks=tuple(_section_marks(part, gap, left, right, opening, key)),
    )


def _flange(
    part: ChokeFlange | RotatingJoint,
    port: int,
    opening: float,
    rim: float,
    face: float,
    back: float,
) -> Polyline:
    """Outline of the metal of one flange above the axis, its grooves cut out."""
    inwards = 1.0 if back > face else -1.0
    points = [(back, opening), (face, opening)]
    for groove in sorted(_grooves_of(part, port), key=lambda g: g.inner_radius):
        bottom = face + inwards * groove.depth
        points += [
            (face, groove.inner_radius),
            (bottom, groove.inner_radius),
            (bottom, groove.outer_radius),
            (face, groove.outer_radius),
        ]
    points += [(face, rim), (back, rim), (back, opening)]
    return line(*points)


def _grooves_of(part: ChokeFlange | RotatingJoint, port: int) -> list[Groove]:
    return [groove for groove in part.grooves if groove.flange == port]


def _bar(side: float, low: float, high: float, left: float, right: float) -> Polyline:
    low, high = side * low, side * high
    return line((left, low), (right, low), (right, high), (left, high), (left, low))


def _has_gasket(part: ChokeFlange | RotatingJoint) -> bool:
    return getattr(part, "gasket_permittivity", 1.0) > 1.0


def _gasket(part: ChokeFlange | RotatingJoint, gap: float, side: float) -> Polyline:
    inner = getattr(part, "gasket_inner_radius", 0.0)
    return _bar(side, inner, part.rim_radius, 0.0, gap)


def _section_marks(
    part: ChokeFlange | RotatingJoint,
    gap: float,
    left: float,
    right: float,
    opening: float,
    key: str,
) -> list[Mark]:
    rim = part.rim_radius
    circular = isinstance(part.guide, CircularGuide)
    opening_text = f"R {size_text(opening)}" if circular else size_text(2 * opening)
    foot = 0.0 if circular else -opening
    marks: list[Mark] = [
        Pointer("gap_mm", f"gap {size_text(part.gap)}", (gap / 2, rim), (-0.7, 1.0)),
        Length(key, opening_text, (left, foot), (left, opening), 1.4),
        Length("rim_radius_mm", f"R {size_text(rim)}", (left, 0.0), (left, rim), 3.2),
    ]
    names = ("", "second_")
    reach = 1.4
    for prefix, groove in zip(names, part.grooves, strict=False):
        inwards = 1.0 if groove.flange == 2 else -1.0
        face = gap if groove.flange == 2 else 0.0
        edge = right if groove.flange == 2 else left
        bottom = face + inwards * groove.depth
        for name, radius in (("inner", groove.inner_radius), ("outer", groove.outer_radius)):
            far = reach if inwards > 0 else reach + 3.6
            marks.append(
                Length(f"{prefix}groove_{name}_radius_mm", f"R {size_text(radius)}",
                       (edge, 0.0), (edge, radius), -far if inwards > 0 else far)
            )  # fmt: skip
            reach += 1.8
        top = groove.outer_radius
        start, end = ((face, top), (bottom, top)) if inwards > 0 else ((bottom, top), (face, top))
        marks.append(Length(f"{prefix}groove_depth_mm", size_text(groove.depth), start, end, 1.1))
        reach = 1.4
    if _has_gasket(part):
        inner = getattr(part, "gasket_inner_radius", 0.0)
        text, at = f"gasket from R {size_text(inner)}", (gap / 2, -(inner + rim) / 2)
        marks.append(Pointer("gasket_inner_radius_mm", text, at, (2.6, -2.8)))
    return marks
