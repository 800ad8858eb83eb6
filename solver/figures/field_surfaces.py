"""The size of a field on the surface of a part in space."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np
from matplotlib import rc_context
from matplotlib.cm import ScalarMappable
from matplotlib.colors import Normalize
from matplotlib.figure import Figure

from solver.figures.style import STYLE, strength_map
from solver.studies.inches import in_length_unit, length_unit

if TYPE_CHECKING:
    from solver.parts.field_picture import FieldPicture

#: What pictures of fields change of the common look, and their width [in].
FIELD_STYLE = STYLE | {"axes.grid": False, "axes.spines.left": True}
WIDTH = 4.8


def surface_figure(field: FieldPicture) -> Figure:
    """Return the size of E on the surface of a part in space."""
    from mpl_toolkits.mplot3d.art3d import Poly3DCollection

    faces = outer_faces(field)
    places, size = in_length_unit(field.points[[2, 0, 1]]), np.abs(field.values)
    peak = float(size.max()) or 1.0
    low, high = places.min(axis=1), places.max(axis=1)
    with rc_context(FIELD_STYLE):
        figure = Figure(figsize=(WIDTH, 2.9))
        axes: Any = figure.add_axes((0.0, 0.02, 0.8, 0.96), projection="3d")
        colours = strength_map()(size[faces].mean(axis=0) / peak)
        surface = Poly3DCollection(
            places[:, faces].transpose(2, 1, 0),
            facecolors=colours,
            edgecolors=colours,
            linewidths=0.3,
        )
        axes.add_collection3d(surface)
        axes.set(xlim=(low[0], high[0]), ylim=(low[1], high[1]), zlim=(low[2], high[2]))
        # a box that leaves room for the names of its axes
        axes.set_box_aspect(np.maximum(high - low, 0.02 * np.ptp(places)), zoom=0.98)
        for axis, name in ((axes.xaxis, "z"), (axes.yaxis, "x"), (axes.zaxis, "y")):
            axis.set_label_text(f"{name} / {length_unit()}", fontsize=8)
            axis.labelpad = 9
            axis.set_tick_params(labelsize=7)
            axis.set_pane_color((1.0, 1.0, 1.0, 0.0))
            axis.set_major_locator(_few_ticks())
        scale = figure.add_axes((0.89, 0.2, 0.018, 0.6))
        bar = figure.colorbar(ScalarMappable(Normalize(0.0, peak), strength_map()), cax=scale)
        bar.outline.set_visible(False)
        scale.set_title("|E|", fontsize=8.5)
        scale.tick_params(labelsize=7, length=0)
    return figure


def _few_ticks() -> Any:
    from matplotlib.ticker import MaxNLocator

    return MaxNLocator(4)


def outer_faces(field: FieldPicture) -> np.ndarray:
    """Triangles (3, n) of tetrahedra that belong to one of them only, by place."""
    placed = np.round(field.points / (1e-7 * np.ptp(field.points))).T
    _, same = np.unique(placed, axis=0, return_inverse=True)
    faces = np.concatenate([np.delete(field.cells, i, axis=0) for i in range(4)], axis=1)
    merged = np.sort(same[faces], axis=0)
    _, first, count = np.unique(merged, axis=1, return_index=True, return_counts=True)
    return np.asarray(faces[:, first[count == 1]])
