"""Lattice meshes of swept and straight parts, drawn in gmsh along the metal's true arcs."""

from __future__ import annotations

from types import ModuleType

import numpy as np

from geometries.arrays import Array, Numbers
from geometries.cells.charts import BentChart, PlainChart, SweptChart
from geometries.cells.gmsh_session import gmsh_session
from geometries.errors import MeshingError
from geometries.plane_meshes.lattice_lines import across_lines, along_lines
from geometries.plane_meshes.plane_mesh import (
    PlaneMesh,
    PlanePort,
    read_plane_mesh,
    with_named_boundaries,
)
from geometries.shapes.bends import Bend, width_in_plane
from geometries.shapes.guides import CircularGuide
from geometries.shapes.straights import Straight

Feeds = tuple[float, float] | None


def mesh_bend(bend: Bend, wavelength: float, refinement: int, feeds: Feeds = None) -> PlaneMesh:
    """Mesh a bend in developed coordinates; see `mesh_in_plane`."""
    chart = (
        SweptChart(bend.mean_radius, bend.angle) if bend.profile == "constant" else BentChart(bend)
    )
    width = bend.width_in_plane
    scale = min(width, bend.inner_radius)
    s_lines = along_lines(bend.arc_length, width, scale, wavelength, refinement, feeds, bend.knots)
    t_lines = across_lines(width, bend.inner_radius, wavelength, refinement) - 0.5 * width
    return _lattice(s_lines, t_lines, chart, bend.arc_length, f"{bend.plane}-plane bend")


def mesh_straight(
    part: Straight, wavelength: float, plane: str, refinement: int, feeds: Feeds = None
) -> PlaneMesh:
    """Mesh a straight part; see `mesh_in_plane`."""
    guide = part.guide
    if isinstance(guide, CircularGuide):
        raise MeshingError("a straight circular guide has no plane to cut it in")
    width = width_in_plane(guide, plane)
    s_lines = along_lines(part.length, width, width, wavelength, refinement, feeds)
    t_lines = across_lines(width, 10 * width, wavelength, refinement) - 0.5 * width
    return _lattice(s_lines, t_lines, PlainChart(), part.length, "straight")


def _lattice(
    s_lines: Array,
    t_lines: Array,
    chart: PlainChart | SweptChart | BentChart,
    length: float,
    name: str,
) -> PlaneMesh:
    with gmsh_session(name) as gmsh:
        # gmsh has no curve for a smooth bend: its lattice is drawn developed
        drawn = chart if isinstance(chart, SweptChart) else PlainChart()
        _draw_lattice(gmsh, s_lines, t_lines, drawn, length)
        gmsh.model.mesh.generate(2)
        points, cells, named = read_plane_mesh(gmsh, 4)
    if isinstance(chart, SweptChart):
        points = chart.development(points)
    from skfem import MeshQuad

    mesh = MeshQuad(points, _anticlockwise(points, cells))
    across = np.array([0.0, 1.0])
    width = t_lines[-1] - t_lines[0]
    ports = tuple(
        PlanePort(name, np.array([s, t_lines[0]]), across, width, feed)
        for name, s, feed in (
            ("port1", s_lines[0], -s_lines[0]),
            ("port2", s_lines[-1], s_lines[-1] - length),
        )
    )
    return PlaneMesh(
        with_named_boundaries(mesh, named),
        chart,
        ports,
        {"cells": int(cells.shape[1]), "shape": "quadrilaterals", "geometry": "exact map"},
    )


def _draw_lattice(
    gmsh: ModuleType, s_lines: Array, t_lines: Array, chart: PlainChart | SweptChart, length: float
) -> None:
    """Draw one transfinite patch a cell; curves of a swept arc are true circle arcs."""
    geo = gmsh.model.geo
    s, t = np.meshgrid(s_lines, t_lines, indexing="ij")
    x, y = chart.position(np.stack([s, t]))
    tags = [
        [geo.addPoint(x[i, j], y[i, j], 0.0) for j in range(t.shape[1])] for i in range(s.shape[0])
    ]
    swept = isinstance(chart, SweptChart)
    centre = geo.addPoint(0.0, chart.mean_radius, 0.0) if isinstance(chart, SweptChart) else 0
    middle = 0.5 * (s_lines[1:] + s_lines[:-1])

    def along(i: int, j: int) -> int:
        if swept and 0.0 < middle[i] < length:
            return int(geo.addCircleArc(tags[i][j], centre, tags[i + 1][j]))
        return int(geo.addLine(tags[i][j], tags[i + 1][j]))

    n, m = len(s_lines) - 1, len(t_lines) - 1
    rows = [[along(i, j) for j in range(m + 1)] for i in range(n)]
    columns = [[geo.addLine(tags[i][j], tags[i][j + 1]) for j in range(m)] for i in range(n + 1)]
    faces = []
    for i in range(n):
        for j in range(m):
            loop = geo.addCurveLoop(
                [rows[i][j], columns[i + 1][j], -rows[i][j + 1], -columns[i][j]]
            )
            faces.append(geo.addPlaneSurface([loop]))
            geo.mesh.setTransfiniteSurface(faces[-1])
            geo.mesh.setRecombine(2, faces[-1])
    for curve in [c for line in rows + columns for c in line]:
        geo.mesh.setTransfiniteCurve(curve, 2)
    geo.synchronize()
    gmsh.model.addPhysicalGroup(2, faces, name="inside")
    gmsh.model.addPhysicalGroup(1, columns[0], name="port1")
    gmsh.model.addPhysicalGroup(1, columns[-1], name="port2")
    gmsh.model.addPhysicalGroup(
        1, [row[0] for row in rows] + [row[-1] for row in rows], name="wall"
    )


def _anticlockwise(points: Array, cells: Numbers) -> Numbers:
    """Turn each quadrilateral so that it starts at its least (s, t) and goes along s first."""
    s, t = points[:, cells]
    right, upper = s > s.mean(axis=0), t > t.mean(axis=0)
    rank = np.where(upper, np.where(right, 2, 3), np.where(right, 1, 0))
    return np.take_along_axis(cells, np.argsort(rank, axis=0), axis=0)
