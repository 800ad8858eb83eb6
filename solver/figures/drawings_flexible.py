"""Drawings of flexible guides: along the axis, straight or bent, beside the plain guide."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator

import numpy as np

from geometries.arrays import Array
from geometries.shapes.flexibles import Flexible
from solver.figures.views import (
    Angle,
    Drawing,
    Length,
    Mark,
    Pointer,
    Polyline,
    View,
    cross_section,
    degrees,
    size_text,
)
from solver.studies.inches import unit_name

_NOTE = (
    "Inside walls, to scale, dimensions in {unit}. Circled numbers mark the reference planes, in "
    "the plain guide; both pairs of walls swing alike."
)
_POINTS = 24


def draw_flexible(part: Flexible) -> Drawing:
    """Return a flexible guide in the plane in which it bends; a straight one from the side."""
    guide = part.guide
    half = 0.5 * (guide.broad_width if part.plane == "H" else guide.narrow_height)
    s = np.linspace(0.0, part.axis_length, _POINTS * min(part.count, 200) + 1)
    swing, _ = part.swing(s)

    def at(place: Array, out: Array) -> Polyline:
        if not part.plane:
            return np.stack([place, out])
        radius, turn = part.mean_radius, place / part.mean_radius
        return np.stack([(radius + out) * np.sin(turn), radius - (radius + out) * np.cos(turn)])

    ends = [at(np.full(2, place), np.array([half, -half])) for place in (0.0, part.axis_length)]
    view = View(
        f"in the {part.plane}-plane" if part.plane else "from the side",
        walls=(at(s, half + swing), at(s, -half - swing)),
        ports=tuple((number, end) for number, end in enumerate(ends, start=1)),
        axis=(at(s, np.zeros_like(s)),),
        marks=tuple(_marks(part, half, at)),
    )
    return Drawing((view, cross_section(guide)), _NOTE.format(unit=unit_name()))


def _marks(part: Flexible, half: float, at: Callable[[Array, Array], Polyline]) -> Iterator[Mark]:
    """Pitch and depth at the first convolution, count, and how far the piece bends."""

    def point(place: float, out: float) -> tuple[float, float]:
        x, y = at(np.array([place]), np.array([out]))[:, 0]
        return float(x), float(y)

    pitch, depth, side = part.pitch, part.convolution_depth, half if not part.plane else -half
    middle, beyond = (0.5 * pitch, half + depth) if not part.plane else (0.5 * pitch, -half - depth)
    yield Length("pitch_mm", size_text(pitch), point(0.0, side), point(pitch, side))
    yield Length(
        "convolution_depth_mm", size_text(depth), point(middle, side), point(middle, beyond), 4.0
    )
    yield Pointer("count", f"{part.count} convolutions", point(0.5 * part.axis_length, 0.0))
    if part.plane:
        turn = (-math.pi / 2, -math.pi / 2 + part.angle)
        centre, radius = (0.0, part.mean_radius), 0.45 * (part.mean_radius - half)
        yield Angle("angle_deg", degrees(part.angle), centre, radius, *turn)
