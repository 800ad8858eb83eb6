"""Pictures of the field in a part, to scale: E beside H."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np
from matplotlib import rc_context
from matplotlib.figure import Figure
from matplotlib.tri import Triangulation

from solver.figures.field_cuts import cut
from solver.figures.field_surfaces import FIELD_STYLE, WIDTH, surface_figure
from solver.figures.style import INK, PAPER, signed_map, strength_map
from solver.studies.inches import in_length_unit, length_unit

if TYPE_CHECKING:
    from collections.abc import Sequence

    from matplotlib.axes import Axes
    from numpy.typing import NDArray

    from geometries.arrays import Array, ComplexArray
    from solver.parts.field_picture import CutPlane, FieldPicture

#: Margins of a picture left, right, below and above, and room between panels [in].
_MARGINS, _BETWEEN = (0.54, 0.46, 0.42, 0.3), 0.7
#: Largest height of a panel [in], and arrows along its longer side.
_TALLEST, _ARROWS = 2.1, 20
#: Cuts in one figure: more would fill a page that breaks before them.
_ROWS = 2
#: A panel whose shape is longer than this is stretched to be seen.
_LONGEST_SHAPE = 5.0
#: Height over width of a panel that shows a window, and part of the area within the colours.
_OF_WINDOW, _SHARE_SHOWN = 1.1, 0.995


@dataclass(frozen=True, eq=False)
class _Panel:
    """A field in a plane, with how to show it."""

    points: Array
    triangles: NDArray[np.integer]
    electric: ComplexArray
    magnetic: ComplexArray
    title: str
    names: tuple[str, str]
    window: tuple[float, float, float, float]
    stretched: bool = False

    @property
    def shape(self) -> float:
        """Height over width as drawn."""
        left, right, low, high = self.window
        shape = (high - low) / (right - left)
        if self.stretched:
            return _OF_WINDOW
        return float(np.clip(shape, 1 / _LONGEST_SHAPE, _LONGEST_SHAPE))


def figures(fields: Sequence[FieldPicture]) -> list[tuple[Figure, str]]:
    """Return the pictures of a part's field with their captions: E beside H, each frequency."""
    drawn = []
    for number, field in enumerate(fields):
        at = f"at {field.frequency / 1e9:.6g} GHz"
        both = "E and H" if field.electric is not None else field.quantity
        parts = (
            [field]
            if len(field.cuts) <= _ROWS
            else [
                replace(field, cuts=field.cuts[i : i + _ROWS])
                for i in range(0, len(field.cuts), _ROWS)
            ]
        )
        drawn += [(field_figure(part), f"{both} {at}.") for part in parts]
        if (
            field.electric is not None
            and field.points.shape[0] == 3
            and not number + len(field.mirrors)
        ):
            drawn.append((surface_figure(field), f"Size of E on walls and ports {at}."))
    return drawn


def note_on(field: FieldPicture) -> str:
    """Return what the pictures of a field show, in sentences."""
    if field.electric is None:
        return "For a wave that enters at port 1, over the peak of that wave alone."
    text = (
        "For a wave that enters at port 1. Both fields are over the peak of E of that wave alone, "
        f"H times the impedance of free space. {_coordinates(field)}"
    )
    if field.points.shape[0] == 2:
        more = "Above: one instant, with arrows where a field lies in the plane; below: its size."
        return f"{text} {more}"
    return f"{text} The colours show the size; the arrows, the part in the plane at one instant."


def _coordinates(field: FieldPicture) -> str:
    if field.axes and field.axes[1].startswith("r"):
        return "z runs along the axis, r counts from it."
    return "z runs along the axis at port 1, x along the broad wall and y along the narrow one."


def field_figure(field: FieldPicture) -> Figure:
    """Return E beside H, in the plane of the part or in cuts through it."""
    if field.electric is None or field.magnetic is None:
        return _scalar_figure(field) if field.points.shape[0] == 2 else surface_figure(field)
    if field.points.shape[0] == 2:
        panel = _plane_panel(field)
        rows = [(panel, True), (panel, False)]
    else:
        cuts = [_cut_panel(field, plane) for plane in field.cuts]
        rows = [(panel, False) for panel in cuts if panel is not None]
    return _rows_figure(rows, field, arrows=field.points.shape[0] == 3)


