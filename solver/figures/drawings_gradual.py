"""Drawings of parts that change along a straight axis: twists, tapers, transitions, dents."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np

from geometries.shapes.dents import Dent
from geometries.shapes.tapers import Taper
from geometries.shapes.transitions import Transition
from geometries.shapes.twists import Twist
from solver.figures.views import (
    Angle,
    Drawing,
    Length,
    Mark,
    Polyline,
    View,
    circle,
    degrees,
    line,
    rectangle,
    size_text,
    to_scale,
)

Array = np.ndarray


def along_axis(
    title: str,
    length: float,
    half_width: Callable[[Array], Array],
    marks: tuple[Mark, ...],
    seen: tuple[Polyline, ...] = (),
) -> View:
    """Return a view with two walls that mirror each other about a straight axis."""
    z = np.linspace(0.0, length, 121)
    half = half_width(z)
    ends = ((1, 0.0, half[0]), (2, length, half[-1]))
    return View(
        title,
        walls=(np.stack([z, half]), np.stack([z, -half])),
        ports=tuple((i, line((x, -size), (x, size))) for i, x, size in ends),
        axis=(line((0.0, 0.0), (length, 0.0)),),
        seen=seen,
        marks=marks,
    )


def _ends(first: tuple[str, float], last: tuple[str, float], length: float) -> tuple[Length, ...]:
    """Widths at both ends by their keys."""
    (key, size), (other, size_2) = first, last
    return (
        Length(key, size_text(size), (0.0, -size / 2), (0.0, size / 2), 1.4),
        Length(other, size_text(size_2), (length, -size_2 / 2), (length, size_2 / 2), -1.4),
    )


def draw_taper(taper: Taper) -> Drawing:
    """Return a taper from above and from the side."""
    one, two, length = taper.guide, taper.to_guide, taper.length
    widest = max(one.broad_width, two.broad_width) / 2
    above = along_axis(
        "from above, width",
        length,
        lambda z: taper.width(z)[0] / 2,
        (
            *_ends(
                ("guide.width_mm", one.broad_width),
                ("to_guide.width_mm", two.broad_width),
                length,
            ),
            Length("length_mm", size_text(length), (0.0, widest), (length, widest)),
        ),
    )
    side = along_axis(
        "from the side, height",
        length,
        lambda z: taper.height(z)[0] / 2,
        _ends(
            ("guide.height_mm", one.narrow_height),
            ("to_guide.height_mm", two.narrow_height),
            length,
        ),
    )
    return Drawing((above, side), to_scale())


def draw_transition(transition: Transition) -> Drawing:
    """Return a transition from above, from the side and from port 1."""
    guide, length, diameter = transition.guide, transition.length, transition.to_diameter
    end, top = diameter / 2, max(guide.broad_width, diameter) / 2
    across = Length(
        "to_diameter_mm", f"Ø {size_text(diameter)}", (length, -end), (length, end), -1.4
    )
    along = Length("length_mm", size_text(length), (0.0, top), (length, top))
    views = []
    for title, size, key, more in (
        ("from above, width", guide.broad_width, "guide.width_mm", (along,)),
        ("from the side, height", guide.narrow_height, "guide.height_mm", ()),
    ):
        own = Length(key, size_text(size), (0.0, -size / 2), (0.0, size / 2), 1.4)
        # both walls are straight generators, seen edge on
        view = along_axis(title, length, _straight(size / 2, end, length), (own, across, *more))
        views.append(view)
    face = View(
        "from port 1",
        walls=(rectangle(guide.broad_width, guide.narrow_height), circle(diameter / 2)),
        seen=_generators(transition),
    )
    return Drawing((*views, face), to_scale())


def _straight(first: float, last: float, length: float) -> Callable[[Array], Array]:
    """Return what goes from one value to another in a straight line."""
    return lambda z: np.asarray(first + (last - first) * z / length)


def _generators(transition: Transition) -> tuple[Polyline, ...]:
    """The straight lines from the rectangle's corners and middles to the circle."""
    a, b = transition.guide.broad_width / 2, transition.guide.narrow_height / 2
    corner, radius = transition.corner_angle, transition.to_diameter / 2
    found = []
    for sign_x in (-1, 1):
        for sign_y in (-1, 1):
            end = (sign_x * radius * np.cos(corner), sign_y * radius * np.sin(corner))
            found.append(line((sign_x * a, sign_y * b), end))
    return tuple(found)


