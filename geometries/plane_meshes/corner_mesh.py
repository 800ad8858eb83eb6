"""Triangle meshes of corners."""

from __future__ import annotations

import numpy as np

from geometries.cells.charts import PlainChart
from geometries.plane_meshes.plane_mesh import PlaneMesh, PlanePort, feed_length
from geometries.plane_meshes.polygon_mesh import Array, mesh_polygon
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


def mesh_corner(corner: Corner, wavelength: float, refinement: int) -> PlaneMesh:
    """Mesh a corner; see `mesh_in_plane`."""
    width, angle = corner.width_in_plane, corner.angle
    feed = corner.overhang + feed_length(width)
    outline, singular = corner_outline(corner, feed)
    mesh, description = mesh_polygon(
        "corner",
        outline,
        {"port1": 0, "port2": len(outline) - 3},
        singular,
        width=width,
        wavelength=wavelength,
        refinement=refinement,
    )
    outward = np.array([np.sin(angle), -np.cos(angle)])
    ports = (
        PlanePort("port1", outline[0], np.array([0.0, -1.0]), width, feed),
        PlanePort("port2", outline[-2], outward, width, feed),
    )
    return PlaneMesh(mesh, PlainChart(), ports, description)