def _plane_panel(field: FieldPicture) -> _Panel:
    assert field.electric is not None and field.magnetic is not None
    low, high = field.points.min(axis=1), field.points.max(axis=1)
    window = (low[0], high[0], low[1], high[1])
    return _Panel(field.points, field.cells, field.electric, field.magnetic, "", field.axes, window)


def _cut_panel(field: FieldPicture, plane: CutPlane) -> _Panel | None:
    found = cut(field, plane)
    if found is None:
        return None
    low, high = found.points.min(axis=1), found.points.max(axis=1)
    window = plane.window or (low[0], high[0], low[1], high[1])
    return _Panel(
        found.points,
        found.triangles,
        found.electric,
        found.magnetic,
        plane.title,
        plane.names,
        window,
        plane.window is not None,
    )


def _rows_figure(rows: Sequence[tuple[_Panel, bool]], field: FieldPicture, arrows: bool) -> Figure:
    """Rows of two panels, E and H; each row signed or by its size."""
    left, right, below, above = _MARGINS
    width = (WIDTH - left - right - _BETWEEN) / 2
    heights = [min(width * panel.shape, _TALLEST) for panel, _ in rows]
    height = sum(heights) + len(rows) * (below + above)
    with rc_context(FIELD_STYLE):
        figure = Figure(figsize=(WIDTH, height))
        top = height
        for (panel, signed), tall in zip(rows, heights, strict=True):
            wide = min(width, tall / panel.shape)
            top -= above + tall
            for column, (name, vectors) in enumerate(
                (("E", panel.electric), ("H", panel.magnetic))
            ):
                at = left + column * (width + _BETWEEN)
                box = (at / WIDTH, top / height, wide / WIDTH, tall / height)
                bar = (
                    (at + wide + 0.06) / WIDTH,
                    top / height,
                    0.07 / WIDTH,
                    tall / height,
                )
                axes, scale = figure.add_axes(box), figure.add_axes(bar)
                _draw(axes, scale, panel, vectors, signed, arrows or signed)
                axes.set_title(_title(name, panel, signed), fontsize=8, pad=5)
                axes.set_xlabel(f"{panel.names[0]} / {length_unit()}", fontsize=8)
                if column == 0:
                    axes.set_ylabel(f"{panel.names[1]} / {length_unit()}", fontsize=8)
            top -= below
    return figure


def _title(name: str, panel: _Panel, signed: bool) -> str:
    if not signed:
        return f"|{name}|" + (f", {panel.title}" if panel.title else "")
    return f"{name} at one instant"


def _upright(vectors: ComplexArray) -> bool:
    """Whether a field stands upright on its plane."""
    return float(np.abs(vectors[2]).max()) > 10.0 * float(np.abs(vectors[:2]).max())


def _draw(
    axes: Axes, scale: Axes, panel: _Panel, vectors: ComplexArray, signed: bool, arrows: bool
) -> None:
    x, y = in_length_unit(panel.points)
    mesh = Triangulation(x, y, panel.triangles.T)
    size = np.linalg.norm(vectors, axis=0)
    peak = _largest_shown(panel, size)
    upright = signed and _upright(vectors)
    if upright:
        values, cmap, low = vectors[2].real, signed_map(), -peak
    elif signed:
        values, cmap, low = np.linalg.norm(vectors.real, axis=0), strength_map(), 0.0
    else:
        values, cmap, low = size, strength_map(), 0.0
    drawn = axes.tripcolor(
        mesh, values, shading="gouraud", cmap=cmap, vmin=low, vmax=peak, rasterized=True
    )
    if arrows and not upright:
        _arrows(axes, panel, vectors[:2].real, values > 0.55 * peak)
    left, right, bottom, top = (in_length_unit(edge) for edge in panel.window)
    axes.set_xlim(left, right)
    axes.set_ylim(bottom, top)
    axes.set_aspect("auto")
    axes.tick_params(labelsize=7, length=2)
    axes.locator_params(axis="x", nbins=max(2, int(2.2 * axes.bbox.width / axes.figure.dpi)))
    axes.locator_params(axis="y", nbins=5)
    bar = axes.figure.colorbar(drawn, cax=scale, extend="neither")
    bar.outline.set_visible(False)
    scale.tick_params(labelsize=7, length=0)


