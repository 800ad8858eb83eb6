"""Drawings of loads in the plane in which the absorber tapers."""

from __future__ import annotations

from geometries.shapes.loads import Load
from solver.figures.views import (
    Drawing,
    Length,
    Mark,
    View,
    cross_section,
    line,
    size_text,
)
from solver.studies.inches import unit_name

_NOTE = (
    "Inside walls, to scale, dimensions in {unit}. The circled number marks the reference plane of "
    "the port, at the tip; the absorber is shaded and uniform across the plane; the guide ends in "
    "a short right behind it."
)


def draw_load(load: Load) -> Drawing:
    """Return a load in its plane, the port at the left, beside its cross-section."""
    half, end, taper = 0.5 * load.width_in_plane, load.length, load.taper_length
    feed = 0.5 * load.width_in_plane
    tip = 0.0 if load.position == "centre" else -half
    low = -0.5 * load.base_width if load.position == "centre" else -half
    high = low + load.base_width
    outline = [(taper, low), (end, low), (end, high), (taper, high)]
    if not load.blunt:
        outline.append((0.0, tip))
    marks: list[Mark] = []
    if not load.blunt:
        text = size_text(taper)
        marks.append(Length("taper_length_mm", text, (0.0, half), (taper, half)))
    if load.base_length:
        text = size_text(load.base_length)
        marks.append(Length("base_length_mm", text, (taper, half), (end, half)))
    text = size_text(load.base_width)
    marks.append(Length("base_width_mm", text, (end, high), (end, low)))
    view = View(
        f"in the {load.plane}-plane",
        walls=(line((-feed, half), (end, half), (end, -half), (-feed, -half)),),
        ports=((1, line((0.0, -half), (0.0, half))),),
        axis=(line((-feed, 0.0), (0.0, 0.0)),),
        filling=(line(*outline, outline[0]),),
        marks=tuple(marks),
    )
    return Drawing((view, cross_section(load.guide)), _NOTE.format(unit=unit_name()))
