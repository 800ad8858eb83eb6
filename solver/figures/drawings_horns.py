"""Drawings of horns and of open ends of guides."""

from __future__ import annotations

from geometries.shapes.horns import ConicalHorn, Horn, RectangularHorn
from solver.figures.views import (
    Drawing,
    Length,
    Mark,
    View,
    circle,
    line,
    rectangle,
    size_text,
    to_scale,
)

#: Guide drawn before the throat, and wall drawn about the aperture, over the aperture's size.
_GUIDE, _WALL = 0.3, 0.35
#: What a drawing cannot show of what is about the horn.
_ABOUT = {
    "wall": " The wall about the aperture has no end.",
    "bare": " The walls are thin and stand in free space; the guide has no end.",
}


def draw_rectangular_horn(horn: RectangularHorn) -> Drawing:
    """Return a horn on a rectangular guide from above, from the side and from the front."""
    guide = horn.guide
    sizes = (
        ("from above, width", guide.broad_width, "width_mm", horn.aperture_width),
        ("from the side, height", guide.narrow_height, "height_mm", horn.aperture_height),
    )
    views = []
    for title, inner, key, outer in sizes:
        marks = (
            _side(f"guide.{key}", "", inner, -horn.length),
            _side(f"aperture_{key}", "", outer, 0.0),
        )
        views.append(_section(title, horn, inner, outer, marks))
    front = View(
        "from the front",
        walls=(rectangle(horn.aperture_width, horn.aperture_height),),
        seen=(rectangle(guide.broad_width, guide.narrow_height),),
    )
    return Drawing((*views, front), to_scale() + _ABOUT[horn.rim])


def draw_conical_horn(horn: ConicalHorn) -> Drawing:
    """Return a horn on a circular guide along its axis and from the front."""
    inner, outer = horn.guide.diameter, horn.aperture_diameter
    marks = (
        _side("guide.diameter_mm", "Ø ", inner, -horn.length),
        _side("aperture_diameter_mm", "Ø ", outer, 0.0),
    )
    side = _section("along the axis", horn, inner, outer, marks)
    front = View("from the front", walls=(circle(outer / 2),), seen=(circle(inner / 2),))
    return Drawing((side, front), to_scale() + _ABOUT[horn.rim])


def _side(key: str, sign: str, size: float, z: float) -> Length:
    """The size of guide or aperture, before the throat or beyond the aperture."""
    # clear of the port's number, which stands in the middle of its plane
    away = -1.4 if key.startswith("aperture") else 3.0
    return Length(key, f"{sign}{size_text(size)}", (z, -size / 2), (z, size / 2), away)


def _section(title: str, horn: Horn, inner: float, outer: float, marks: tuple[Mark, ...]) -> View:
    """Section through throat and aperture, which lies at z = 0."""
    start = -horn.length - _GUIDE * outer
    walls = []
    for side in (0.5, -0.5):
        points = [(start, side * inner), (-horn.length, side * inner), (0.0, side * outer)]
        if horn.rim == "wall":
            points.append((0.0, side * (1 + 2 * _WALL) * outer))
        walls.append(line(*points))
    if horn.length:
        high = 0.5 * max(inner, outer)
        along = Length("length_mm", size_text(horn.length), (-horn.length, high), (0.0, high))
        marks = (*marks, along)
    half = 0.5 * inner
    return View(
        title,
        walls=tuple(walls),
        ports=((1, line((-horn.length, -half), (-horn.length, half))),),
        axis=(line((start, 0.0), (0.2 * outer, 0.0)),),
        rims=(line((0.0, -outer / 2), (0.0, outer / 2)),),
        marks=marks,
    )