def _largest_shown(panel: _Panel, size: Array) -> float:
    """Size that all but a small part of the area stays under: edges have fields without end."""
    a, b, c = (panel.points[:, corner] for corner in panel.triangles)
    middle = (a + b + c) / 3
    area = np.abs((b - a)[0] * (c - a)[1] - (b - a)[1] * (c - a)[0])
    left, right, low, high = panel.window
    inside = (middle[0] >= left) & (middle[0] <= right) & (middle[1] >= low) & (middle[1] <= high)
    area = np.where(inside, area, 0.0)
    mean = size[panel.triangles].mean(axis=0)
    order = np.argsort(mean)
    below = np.searchsorted(np.cumsum(area[order]), _SHARE_SHOWN * area.sum())
    return float(mean[order][min(int(below), len(order) - 1)]) or 1.0


def _within(panel: _Panel) -> Array:
    left, right, low, high = panel.window
    x, y = panel.points
    inside = (x >= left) & (x <= right) & (y >= low) & (y <= high)
    return np.asarray(inside if inside.any() else np.ones_like(inside))


def _arrows(axes: Axes, panel: _Panel, field: Array, dark: Array) -> None:
    """One arrow in each square of a grid that holds a point of the picture."""
    left, right, low, high = panel.window
    pitch = max(right - left, high - low) / _ARROWS
    if panel.stretched or not 1 / _LONGEST_SHAPE < (high - low) / (right - left) < _LONGEST_SHAPE:
        return  # directions would mislead
    kept = np.flatnonzero(_within(panel))
    square = np.floor((panel.points[:, kept] - [[left], [low]]) / pitch + 0.5)
    middle = (panel.points[:, kept] - [[left], [low]]) / pitch - square
    order = np.argsort((middle**2).sum(axis=0), kind="stable")
    _, first = np.unique(square[:, order], axis=1, return_index=True)
    chosen = kept[order[first]]
    size = np.hypot(*field[:, chosen])
    largest = float(np.percentile(size, 98)) or 1.0
    length = np.minimum(size, largest) / largest
    seen = length > 0.06
    direction = field[:, chosen] / np.maximum(size, 1e-30)
    feet, tips = (in_length_unit(x) for x in (panel.points[:, chosen], direction * length * pitch))
    axes.quiver(
        *feet[:, seen], *(0.9 * tips)[:, seen], angles="xy", scale_units="xy",
        scale=1.0, pivot="middle", width=0.0045, headwidth=3.6, headlength=4.2, headaxislength=3.8,
        color=np.where(dark[chosen][seen], PAPER, INK),
    )  # fmt: skip


def _scalar_figure(field: FieldPicture) -> Figure:
    """The one component that is known, at one instant and its size."""
    x, y = in_length_unit(field.points[:2])
    triangles = Triangulation(x, y, field.cells[:3].T)
    peak = float(np.max(np.abs(field.values))) or 1.0
    shape = float(np.clip(np.ptp(y) / np.ptp(x), 0.2, 2.0))
    width = (WIDTH - sum(_MARGINS[:2]) - _BETWEEN) / 2
    height = width * shape + _MARGINS[2] + _MARGINS[3]
    with rc_context(FIELD_STYLE):
        figure = Figure(figsize=(WIDTH, height))
        for column, (values, name, cmap, low) in enumerate(
            (
                (field.values.real, f"{field.quantity} at one instant", signed_map(), -peak),
                (np.abs(field.values), f"|{field.quantity}|", strength_map(), 0.0),
            )
        ):
            at = _MARGINS[0] + column * (width + _BETWEEN)
            tall = width * shape / height
            axes = figure.add_axes((at / WIDTH, _MARGINS[2] / height, width / WIDTH, tall))
            scale = figure.add_axes(
                ((at + width + 0.08) / WIDTH, _MARGINS[2] / height, 0.1 / WIDTH, tall)
            )
            drawn = axes.tripcolor(
                triangles, values, shading="gouraud", cmap=cmap, vmin=low, vmax=peak
            )
            axes.set_title(name, fontsize=8.5)
            axes.set_xlabel(length_unit(), fontsize=8)
            figure.colorbar(drawn, cax=scale)
    return figure
