"""Triangle meshes of loads: the guide from the port to the short, with the absorber in it.

The first coordinate runs along the axis from the tip, the second across the plane: from the wall
on which the tip lies, or from the middle of the guide, whose other half is the mirror image.
"""

from __future__ import annotations

from typing import Any

import numpy as np

from geometries.arrays import Array, ComplexArray
from geometries.cells.charts import PlainChart
from geometries.cells.gmsh_session import gmsh_session
from geometries.plane_meshes.plane_mesh import (
    Filling,
    PlaneMesh,
    PlanePort,
    feed_length,
    read_plane_mesh,
    with_named_boundaries,
)
from geometries.plane_meshes.polygon_mesh import draw_regions, grade
from geometries.shapes.loads import Load

#: The finest cells over the width, where the field has no bound and where its slope has none.
_FINEST_FIELD, _FINEST_SLOPE = 1e-5, 1e-2
#: Growth of a cell over its distance from an edge; a larger one costs digits in the E-plane.
_GROWTH = 0.9
#: Cells over the wavelength in their material, and over the width; those of the E-plane are small
#: enough for the first degree tried, as each further one costs twice as much there.
_CELL = {"E": 0.36, "H": 0.5}


def mesh_load(load: Load, wavelength: float, refinement: int) -> PlaneMesh:
    """Mesh a load; see `mesh_in_plane`.

    Returns
    -------
    PlaneMesh
        With the boundaries ``port1``, ``wall`` and, through the middle of a load that is its own
        mirror image, ``mirror``; filled.

    Raises
    ------
    MeshingError
    """
    from skfem import MeshTri

    width, base = half_or_whole(load)
    feed = feed_length(load.width_in_plane)
    points, loops, edges, singular = _outline(load, width, base, feed)
    # a jump of the permeability alone bends the field of the H-plane as sharply
    strong = load.plane == "E" or load.complex_permeability != 1.0
    finest = width * (_FINEST_FIELD if strong else _FINEST_SLOPE) * 0.1**refinement
    index = abs(load.complex_permittivity * load.complex_permeability) ** 0.5
    cell = _CELL[load.plane]
    inside = cell * wavelength / max(index, 1.0)
    coarsest = min(cell * load.width_in_plane, cell * wavelength)
    with gmsh_session("load") as gmsh:
        draw_regions(gmsh, points, loops, edges)
        fine = min(finest, 0.1 * inside)
        sizes = (coarsest * 0.7**refinement, min(inside, coarsest) * 0.7**refinement)
        grade(gmsh, singular, fine, _GROWTH * 0.8**refinement, sizes[0], {2: sizes[1]})
        gmsh.model.mesh.generate(2)
        nodes, cells, named = read_plane_mesh(gmsh, 3)
    mesh = with_named_boundaries(
        MeshTri(nodes, np.ascontiguousarray(np.sort(cells, axis=0))), named
    )
    port = PlanePort("port1", points[0], np.array([0.0, 1.0]), width, feed)
    description: dict[str, object] = {
        "cells": int(cells.shape[1]),
        "shape": "triangles",
        "finest_cell_mm": fine * 1e3 if singular else min(sizes) * 1e3,
        "meshed": "half, by symmetry" if load.symmetric else "whole",
    }
    return PlaneMesh(mesh, PlainChart(), (port,), description, _filling(load, base, mesh))


def half_or_whole(load: Load) -> tuple[float, float]:
    """Widths that are meshed of the guide and of the base [m]: half of each by the mirror."""
    part = 0.5 if load.symmetric else 1.0
    return part * load.width_in_plane, part * load.base_width


def _outline(
    load: Load, width: float, base: float, feed: float
) -> tuple[Array, list[list[int]], dict[str, list[tuple[int, int]]], list[int]]:
    """Points [m], loops of the air and of the absorber, named edges, and singular points."""
    taper, end = load.taper_length, load.length
    places = {
        "start": (-feed, 0.0),
        "tip": (0.0, 0.0),
        "short": (end, 0.0),
        "base": (end, base),
        "corner": (end, width),
        "opposite": (-feed, width),
        "shoulder": (taper, base),
    }
    numbers: dict[str, int] = {}
    points: list[tuple[float, float]] = []
    for name, place in places.items():
        if place not in points:
            points.append(place)
        numbers[name] = points.index(place)

    def loop(*names: str) -> list[int]:
        return list(dict.fromkeys(numbers[name] for name in names))

    air = loop("start", "tip", "shoulder", "base", "corner", "opposite")
    if load.fills:
        air = loop("start", "tip", "shoulder", "opposite")
    absorber = loop("tip", "short", "base", "shoulder")
    port = _edge(numbers["opposite"], numbers["start"])
    axis = {_edge(numbers["start"], numbers["tip"]), _edge(numbers["tip"], numbers["short"])}
    outer = (_sides(air) ^ _sides(absorber)) - {port}
    mirror = outer & axis if load.symmetric and load.plane == "H" else set()
    edges = {"port1": [port], "wall": sorted(outer - mirror)}
    if mirror:
        edges["mirror"] = sorted(mirror)
    singular = [] if load.blunt and load.fills else [numbers["shoulder"]]
    if not load.blunt:
        singular.append(numbers["tip"])
    return np.array(points), [air, absorber], edges, singular


def _edge(a: int, b: int) -> tuple[int, int]:
    return min(a, b), max(a, b)


def _sides(loop: list[int]) -> set[tuple[int, int]]:
    return {_edge(a, b) for a, b in zip(loop, [*loop[1:], loop[0]], strict=True)}


def _filling(load: Load, base: float, mesh: Any) -> Filling:
    z, t = mesh.p[:, mesh.t].mean(axis=1)
    share = 1.0 if load.blunt else np.minimum(z / load.taper_length, 1.0)
    filled = (z > 0.0) & (t < base * share)
    return Filling(
        _of_cells(filled, load.complex_permittivity), _of_cells(filled, load.complex_permeability)
    )


def _of_cells(filled: Array, value: complex) -> Array | ComplexArray:
    """Material of each cell; a material without loss gives real numbers."""
    return np.where(filled, value if value.imag else value.real, 1.0)
