"""Sets the views of a drawing on a sheet, with their dimensions."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import singledispatchmethod
from typing import TYPE_CHECKING, Any

import numpy as np
from matplotlib import rc_context
from matplotlib.figure import Figure

from solver.figures.style import BOUND, INK, PAPER, SECOND, SOFT, STYLE
from solver.figures.views import Angle, Drawing, Length, Pointer, View

if TYPE_CHECKING:
    from matplotlib.axes import Axes

#: Width of a sheet, its largest height, what a line of text takes, and room about a view [in].
_WIDTH, _HIGHEST, _LINE, _ROOM, _TITLE = 4.8, 5.4, 0.155, 0.3, 0.24
#: Width of a character [in], and the shortest length that has room for its text inside.
_CHARACTER, _TEXT = 0.072, 8.5


@dataclass(frozen=True)
class _Box:
    """What a view takes: its extent [m] and the room about it [in], left, right, below, above."""

    low: np.ndarray
    size: np.ndarray
    room: np.ndarray

    @property
    def margins(self) -> np.ndarray:
        return np.array([self.room[0] + self.room[1], self.room[2] + self.room[3] + _TITLE])


def drawing_figure(drawing: Drawing, varied: Mapping[str, str] | None = None) -> Figure:
    """Return a drawing as a figure.

    Parameters
    ----------
    drawing : Drawing
    varied : mapping of str to str, optional
        Keys whose dimensions are to stand out, and what stands in place of their value.
    """
    boxes = [_box(view) for view in drawing.views]
    scale, rows = _arranged(boxes)
    heights = [max(_inches(boxes[i], scale)[1] for i in row) for row in rows]
    with rc_context(STYLE):
        figure = Figure(figsize=(_WIDTH, sum(heights)))
        top = sum(heights)
        for row, height in zip(rows, heights, strict=True):
            widths = [_inches(boxes[i], scale)[0] for i in row]
            left = (_WIDTH - sum(widths)) / 2
            for i, width in zip(row, widths, strict=True):
                own = _inches(boxes[i], scale)[1]
                place = (left, top - (height + own) / 2, width, own)
                _Sheet(figure, drawing.views[i], boxes[i], scale, varied or {}).draw(place)
                left += width
            top -= height
    return figure


def _box(view: View) -> _Box:
    points = np.concatenate([*view.lines, *(_points_of(mark) for mark in view.marks)], axis=1)
    low, high = np.nanmin(points, axis=1), np.nanmax(points, axis=1)
    room = np.full(4, _ROOM)
    for mark in view.marks:
        room = np.maximum(room, _room_of(mark))
    return _Box(low, high - low, room)


def _points_of(mark: Any) -> np.ndarray:
    """Points (2, n) [m] that a mark reaches."""
    if isinstance(mark, Length):
        return np.array([mark.start, mark.end]).T
    if isinstance(mark, Pointer):
        return np.array([mark.at]).T
    turn = np.linspace(mark.start, mark.stop, 9)
    arc = mark.radius * np.array([np.cos(turn), np.sin(turn)])
    return np.asarray(np.array(mark.centre)[:, None] * np.ones((1, 9)) + arc)


def _room_of(mark: Any) -> np.ndarray:
    """Room [in] left, right, below and above the view that a mark may take."""
    room = np.zeros(4)
    if isinstance(mark, Length):
        along = np.subtract(mark.end, mark.start)
        normal = np.array([-along[1], along[0]]) / max(np.hypot(*along), 1e-12)
        outwards = normal * np.sign(mark.away)
        reach = (abs(mark.away) + 1.0) * _LINE
        if abs(outwards[0]) > 0.5:
            room[0 if outwards[0] < 0 else 1] = max(reach, abs(mark.away) * _LINE + 0.12)
        else:
            room[2 if outwards[1] < 0 else 3] = reach
    elif isinstance(mark, Pointer):
        wide = len(mark.text) * _CHARACTER
        room[0 if mark.shift[0] < 0 else 1] = 0.5 * wide
    return room


def _inches(box: _Box, scale: float) -> np.ndarray:
    return np.asarray(box.size * scale + box.margins)


def _arranged(boxes: Sequence[_Box]) -> tuple[float, list[list[int]]]:
    """The arrangement in rows with the largest scale [in/m]."""
    numbers = list(range(len(boxes)))
    tried = [[numbers], [[i] for i in numbers]]
    if len(boxes) == 3:
        tried += [[[0, 1], [2]], [[0], [1, 2]]]
    return max(((_scale(boxes, rows), rows) for rows in tried), key=lambda one: one[0])


def _scale(boxes: Sequence[_Box], rows: list[list[int]]) -> float:
    """Largest scale [in/m] at which an arrangement fits the sheet."""
    scales = []
    for row in rows:
        taken = sum(boxes[i].margins[0] for i in row)
        wide = sum(boxes[i].size[0] for i in row)
        scales.append((_WIDTH - taken) / max(wide, 1e-9))
    taken = sum(max(boxes[i].margins[1] for i in row) for row in rows)
    tall = sum(max(boxes[i].size[1] for i in row) for row in rows)
    scales.append((_HIGHEST - taken) / max(tall, 1e-9))
    return max(min(scales), 1e-3)


class _Sheet:
    """One view and its marks on the sheet."""

    def __init__(
        self, figure: Figure, view: View, box: _Box, scale: float, varied: Mapping[str, str]
    ) -> None:
        self.figure, self.view, self.box = figure, view, box
        self.line = _LINE / scale
        self.scale, self.varied = scale, varied

    def draw(self, place: tuple[float, float, float, float]) -> None:
        """Draw the view into a place (left, bottom, width, height) of the sheet [in]."""
        width, height = self.figure.get_size_inches()
        left, bottom, wide, tall = place
        axes = self.figure.add_axes((left / width, bottom / height, wide / width, tall / height))
        low = self.box.low - self.box.room[[0, 2]] / self.scale
        axes.set_xlim(low[0], low[0] + wide / self.scale)
        axes.set_ylim(low[1], low[1] + tall / self.scale)
        axes.set_axis_off()
        axes.text(
            0.5, 1.0 - 0.04 / tall, self.view.title, transform=axes.transAxes, ha="center",
            va="top", fontsize=_TEXT, color=SOFT,
        )  # fmt: skip
        self.axes = axes
        self._lines(axes)
        for mark in self.view.marks:
            self._mark(mark)
        self._ports(axes)

    def _lines(self, axes: Axes) -> None:
        view = self.view
        for outline in view.metal:
            axes.fill(*outline, facecolor="#eef0f3", edgecolor=SOFT, hatch="////", linewidth=0.4)
        for outline in view.filling:
            axes.fill(*outline, facecolor="#f3e3bf", edgecolor=SOFT, linewidth=0.6)
        for axis in view.axis:
            axes.plot(*axis, color=SOFT, linewidth=0.8, linestyle=(0, (9, 3, 2, 3)))
        for edge in view.seen:
            axes.plot(*edge, color=INK, linewidth=0.6)
        for edge in view.hidden:
            axes.plot(*edge, color=SOFT, linewidth=0.7, linestyle=(0, (4, 2)))
        for wall in view.walls:
            axes.plot(*wall, color=INK, linewidth=1.7, solid_joinstyle="miter")
        for rim in view.rims:
            axes.plot(*rim, color=BOUND, linewidth=1.4, linestyle=(0, (2, 1.5)))

    def _ports(self, axes: Axes) -> None:
        middles = [plane.mean(axis=1) for _, plane in self.view.ports]
        close = len(middles) == 2 and np.hypot(*(middles[1] - middles[0])) < 2.2 * self.line
        for number, (plane, middle) in enumerate(
            zip((plane for _, plane in self.view.ports), middles, strict=True)
        ):
            axes.plot(*plane, color=SECOND, linewidth=1.6)
            aside = (-1.3, 1.3)[number] * self.line if close else 0.0
            axes.annotate(
                f"{self.view.ports[number][0]}",
                (float(middle[0] + aside), float(middle[1])),
                color=SECOND,
                fontweight="bold",
                fontsize=8,
                ha="center",
                va="center",
                bbox={
                    "boxstyle": "circle,pad=0.2",
                    "facecolor": PAPER,
                    "edgecolor": SECOND,
                    "linewidth": 1.0,
                },
            )

    def _look(self, key: str, text: str) -> tuple[str, dict[str, Any]]:
        """Text of a mark, and how it is written."""
        if key and key in self.varied:
            prefix = text.split(" ")[0] + " " if " " in text else ""
            return prefix + self.varied[key], {"color": BOUND, "fontweight": "bold"}
        return text, {"color": INK}

    @singledispatchmethod
    def _mark(self, mark: Any) -> None:
        raise TypeError(f"a {type(mark).__name__} cannot be drawn")

    @_mark.register
    def _(self, mark: Length) -> None:
        text, look = self._look(mark.key, mark.text)
        start, end = np.array(mark.start), np.array(mark.end)
        along = end - start
        length = float(np.hypot(*along))
        along = along / length
        normal = np.array([-along[1], along[0]])
        shift = mark.away * self.line * normal
        past = 0.35 * self.line * np.sign(mark.away) * normal
        for point in (start, end):
            self.axes.plot(*np.stack([point + 0.2 * shift, point + shift + past]).T,
                           color=SOFT, linewidth=0.5)  # fmt: skip
        first, last = start + shift, end + shift
        needed = (len(text) * _CHARACTER + 0.1) / self.scale
        fits = length > needed or (abs(along[1]) > 0.7 and length > 1.6 * self.line)
        self._arrows(first, last, along, look["color"], outside=length < 2.2 * self.line)
        turn = np.degrees(np.arctan2(along[1], along[0]))
        turn = (turn + 90.1) % 180.0 - 90.1
        inside = length > needed
        if inside or not fits:
            middle = (first + last) / 2
            side = 1.0 if inside else 0.75
            at = middle + (0.0 if inside else side * np.sign(mark.away)) * self.line * normal
            self._text(at, text, look, float(turn))
        else:
            self._text((first + last) / 2, text, look, 0.0)

    def _arrows(
        self, first: np.ndarray, last: np.ndarray, along: np.ndarray, colour: str, outside: bool
    ) -> None:
        style = {"arrowstyle": "-|>,head_length=0.35,head_width=0.12", "color": colour,
                 "linewidth": 0.8, "shrinkA": 0, "shrinkB": 0}  # fmt: skip
        if outside:
            tail = 1.2 * self.line * along
            for tip, back in ((first, first - tail), (last, last + tail)):
                self.axes.annotate("", _place(tip), _place(back), arrowprops=style)
        else:
            middle = (first + last) / 2
            for tip in (first, last):
                self.axes.annotate("", _place(tip), _place(middle), arrowprops=style)

    def _text(self, at: np.ndarray, text: str, look: dict[str, Any], turn: float) -> None:
        self.axes.text(
            *_place(at), text, fontsize=_TEXT, ha="center", va="center", rotation=turn,
            rotation_mode="anchor", zorder=5,
            bbox={"facecolor": PAPER, "edgecolor": "none", "pad": 0.8}, **look,
        )  # fmt: skip

    @_mark.register
    def _(self, mark: Angle) -> None:
        text, look = self._look(mark.key, mark.text)
        turn = np.linspace(mark.start, mark.stop, 40)
        centre = np.array(mark.centre)[:, None]
        arc = centre + mark.radius * np.array([np.cos(turn), np.sin(turn)])
        self.axes.plot(*arc, color=look["color"], linewidth=0.8)
        for leg in (mark.start, mark.stop):
            direction = np.array([[np.cos(leg)], [np.sin(leg)]])
            reach = mark.radius + 0.5 * self.line
            self.axes.plot(*np.hstack([centre, centre + reach * direction]),
                           color=SOFT, linewidth=0.5)  # fmt: skip
        half = (mark.start + mark.stop) / 2
        at = centre[:, 0] + mark.radius * np.array([np.cos(half), np.sin(half)])
        self._text(at, text, look, 0.0)

    @_mark.register
    def _(self, mark: Pointer) -> None:
        text, look = self._look(mark.key, mark.text)
        at = np.array(mark.at)
        to = at + np.array(mark.shift) * self.line
        self.axes.plot(*np.stack([at, to]).T, color=look["color"], linewidth=0.7)
        self.axes.plot(*at, ".", color=look["color"], markersize=3)
        self.axes.text(
            *_place(to), text, fontsize=_TEXT, va="center",
            ha="left" if mark.shift[0] >= 0 else "right",
            bbox={"facecolor": PAPER, "edgecolor": "none", "pad": 0.8}, zorder=5, **look,
        )  # fmt: skip


def _place(point: np.ndarray) -> tuple[float, float]:
    return float(point[0]), float(point[1])
