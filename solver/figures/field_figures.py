"""Pictures of a part and of the field in it, to scale."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np
from matplotlib import rc_context
from matplotlib.cm import ScalarMappable
from matplotlib.colors import Normalize
from matplotlib.figure import Figure
from matplotlib.tri import Triangulation

from solver.figures.style import STYLE, signed_map, strength_map

if TYPE_CHECKING:
    from matplotlib.axes import Axes

    from solver.parts.field_picture import FieldPicture


def figures(field: FieldPicture) -> list[tuple[Figure, str]]:
    """Return figures of a field with their captions."""
    caption = (
        f"{field.quantity} at {field.frequency / 1e9:.6g} GHz for a wave that enters at port 1, "
        "over the peak of that wave alone"
        + (": at one instant, and its magnitude." if field.points.shape[0] == 2 else ".")
    )
    return [(field_figure(field), caption)]


def field_figure(field: FieldPicture) -> Figure:
    """Return the field at one instant and its magnitude, to scale."""
    if field.points.shape[0] == 3:
        return _surface_figure(field)
    mm = field.points[:2] * 1e3
    triangles = Triangulation(mm[0], mm[1], field.cells[:3].T)
    peak = float(np.max(np.abs(field.values))) or 1.0
    with rc_context(STYLE | {"axes.grid": False}):
        figure, panels = _two_panels(*np.ptp(mm, axis=1))
        for (axes, scale), values, name, cmap, low in (
            (panels[0], field.values.real, f"{field.quantity} at one instant", signed_map(), -peak),
            (panels[1], np.abs(field.values), f"|{field.quantity}|", strength_map(), 0.0),
        ):
            drawn = axes.tripcolor(
                triangles, values, shading="gouraud", cmap=cmap, vmin=low, vmax=peak
            )
            axes.set_aspect("equal")
            axes.set_title(f"{name}, {field.frequency / 1e9:.6g} GHz", loc="left", fontsize=9.5)
            axes.set_xlabel("mm")
            figure.colorbar(drawn, cax=scale)
        panels[0][0].set_ylabel("mm")
    return figure


def _surface_figure(field: FieldPicture) -> Figure:
    """Return the magnitude of the field on the surface of a part in space."""
    from mpl_toolkits.mplot3d.art3d import Poly3DCollection

    faces = _outer_faces(field)
    mm, size = field.points[[2, 0, 1]] * 1e3, np.abs(field.values)
    peak = float(size.max()) or 1.0
    with rc_context(STYLE | {"axes.grid": False}):
        figure = Figure(figsize=(7.0, 4.4))
        axes: Any = figure.add_axes((0.0, 0.0, 0.86, 0.94), projection="3d")
        colours = strength_map()(size[faces].mean(axis=0) / peak)
        axes.add_collection3d(Poly3DCollection(mm[:, faces].transpose(2, 1, 0), facecolors=colours))
        low, high = mm.min(axis=1), mm.max(axis=1)
        axes.set(xlim=(low[0], high[0]), ylim=(low[1], high[1]), zlim=(low[2], high[2]))
        axes.set_box_aspect(np.maximum(high - low, 1e-9))
        axes.set(xlabel="axis at port 1 / mm", ylabel="mm", zlabel="mm")
        axes.set_title(
            f"|{field.quantity}| on the walls and ports, {field.frequency / 1e9:.6g} GHz",
            loc="left",
            fontsize=9.5,
        )
        scale = figure.add_axes((0.89, 0.15, 0.02, 0.7))
        figure.colorbar(ScalarMappable(Normalize(0.0, peak), strength_map()), cax=scale)
    return figure


def _outer_faces(field: FieldPicture) -> np.ndarray:
    """Triangles (3, n) of tetrahedra that belong to one of them only, by place."""
    placed = np.round(field.points / (1e-7 * np.ptp(field.points))).T
    _, same = np.unique(placed, axis=0, return_inverse=True)
    faces = np.concatenate([np.delete(field.cells, i, axis=0) for i in range(4)], axis=1)
    merged = np.sort(same[faces], axis=0)
    _, first, count = np.unique(merged, axis=1, return_index=True, return_counts=True)
    return faces[:, first[count == 1]]


def _two_panels(across: float, up: float) -> tuple[Figure, list[tuple[Axes, Axes]]]:
    """Two axes of this shape with a scale each: one above the other if wide, else abreast."""
    wide = up < 0.45 * across
    width = 5.6 if wide else 2.5
    height = min(max(width * up / across, 0.6), 5.5)
    size = (7.5, 2 * (height + 0.85)) if wide else (7.5, height + 0.95)
    figure = Figure(figsize=size)
    panels = []
    for left, bottom in ((0.7, height + 1.4), (0.7, 0.5)) if wide else ((0.6, 0.5), (4.2, 0.5)):
        boxes = ((left, bottom, width, height), (left + width + 0.12, bottom, 0.12, height))
        inches = (size[0], size[1], size[0], size[1])
        axes, scale = (figure.add_axes(tuple(np.array(box) / np.array(inches))) for box in boxes)
        panels.append((axes, scale))
    return figure, panels
