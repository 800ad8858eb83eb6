"""Triangle meshes of corners."""

from __future__ import annotations

import numpy as np

from geometries.cells.charts import PlainChart
from geometries.errors import InvalidDimensionError
from geometries.plane_meshes.plane_mesh import PlaneMesh, PlanePort, feed_length
from geometries.plane_meshes.polygon_mesh import Array, mesh_polygon, without_repeats
from geometries.shapes.corners import Corner


def corner_outline(corner: Corner, feed: float) -> tuple[Array, list[int]]:
    """Outline of a corner with its feeds, and the vertices at which the field is singular.

    Parameters
    ----------
    corner : Corner
    feed : float
        Straight guide before each reference plane [m]; longer than the cut's overhang.

    Returns
    -------
    (n, 2) array, list of int
        Vertices [m], the inner edge at the origin and last; edge 0 is port 1 and edge n - 3 is
        port 2.  The inner edge comes last among the singular vertices.
    """
    width, angle = corner.width_in_plane, corner.angle
    forward = np.array([np.cos(angle), np.sin(angle)])
    outward = np.array([np.sin(angle), -np.cos(angle)])
    outer = corner.outer_arm * np.array([1.0, 0.0]) + np.array([0.0, -width])
    cut = [outer - [corner.cut, 0.0], outer + corner.cut * forward] if corner.cut else [outer]
    outline = [
        np.array([-feed, 0.0]),
        np.array([-feed, -width]),
        *cut,
        width * outward + feed * forward,
        feed * forward,
        np.zeros(2),
    ]
    return np.array(outline), [*range(2, 2 + len(cut)), len(outline) - 1]


def mesh_corner(
    corner: Corner,
    wavelength: float,
    refinement: int,
    feeds: tuple[float, float] | None = None,
) -> PlaneMesh:
    """Mesh a corner; see `mesh_in_plane`.

    Raises
    ------
    InvalidDimensionError
        If a feed is shorter than the cut reaches back.
    """
    width, angle = corner.width_in_plane, corner.angle
    first, second = feeds or (corner.overhang + feed_length(width),) * 2
    for feed in (first, second):
        if feed < corner.overhang * (1 - 1e-9):
            raise InvalidDimensionError(
                "feeds", feed, f"at least {corner.overhang:g} m, as far as the cut reaches back"
            )
    outline, singular = corner_outline(corner, 1.0)
    outward = np.array([np.sin(angle), -np.cos(angle)])
    forward = np.array([np.cos(angle), np.sin(angle)])
    outline[0, 0] = outline[1, 0] = -first
    outline[-3], outline[-2] = width * outward + second * forward, second * forward
    ports = (
        PlanePort("port1", outline[0].copy(), np.array([0.0, -1.0]), width, first),
        PlanePort("port2", outline[-2].copy(), outward, width, second),
    )
    outline, number = without_repeats(outline, 1e-9 * width)
    mesh, description = mesh_polygon(
        "corner",
        outline,
        {"port1": number[0], "port2": number[-3]},
        sorted({number[i] for i in singular}),
        width=width,
        wavelength=wavelength,
        refinement=refinement,
    )
    return PlaneMesh(mesh, PlainChart(), ports, description)
