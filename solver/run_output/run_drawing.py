"""One drawing of a whole run, to scale, seen at an angle."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
from matplotlib import rc_context
from matplotlib.figure import Figure

from geometries.arrays import Array
from solver.figures.style import COMPUTED, INK, PAPER, SECOND, SOFT, STYLE
from solver.run_output.run_course import Stretch, course_of
from solver.studies.inches import in_length_unit, length_text, length_unit

if TYPE_CHECKING:
    from collections.abc import Sequence

    from solver.studies.run_chain import RunPart

#: As wide as other figures nearly, so that its numbers can be read on a telephone [in].
_WIDTH, _LEAST_HEIGHT, _MOST_HEIGHT = 5.2, 1.7, 5.2
#: Right and up on the paper, for the axes x (broad wall), y (narrow wall) and z (axis) of the
#: guide at the transmitter.
_VIEW = np.array([[0.5, 0.0, 0.866], [-0.433, 0.866, 0.25]])
_SIDES = 24
#: Distances of a number from its part, and what leaves it clear of another [points].
_RADII, _CLEAR = (13.0, 22.0, 33.0, 45.0), 14.0


def run_figure(parts: Sequence[RunPart]) -> Figure:
    """Return the drawing of a run; its parts carry their numbers.

    Parameters
    ----------
    parts : sequence of RunPart
    """
    course = course_of(parts)
    flat = np.concatenate([stretch.points for stretch in course]) @ _VIEW.T
    size = np.ptp(flat, axis=0) + 4 * max(float(s.half.max()) for s in course)
    height = float(np.clip(_WIDTH * size[1] / size[0], _LEAST_HEIGHT, _MOST_HEIGHT))
    with rc_context(STYLE):
        figure = Figure(figsize=(_WIDTH, height))
        axes = figure.add_axes((0.01, 0.01, 0.98, 0.98))
        axes.set_aspect("equal")
        axes.axis("off")
        for number, stretch in enumerate(course, start=1):
            _draw(axes, stretch, COMPUTED if number % 2 else SECOND)
        _draw_scale(axes, flat)
        axes.margins(0.06)
        figure.draw_without_rendering()
        middles = np.array([_middle(stretch.points) for stretch in course]) @ _VIEW.T
        for number, (x, y) in enumerate(middles, start=1):
            offset = _free_place(axes.transData.transform(middles), number - 1, figure.dpi)
            axes.annotate(
                str(number),
                (x, y),
                xytext=offset,
                textcoords="offset points",
                ha="center",
                va="center",
                fontsize=8.0,
                color=INK,
                bbox={"boxstyle": "circle,pad=0.15", "fc": PAPER, "ec": SOFT, "lw": 0.7},
                arrowprops={"arrowstyle": "-", "color": SOFT, "lw": 0.6},
            )
    return figure


def _free_place(middles: Array, chosen: int, dpi: float) -> tuple[float, float]:
    """Where the number of a part stands, from its middle, clear of those before it [points]."""
    points = middles * 72.0 / dpi
    placed: list[Array] = []
    best = np.zeros(2)
    for number in range(chosen + 1):
        clearest = -1.0
        for radius in _RADII:
            for turn in np.linspace(0.25, 2.25, 12, endpoint=False) * np.pi:
                at = points[number] + radius * np.array([np.cos(turn), np.sin(turn)])
                near = [float(np.hypot(*(at - other))) for other in placed]
                near += [float(np.hypot(*(at - other))) for other in points]
                clear = min(min(near), _CLEAR)
                if clear > clearest + 0.5:
                    clearest, best = clear, at
        placed.append(best)
    return float(best[0] - points[chosen, 0]), float(best[1] - points[chosen, 1])


def _draw(axes: object, stretch: Stretch, colour: str) -> None:
    """The edges of the guide along a part, and its cross-section at both ends."""
    angles = np.linspace(0.0, 2 * np.pi, _SIDES + 1)
    if stretch.round:
        corners = np.stack([np.cos(angles), np.sin(angles)], axis=1)
        edges = corners[:: _SIDES // 4]
    else:
        corners = np.array([(1.0, 1.0), (-1.0, 1.0), (-1.0, -1.0), (1.0, -1.0), (1.0, 1.0)])
        edges = corners[:-1]
    for edge in edges:
        line = _offset(stretch, edge) @ _VIEW.T
        axes.plot(*line.T, color=colour, linewidth=0.8)  # type: ignore[attr-defined]
    for end in (0, -1):
        ring = np.array([_offset(stretch, corner)[end] for corner in corners]) @ _VIEW.T
        axes.plot(*ring.T, color=colour, linewidth=0.8)  # type: ignore[attr-defined]


def _offset(stretch: Stretch, corner: Array) -> Array:
    moved = stretch.half * corner
    return np.asarray(stretch.points + moved[:, :1] * stretch.across + moved[:, 1:] * stretch.up)


def _middle(points: Array) -> Array:
    steps = np.linalg.norm(np.diff(points, axis=0), axis=1)
    along = np.concatenate([[0.0], np.cumsum(steps)])
    half = 0.5 * along[-1]
    return np.array([np.interp(half, along, points[:, i]) for i in range(3)])


def _draw_scale(axes: object, flat: Array) -> None:
    """A scale of a round length along the guide's first axis."""
    extent = float(np.ptp(flat, axis=0).max()) or 0.1
    one = 1.0 / float(in_length_unit(1.0))
    power = one * 10.0 ** np.floor(np.log10(0.25 * extent / one))
    length = power * max(step for step in (1, 2, 5) if step * power <= 0.25 * extent)
    start = np.array([flat[:, 0].min(), flat[:, 1].min() - 0.08 * extent])
    end = start + length * _VIEW[:, 2]
    metres = length_unit() == "mm" and length >= 1
    text = f"{length:g} m" if metres else length_text(length, 3)
    axes.plot(*np.stack([start, end]).T, color=INK, linewidth=1.4)  # type: ignore[attr-defined]
    axes.annotate(  # type: ignore[attr-defined]
        text, end, xytext=(5, 0), textcoords="offset points", fontsize=8, color=INK, va="center"
    )
