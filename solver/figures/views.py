"""What a drawing of a part consists of: views with walls, ports and dimensions, in metres."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from solver.studies.inches import length_number, unit_name

Polyline = NDArray[np.float64]


@dataclass(frozen=True, eq=False)
class Length:
    """A length between two points.

    Parameters
    ----------
    key : str
        Key of the study that sets it, without its table: ``"length_mm"``, ``"guide.width_mm"``;
        empty for one that follows from others.
    text : str
        What stands at the dimension line, as ``"38"``; the unit goes without saying.
    start, end : (float, float)
        [m]
    away : float
        Distance of the dimension line from the points, to the left of start to end, in lines of
        text.
    """

    key: str
    text: str
    start: tuple[float, float]
    end: tuple[float, float]
    away: float = 1.6


@dataclass(frozen=True, eq=False)
class Angle:
    """An angle about a point.

    Parameters
    ----------
    key, text : str
        As of `Length`.
    centre : (float, float)
        [m]
    radius : float
        Of the arc that shows it [m].
    start, stop : float
        Directions of its two legs [rad].
    """

    key: str
    text: str
    centre: tuple[float, float]
    radius: float
    start: float
    stop: float


@dataclass(frozen=True, eq=False)
class Pointer:
    """A text with a line to the place that it speaks of.

    Parameters
    ----------
    key, text : str
        As of `Length`.
    at : (float, float)
        The place [m].
    shift : (float, float)
        Where the text stands from there, in lines of text.
    """

    key: str
    text: str
    at: tuple[float, float]
    shift: tuple[float, float] = (1.5, 1.5)


Mark = Length | Angle | Pointer


@dataclass(frozen=True, eq=False)
class View:
    """One view or section of a part; coordinates in metres.

    Parameters
    ----------
    title : str
        What is seen.
    walls : tuple of (2, n) arrays
        Inside walls.
    ports : tuple of (int, (2, n) array)
        Number and reference plane of each port that the view shows.
    axis : tuple of (2, n) arrays
        Axes of the guides.
    seen, hidden : tuple of (2, n) arrays
        Edges beyond the section, drawn thin; those behind metal, dashed.
    metal, filling : tuple of (2, n) arrays
        Outlines of metal that is cut, and of dielectric.
    rims : tuple of (2, n) arrays
        Where waves leave into the open.
    marks : tuple of Length, Angle or Pointer
    """

    title: str
    walls: tuple[Polyline, ...]
    ports: tuple[tuple[int, Polyline], ...] = ()
    axis: tuple[Polyline, ...] = ()
    seen: tuple[Polyline, ...] = ()
    hidden: tuple[Polyline, ...] = ()
    metal: tuple[Polyline, ...] = ()
    filling: tuple[Polyline, ...] = ()
    rims: tuple[Polyline, ...] = ()
    marks: tuple[Mark, ...] = ()

    @property
    def lines(self) -> tuple[Polyline, ...]:
        """Everything that is drawn to scale."""
        ports = tuple(line for _, line in self.ports)
        return (
            *self.walls, *ports, *self.axis, *self.seen, *self.hidden, *self.metal, *self.filling,
            *self.rims,
        )  # fmt: skip


@dataclass(frozen=True, eq=False)
class Drawing:
    """A part on a sheet.

    Parameters
    ----------
    views : tuple of View
        In one scale.
    note : str
        Caption.
    more : tuple of (str, str)
        Names and values of dimensions that follow from those of the study.
    """

    views: tuple[View, ...]
    note: str
    more: tuple[tuple[str, str], ...] = ()


def to_scale() -> str:
    """Return the caption of what most drawings show."""
    return (
        f"Inside walls, to scale, dimensions in {unit_name()}. The circled numbers mark the "
        "reference planes of the ports; dash-dot lines are axes."
    )


def size_text(length: float) -> str:
    """Return a length [m] as a number in the reader's unit."""
    return length_number(length, 5)


def degrees(angle: float) -> str:
    """Return an angle [rad] as text in degrees."""
    return f"{np.degrees(angle):.5g}°"


def line(*points: tuple[float, float]) -> Polyline:
    """Return points [m] as a polyline."""
    return np.array(points, dtype=float).T


def rectangle(
    width: float, height: float, centre: tuple[float, float] = (0.0, 0.0), turn: float = 0.0
) -> Polyline:
    """Return a closed rectangle about a centre [m], turned by an angle [rad]."""
    x, y = width / 2, height / 2
    corners = np.array([[-x, x, x, -x, -x], [-y, -y, y, y, -y]])
    cos, sin = np.cos(turn), np.sin(turn)
    return np.asarray(np.array([[cos, -sin], [sin, cos]]) @ corners) + np.array(centre)[:, None]


def circle(radius: float) -> Polyline:
    """Return a closed circle about the origin [m]."""
    turn = np.linspace(0.0, 2 * np.pi, 121)
    return radius * np.array([np.cos(turn), np.sin(turn)])


def cross_section(guide: Any) -> View:
    """Return the cross-section of a guide with its dimensions."""
    if hasattr(guide, "diameter"):
        radius = guide.radius
        size = Length(
            "guide.diameter_mm", f"Ø {size_text(guide.diameter)}", (-radius, -radius),
            (radius, -radius), -1.4,
        )  # fmt: skip
        return View("cross-section", (circle(radius),), marks=(size,))
    a, b = guide.broad_width, guide.narrow_height
    return View(
        "cross-section",
        (rectangle(a, b),),
        marks=(
            Length("guide.width_mm", size_text(a), (-a / 2, -b / 2), (a / 2, -b / 2), -1.4),
            Length("guide.height_mm", size_text(b), (a / 2, -b / 2), (a / 2, b / 2), -1.4),
        ),
    )