def draw_twist(twist: Twist) -> Drawing:
    """Return a twist from the side, and its two ends from port 1."""
    a, b = twist.guide.broad_width, twist.guide.narrow_height
    z = np.linspace(0.0, twist.length, 181)
    turned = twist.turned(z)[0]
    corners = np.array([[a, -a, -a, a], [b, b, -b, -b]]) / 2
    # height of each edge of the guide, seen from the side
    edges = np.sin(turned)[:, None] * corners[0] + np.cos(turned)[:, None] * corners[1]
    top = edges.max(axis=1)
    length, highest = twist.length, top.max()
    side = View(
        "from the side",
        walls=(np.stack([z, top]), np.stack([z, -top])),
        ports=((1, line((0.0, -b / 2), (0.0, b / 2))), (2, _end_line(twist, top[-1]))),
        axis=(line((0.0, 0.0), (twist.length, 0.0)),),
        seen=tuple(np.stack([z, edge]) for edge in edges.T),
        marks=(
            Length("length_mm", size_text(length), (0.0, highest), (length, highest)),
            Length("guide.height_mm", size_text(b), (0.0, -b / 2), (0.0, b / 2), 1.4),
        ),
    )
    faces = View(
        "port 1, and port 2 turned",
        walls=(rectangle(a, b), rectangle(a, b, turn=twist.angle)),
        seen=tuple(rectangle(a, b, turn=float(t)) for t in turned[30:-1:30]),
        axis=(line((0.0, 0.0), (0.75 * a, 0.0)),),
        marks=(
            Angle("angle_deg", degrees(twist.angle), (0.0, 0.0), 0.62 * a, 0.0, twist.angle),
            Length("guide.width_mm", size_text(a), (-a / 2, -b / 2), (a / 2, -b / 2), -1.4),
        ),
    )
    return Drawing((side, faces), to_scale())


def _end_line(twist: Twist, half: float) -> Polyline:
    return line((twist.length, -half), (twist.length, half))


def draw_dent(dent: Dent) -> Drawing:
    """Return a dent in the section along the axis and in the one across it."""
    middle, length, half = dent.distance / 2, dent.length, dent.wall_width / 2
    z, t = np.linspace(0.0, length, 121), np.linspace(-half, half, 161)
    deep = middle - dent.pressed(np.zeros_like(z), z)[0]
    across = middle - dent.pressed(t, np.full_like(t, length / 2))[0]
    key = "guide.height_mm" if dent.wall == "broad" else "guide.width_mm"
    other = "guide.width_mm" if dent.wall == "broad" else "guide.height_mm"
    along = View(
        f"along the axis, through the middle of the {dent.wall} wall",
        walls=(np.stack([z, deep]), line((0.0, -middle), (length, -middle))),
        ports=tuple((i, line((x, -middle), (x, middle))) for i, x in ((1, 0.0), (2, length))),
        axis=(line((0.0, 0.0), (length, 0.0)),),
        hidden=(line((0.0, middle), (length, middle)),),
        marks=(
            Length("length_mm", size_text(length), (0.0, middle), (length, middle)),
            Length("depth_mm", size_text(dent.depth), (length / 2, middle - dent.depth),
                   (length / 2, middle), 0.0),
            Length(key, size_text(dent.distance), (0.0, -middle), (0.0, middle), 1.4),
        ),
    )  # fmt: skip
    section = View(
        "across, in the middle of the dent",
        walls=(
            np.concatenate(
                [
                    np.stack([t, across]),
                    line((half, middle), (half, -middle), (-half, -middle), (-half, middle)),
                ],
                axis=1,
            ),
        ),
        hidden=(line((-half, middle), (half, middle)),),
        marks=(
            Length("width_mm", size_text(dent.width), (-dent.width / 2, middle),
                   (dent.width / 2, middle)),
            Length(other, size_text(2 * half), (-half, -middle), (half, -middle), -1.4),
        ),
    )  # fmt: skip
    return Drawing((along, section), to_scale())
