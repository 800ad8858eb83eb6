"""Triangle meshes of corners, graded towards every edge at which the field is singular."""

from __future__ import annotations

from types import ModuleType

import numpy as np
from numpy.typing import NDArray

from geometries.charts import PlainChart
from geometries.corners import Corner
from geometries.gmsh_session import gmsh_session
from geometries.plane_mesh import (
    PlaneMesh,
    PlanePort,
    feed_length,
    read_plane_mesh,
    with_named_boundaries,
)

Array = NDArray[np.float64]


def mesh_corner(corner: Corner, wavelength: float, refinement: int) -> PlaneMesh:
    """Mesh a corner; see `mesh_in_plane`."""
    width, angle = corner.width_in_plane, corner.angle
    forward = np.array([np.cos(angle), np.sin(angle)])
    outward = np.array([np.sin(angle), -np.cos(angle)])
    overhang = max(0.0, corner.cut - corner.outer_arm)
    feed = overhang + feed_length(width)
    outer = corner.outer_arm * np.array([1.0, 0.0]) + np.array([0.0, -width])
    cut = [outer - [corner.cut, 0.0], outer + corner.cut * forward] if corner.cut else [outer]
    inner = np.zeros(2)
    outline = [
        np.array([-feed, 0.0]),
        np.array([-feed, -width]),
        *cut,
        width * outward + feed * forward,
        feed * forward,
        inner,
    ]
    # graded so far that what is left in the last cells, r**(2 pi / angle), is below 1e-8
    finest = width * 1e-6 * 0.1**refinement
    coarsest = min(0.5 * width, 0.5 * wavelength) * 0.7**refinement
    singular = [len(outline) - 1, *range(2, 2 + len(cut))]
    with gmsh_session("corner") as gmsh:
        _draw_polygon(gmsh, np.array(outline))
        _grade(gmsh, singular, finest, 0.9 * 0.8**refinement, coarsest)
        gmsh.model.mesh.generate(2)
        points, cells, named = read_plane_mesh(gmsh, 3)
    from skfem import MeshTri

    mesh = with_named_boundaries(MeshTri(points, np.sort(cells, axis=0)), named)
    ports = (
        PlanePort("port1", np.array([-feed, 0.0]), np.array([0.0, -1.0]), width, feed),
        PlanePort("port2", feed * forward, outward, width, feed),
    )
    shape: dict[str, object] = {"cells": int(cells.shape[1]), "shape": "triangles"}
    return PlaneMesh(mesh, PlainChart(), ports, {**shape, "finest_cell_mm": finest * 1e3})


def _draw_polygon(gmsh: ModuleType, outline: Array) -> None:
    """Draw a polygon whose first edge is port 1 and whose last edge but two is port 2."""
    geo = gmsh.model.geo
    tags = [geo.addPoint(x, y, 0.0) for x, y in outline]
    edges = [geo.addLine(a, b) for a, b in zip(tags, tags[1:] + tags[:1], strict=True)]
    face = geo.addPlaneSurface([geo.addCurveLoop(edges)])
    geo.synchronize()
    gmsh.model.addPhysicalGroup(2, [face], name="inside")
    gmsh.model.addPhysicalGroup(1, [edges[0]], name="port1")
    gmsh.model.addPhysicalGroup(1, [edges[-3]], name="port2")
    gmsh.model.addPhysicalGroup(1, [*edges[1:-3], *edges[-2:]], name="wall")


def _grade(
    gmsh: ModuleType, vertices: list[int], finest: float, growth: float, coarsest: float
) -> None:
    """Let the cell size grow in proportion to the distance from each named vertex."""
    field = gmsh.model.mesh.field
    sizes = [field.add("MathEval")]
    field.setString(sizes[0], "F", f"{coarsest}")
    for vertex in vertices:
        distance = field.add("Distance")
        field.setNumbers(distance, "PointsList", [vertex + 1])
        sizes.append(field.add("MathEval"))
        field.setString(sizes[-1], "F", f"{finest} + {growth} * F{distance}")
    least = field.add("Min")
    field.setNumbers(least, "FieldsList", sizes)
    field.setAsBackgroundMesh(least)
    for source in ("ExtendFromBoundary", "FromPoints", "FromCurvature"):
        gmsh.option.setNumber(f"Mesh.MeshSize{source}", 0)
    gmsh.option.setNumber("Mesh.Algorithm", 5)
