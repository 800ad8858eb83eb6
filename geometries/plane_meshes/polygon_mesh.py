"""Triangle meshes of polygons, graded towards every vertex at which the field is singular."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from types import ModuleType
from typing import Any

import numpy as np

from geometries.arrays import Array
from geometries.cells.gmsh_session import gmsh_session
from geometries.plane_meshes.plane_mesh import read_plane_mesh, with_named_boundaries

#: The finest cells over the width: what is left in them, r**(2 pi / angle), is below 1e-8.
_FINEST = 1e-6


def mesh_polygon(
    name: str,
    outline: Array,
    ports: Mapping[str, int],
    singular: Sequence[int],
    *,
    width: float,
    wavelength: float,
    refinement: int,
) -> tuple[Any, dict[str, object]]:
    """Mesh a polygon whose named edges are ports and whose other edges are wall.

    Parameters
    ----------
    name : str
        What is meshed, for messages.
    outline : (n, 2) array
        Vertices in order [m].
    ports : mapping of str to int
        Number of the edge of each port; edge i starts at vertex i.
    singular : sequence of int
        Vertices towards which the cells shrink.
    width : float
        Width of the guide in the plane [m].
    wavelength : float
        Shortest wavelength in the plane [m].
    refinement : int
        See `mesh_in_plane`.

    Returns
    -------
    skfem.MeshTri, dict
        The mesh, and what was meshed and how.

    Raises
    ------
    MeshingError
    """
    from scipy.spatial.distance import pdist
    from skfem import MeshTri

    finest = min(width * _FINEST * 0.1**refinement, 0.1 * float(pdist(outline).min()))
    coarsest = min(0.5 * width, 0.5 * wavelength) * 0.7**refinement
    with gmsh_session(name) as gmsh:
        _draw(gmsh, outline, ports)
        grade(gmsh, singular, finest, 0.9 * 0.8**refinement, coarsest)
        gmsh.model.mesh.generate(2)
        points, cells, named = read_plane_mesh(gmsh, 3)
    mesh = with_named_boundaries(
        MeshTri(points, np.ascontiguousarray(np.sort(cells, axis=0))), named
    )
    count = int(cells.shape[1])
    return mesh, {"cells": count, "shape": "triangles", "finest_cell_mm": finest * 1e3}


def without_repeats(outline: Array, least: float) -> tuple[Array, list[int]]:
    """Leave out vertices that lie on the one before.

    Parameters
    ----------
    outline : (n, 2) array
        Vertices in order [m].
    least : float
        Two vertices closer than this are one [m].

    Returns
    -------
    (m, 2) array, list of int
        Vertices, and for each of the n its number among them.
    """
    kept: list[Array] = []
    number = []
    for vertex in outline:
        if not kept or np.abs(vertex - kept[-1]).max() > least:
            kept.append(vertex)
        number.append(len(kept) - 1)
    if len(kept) > 1 and np.abs(kept[-1] - kept[0]).max() <= least:
        last = len(kept) - 1
        kept.pop()
        number = [0 if i == last else i for i in number]
    return np.array(kept), number


def _draw(gmsh: ModuleType, outline: Array, ports: Mapping[str, int]) -> None:
    geo = gmsh.model.geo
    tags = [geo.addPoint(x, y, 0.0) for x, y in outline]
    edges = [geo.addLine(a, b) for a, b in zip(tags, tags[1:] + tags[:1], strict=True)]
    face = geo.addPlaneSurface([geo.addCurveLoop(edges)])
    geo.synchronize()
    gmsh.model.addPhysicalGroup(2, [face], name="inside")
    for name, edge in ports.items():
        gmsh.model.addPhysicalGroup(1, [edges[edge]], name=name)
    wall = [edge for number, edge in enumerate(edges) if number not in ports.values()]
    gmsh.model.addPhysicalGroup(1, wall, name="wall")


def draw_regions(
    gmsh: ModuleType,
    points: Array,
    loops: Sequence[Sequence[int]],
    named: Mapping[str, Sequence[tuple[int, int]]],
) -> None:
    """Draw faces side by side that share their edges, and name some edges.

    Parameters
    ----------
    gmsh : module
        Of an open session.
    points : (n, 2) array
        [m]
    loops : sequence of sequence of int
        Vertices of each face in order; face i has the tag i + 1.
    named : mapping of str to sequence of (int, int)
        Ends of the edges of each boundary.
    """
    geo = gmsh.model.geo
    tags = [geo.addPoint(x, y, 0.0) for x, y in points]
    lines: dict[tuple[int, int], int] = {}
    faces = []
    for loop in loops:
        signed = []
        for a, b in zip(loop, [*loop[1:], loop[0]], strict=True):
            ends = (min(a, b), max(a, b))
            if ends not in lines:
                lines[ends] = geo.addLine(tags[ends[0]], tags[ends[1]])
            signed.append(lines[ends] if a < b else -lines[ends])
        faces.append(geo.addPlaneSurface([geo.addCurveLoop(signed)]))
    geo.synchronize()
    gmsh.model.addPhysicalGroup(2, faces, name="inside")
    for name, edges in named.items():
        marked = [lines[min(e), max(e)] for e in edges]
        gmsh.model.addPhysicalGroup(1, marked, name=name)


def grade(
    gmsh: ModuleType,
    vertices: Sequence[int],
    finest: float,
    growth: float,
    coarsest: float,
    faces: Mapping[int, float] | None = None,
) -> None:
    """Let the cell size grow in proportion to the distance from each named vertex.

    Parameters
    ----------
    gmsh : module
        Of an open session.
    vertices : sequence of int
    finest, growth : float
        Size at a vertex [m], and its growth a metre.
    coarsest : float
        Nowhere is a cell larger [m].
    faces : mapping of int to float, optional
        Nor in these faces than this [m].
    """
    field = gmsh.model.mesh.field
    sizes = [field.add("MathEval")]
    field.setString(sizes[0], "F", f"{coarsest}")
    for face, size in (faces or {}).items():
        sizes.append(field.add("Constant"))
        field.setNumbers(sizes[-1], "SurfacesList", [face])
        field.setNumber(sizes[-1], "VIn", size)
        field.setNumber(sizes[-1], "VOut", coarsest)
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
