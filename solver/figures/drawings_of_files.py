"""Drawings of parts that come as a file: their outline from two sides."""

from __future__ import annotations

import numpy as np

from geometries.user_files.outlines import FileOutline, outline_of
from geometries.user_files.user_meshes import MeshPart
from solver.figures.views import Drawing, Length, Polyline, View, size_text
from solver.studies.inches import unit_name

_NOTE = (
    "Edges of the part in the file, to scale, in the frame of port 1: broad wall across, narrow "
    "wall up. The circled numbers mark the ports. Dimensions in {unit}; those of the whole box."
)


def draw_mesh_part(part: MeshPart) -> Drawing:
    """Return the edges of a user's part from above and from the side."""
    outline = outline_of(part)
    return Drawing(
        (
            _view("from above", outline, (2, 0)),
            _view("from the side", outline, (2, 1)),
        ),
        _NOTE.format(unit=unit_name()),
    )


def _view(title: str, outline: FileOutline, shown: tuple[int, int]) -> View:
    edges = outline.edges[list(shown)]
    # one line with gaps draws thousands of edges at once
    gaps = np.full((2, edges.shape[2], 1), np.nan)
    drawn = np.concatenate([edges.transpose(0, 2, 1), gaps], axis=2).reshape(2, -1)
    (left, low), (right, high) = np.nanmin(drawn, axis=1), np.nanmax(drawn, axis=1)
    return View(
        title,
        walls=(drawn,),
        ports=tuple((i, _spread(port[list(shown)])) for i, port in enumerate(outline.ports, 1)),
        marks=(
            Length("", size_text(right - left), (left, low), (right, low), -1.4),
            Length("", size_text(high - low), (left, low), (left, high), 1.4),
        ),
    )


def _spread(points: Polyline) -> Polyline:
    """Return the line between the two points of a port that lie farthest apart in a view."""
    middle = points.mean(axis=1)
    first = points[:, np.argmax(np.linalg.norm(points - middle[:, None], axis=0))]
    last = points[:, np.argmax(np.linalg.norm(points - first[:, None], axis=0))]
    return np.stack([first, last]).T
