"""Cross-sections and their meshes on the exact shape."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from geometries.cells.charts import PlainChart
from geometries.plane_meshes.plane_mesh import PlaneMesh, with_named_boundaries
from geometries.plane_meshes.polygon_mesh import mesh_polygon
from geometries.shapes.guides import CircularGuide, RectangularGuide
from tests.references.round_chart import RoundChart

Array = NDArray[np.float64]


@dataclass(frozen=True)
class Ring:
    """What lies between two coaxial circles [m]."""

    inner_diameter: float
    outer_diameter: float


@dataclass(frozen=True)
class Polygon:
    """The inside of a polygon: corners in order [m], and which of them are re-entrant."""

    vertices: tuple[tuple[float, float], ...]
    reentrant: tuple[int, ...] = ()


Section = RectangularGuide | CircularGuide | Ring | Polygon


def section_mesh(section: Section, wavelength: float) -> PlaneMesh:
    """Mesh a cross-section; its whole outline is the boundary ``wall``.

    Parameters
    ----------
    section : RectangularGuide, CircularGuide, Ring or Polygon
    wavelength : float
        Shortest wavelength in the section that has to be resolved [m]: it bounds the cells.

    Returns
    -------
    PlaneMesh
        Without ports. Rectangles, circles and rings are meshed by quadrilaterals on their exact
        map, polygons by triangles that shrink towards re-entrant corners.
    """
    if isinstance(section, RectangularGuide):
        return _rectangle(section, wavelength)
    if isinstance(section, CircularGuide | Ring):
        return _round(section, wavelength)
    outline = np.array(section.vertices, dtype=float)
    width = float(np.ptp(outline, axis=0).min())
    mesh, description = mesh_polygon(
        "section",
        outline,
        {},
        section.reentrant,
        width=width,
        wavelength=wavelength,
        refinement=0,
    )
    return PlaneMesh(mesh, PlainChart(), (), description)


def _cells(length: float, wavelength: float) -> int:
    """Quadrilaterals along a length: their degree is meant to be 10 or more."""
    return max(1, int(np.ceil(0.6 * length / wavelength)))


def _rectangle(guide: RectangularGuide, wavelength: float) -> PlaneMesh:
    a, b = guide.broad_width, guide.narrow_height
    lines = [np.linspace(-side / 2, side / 2, _cells(side, wavelength) + 1) for side in (a, b)]
    patches = [np.stack(np.meshgrid(*lines, indexing="ij"))]
    return _joined(patches, PlainChart(), {"wall": lambda p: _on_box(p, a / 2, b / 2)})


def _round(section: CircularGuide | Ring, wavelength: float) -> PlaneMesh:
    if isinstance(section, CircularGuide):
        chart = RoundChart(0.0, section.radius)
        first, last, gap = 0.5, 1.0, 0.5 * section.radius
    else:
        chart = RoundChart(section.inner_diameter / 2, section.outer_diameter / 2)
        first, last, gap = 1.0, 2.0, chart.outer_radius - chart.inner_radius
    rho = np.linspace(first, last, _cells(gap, wavelength) + 1)
    sides = _cells(0.5 * np.pi * chart.outer_radius, 1.5 * wavelength)
    eta = np.linspace(-1.0, 1.0, sides + 1)
    r, e = np.meshgrid(rho, eta, indexing="ij")
    east, north = np.stack([r, r * e]), np.stack([r * e, r])
    # opposite sides are mirrored, so that every line of cells runs the same way throughout
    patches = [east, north, east * [[[-1.0]], [[1.0]]], north * [[[1.0]], [[-1.0]]]]
    if isinstance(section, CircularGuide):
        patches.append(0.5 * np.stack(np.meshgrid(eta, eta, indexing="ij")))
        return _joined(patches, chart, {"wall": lambda p: _on_box(p, last, last)})
    both = {"wall": lambda p: _on_box(p, last, last) | _on_box(p, first, first)}
    return _joined(patches, chart, both)


def _on_box(points: Array, half_x: float, half_y: float) -> NDArray[np.bool_]:
    return np.abs(np.maximum(np.abs(points[0]) / half_x, np.abs(points[1]) / half_y) - 1) < 1e-9


def _joined(patches: list[Array], chart: Any, named: dict[str, Any]) -> PlaneMesh:
    """One mesh of several lattices of points (2, n, m), joined where points agree."""
    from skfem import MeshQuad

    points, cells, first = [], [], 0
    for lattice in patches:
        number = first + np.arange(lattice[0].size).reshape(lattice.shape[1:])
        around = (number[:-1, :-1], number[1:, :-1], number[1:, 1:], number[:-1, 1:])
        cells.append(np.stack([n.ravel() for n in around]))
        points.append(lattice.reshape(2, -1))
        first += lattice[0].size
    every = np.concatenate(points, axis=1)
    scale = 1e-9 * np.abs(every).max()
    _, at, same = np.unique(np.round(every / scale), axis=1, return_index=True, return_inverse=True)
    numbered = same.ravel()[np.concatenate(cells, axis=1)]
    mesh = MeshQuad(np.ascontiguousarray(every[:, at]), np.ascontiguousarray(numbered))
    outer = mesh.facets[:, mesh.boundary_facets()]
    boundaries = {}
    for name, holds in named.items():
        on = holds(mesh.p)
        boundaries[name] = outer[:, on[outer].all(axis=0)]
    mesh = with_named_boundaries(mesh, boundaries)
    description: dict[str, object] = {
        "cells": int(mesh.t.shape[1]),
        "shape": "quadrilaterals",
        "geometry": "exact map",
    }
    return PlaneMesh(mesh, chart, (), description)
