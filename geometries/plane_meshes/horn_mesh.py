"""Meshes of the half-plane of a conical horn, out to a half sphere before its wall.

The mesh's coordinates (s, t) are the axis and the radius in the guide and just before the aperture.
In the horn t is stretched with the radius of the wall; between the cylinder just before the
aperture and the half sphere the cells lie along rays from the middle of the aperture. The map is
exact, so that the wall and the half sphere are.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np

from geometries.arrays import Array
from geometries.cells.graded_lines import growing, lines_between
from geometries.plane_meshes.plane_mesh import PlaneMesh, PlanePort, with_named_boundaries
from geometries.shapes.horns import ConicalHorn

_GRADING = 0.17
_LAYERS = 4
#: Layers at the throat, where the wall only turns.
_AT_THROAT = 2
#: Longest cell over the shortest wavelength.
_LARGEST = 0.75
#: Straight guide before the throat over the guide's radius.
_FEED = 1.0
#: Length of the cylinder before the aperture, and radius of the half sphere, over the aperture's.
CYLINDER, SPHERE = 0.6, 1.7


@dataclass(frozen=True)
class HornChart:
    """The half-plane of a conical horn; fields are r times the azimuthal component.

    Parameters
    ----------
    throat, aperture : float
        Radii [m].
    length : float
        [m]
    """

    throat: float
    aperture: float
    length: float

    @property
    def cylinder(self) -> float:
        """Length of the cylinder before the aperture [m]."""
        return CYLINDER * self.aperture

    @property
    def sphere(self) -> float:
        """Radius of the half sphere [m]."""
        return SPHERE * self.aperture

    @property
    def shell(self) -> float:
        """What (s, t) grow by from the cylinder to the half sphere [m]."""
        return self.sphere - self.aperture

    def weights(self, points: Array) -> tuple[Array, Array]:
        """Stiffness tensor and mass weight; see `PlainChart.weights`."""
        (_, r), ((zs, zt), (rs, rt)) = self._mapped(points)
        det = zs * rt - zt * rs
        tensor = [zt**2 + rt**2, -(zs * zt + rs * rt), zs**2 + rs**2]
        return np.stack(tensor) / (det * r), det / r

    def stretch(self, points: Array) -> Array:
        """Metres of metal for each metre of mesh along a wall, (...) [-].

        The wall runs along s in the guide and along t beyond the aperture.
        """
        _, ((zs, zt), (rs, rt)) = self._mapped(points)
        return np.asarray(np.where(points[0] < 0, np.hypot(zs, rs), np.hypot(zt, rt)))

    def slopes(self, points: Array) -> Array:
        """Derivatives (2, 2, ...) of z and r by s and t."""
        return np.array(self._mapped(points)[1])

    def position(self, points: Array) -> Array:
        """Points (z, r) of the half-plane [m], (2, ...); the aperture lies at z = 0."""
        return np.array(self._mapped(points)[0])

    def coordinates(self, points: Array) -> Array:
        """Points (z, r) that the field is solved at, (2, ...) [m]: the same, real ones."""
        return self.position(points)

    def polar_angle(self, port: str, along: Array) -> tuple[Array, Array]:
        """Angle from the axis at points of the half sphere, and its size of derivative.

        Parameters
        ----------
        port : {"side", "top"}
        along : (...) array
            Coordinate along that boundary of the mesh, from the wall or from the axis [m].
        """
        if port == "side":
            rate = self.cylinder / (self.cylinder + self.shell)
            z = along * rate
            return np.arctan2(self.aperture, z), rate * self.aperture / (self.aperture**2 + z**2)
        rate = self.aperture / (self.aperture + self.shell)
        r = along * rate
        return np.arctan2(r, self.cylinder), rate * self.cylinder / (self.cylinder**2 + r**2)

    def _mapped(self, points: Array) -> tuple[Any, Any]:
        """Point (z, r) and its derivatives ((z_s, z_t), (r_s, r_t))."""
        s, t = points
        one, zero = np.ones_like(s), np.zeros_like(s)
        flared = (s < 0) & (s > -self.length)
        slope = (self.aperture - self.throat) / max(self.length, 1e-300)
        before = np.where(flared, self.aperture + slope * s, self.throat)
        wall = np.where(s >= 0, self.aperture, before)
        scale = wall / self.aperture
        z, r = s, t * scale
        inner = (one, zero), (np.where(flared, t * slope / self.aperture, 0.0), scale)
        a, h, w = self.aperture, self.cylinder, self.shell
        side, top = t - a, s - h
        in_shell, at_side = np.maximum(side, top) > 0, side > top
        # the ray through (p, a), or through (h, p), on the cylinder
        depth = np.where(at_side, side, top) / w
        long = np.where(at_side, s, t)
        base = np.where(at_side, h, a)
        full = base + depth * w
        p = long / full * base
        fixed = np.where(at_side, a, h)
        far = np.hypot(p, fixed)
        grow = 1 + depth * (self.sphere / far - 1)
        by_depth = self.sphere / far - 1
        by_p = -depth * self.sphere * p / far**3
        # along the mesh's long and short coordinate
        p_long, p_short = base / full, -long * base / full**2
        g_long, g_short = by_p * p_long, by_p * p_short + by_depth / w
        x, y = p * grow, fixed * grow
        x_long, x_short = p_long * grow + p * g_long, p_short * grow + p * g_short
        y_long, y_short = fixed * g_long, fixed * g_short

        def chosen(inside: Array, at_the_side: Array, at_the_top: Array) -> Array:
            return np.where(in_shell, np.where(at_side, at_the_side, at_the_top), inside)

        return (chosen(z, x, y), chosen(r, y, x)), (
            (chosen(inner[0][0], x_long, y_short), chosen(inner[0][1], x_short, y_long)),
            (chosen(inner[1][0], y_long, x_short), chosen(inner[1][1], y_short, x_long)),
        )


def mesh_horn(horn: ConicalHorn, wavelength: float, refinement: int) -> PlaneMesh:
    """Mesh the half-plane of a conical horn whose aperture lies in a wall.

    Parameters
    ----------
    horn : ConicalHorn
    wavelength : float
        Shortest wavelength over the band [m]; it bounds the cells.
    refinement : int
        0 for the coarsest mesh; each step grades further and halves the cells.

    Returns
    -------
    PlaneMesh
        With the boundaries ``port1``, ``side``, ``top``, ``wall`` and ``axis``; its ports are
        port 1 and the two parts of the half sphere.
    """
    throat, length = horn.guide.radius, horn.length
    chart = HornChart(throat, horn.opening_radius, length)
    a, h, w = chart.aperture, chart.cylinder, chart.shell
    largest, layers = _LARGEST * wavelength / (1 + refinement), _LAYERS + refinement
    first = _GRADING**layers * min(a, throat)
    turn = _GRADING ** (_AT_THROAT + refinement) * throat
    feed = _FEED * throat
    inside = [-_graded(feed, turn if length else first, largest)[::-1] - length]
    if length:
        inside.append(-length + _graded(0.5 * length, turn, largest)[1:])
        inside.append(-_graded(0.5 * length, first, largest)[-2::-1])
    s_lines = np.concatenate([*inside, _graded(h, first, largest)[1:]])
    t_lines = a - _graded(a, first, largest)[::-1]
    t_lines[0] = 0.0
    depth = _graded(w, first, largest) / w
    mesh = _cells(s_lines, t_lines, depth, chart)
    up, right = np.array([0.0, 1.0]), np.array([1.0, 0.0])
    start = np.array([s_lines[0], 0.0])
    ports = (
        PlanePort("port1", start, up, a, feed),
        PlanePort("side", np.array([0.0, a + w]), right, h + w, 0.0),
        PlanePort("top", np.array([h + w, 0.0]), up, a + w, 0.0),
    )
    description: dict[str, object] = {
        "cells": int(mesh.t.shape[1]),
        "shape": "quadrilaterals of the half-plane on the exact map",
        "layers_to_edges": layers,
        "half_sphere_mm": chart.sphere * 1e3,
    }
    return PlaneMesh(mesh, chart, ports, description)


def _graded(length: float, first: float, largest: float) -> Array:
    """Lines from 0 to `length` [m], drawn together towards 0."""
    low = growing(min(first, 0.5 * length), _GRADING, 0.6 * length, largest)
    return lines_between(length, low, np.zeros(0), largest)


def _cells(s_lines: Array, t_lines: Array, depth: Array, chart: HornChart) -> Any:
    from skfem import MeshQuad

    a, h, w = chart.aperture, chart.cylinder, chart.shell
    before = s_lines[s_lines >= 0] / h
    across = t_lines / a
    grids = [
        np.meshgrid(s_lines, t_lines, indexing="ij"),
        # columns of the shell beside the cylinder and on top of it, along the rays
        [np.outer(before, h + depth * w), np.tile(a + depth * w, (len(before), 1))],
        [np.tile(h + depth[:, None] * w, (1, len(across))), np.outer(a + depth * w, across)],
    ]
    points, cells, start = [], [], 0
    for s, t in grids:
        number = start + np.arange(s.size).reshape(s.shape)
        corners = number[:-1, :-1], number[1:, :-1], number[1:, 1:], number[:-1, 1:]
        cells.append(np.stack([corner.ravel() for corner in corners]))
        points.append(np.stack([s.ravel(), t.ravel()]))
        start += s.size
    every = np.concatenate(points, axis=1)
    unit = 1e-9 * (a + w)
    _, kept, number = np.unique(
        np.round(every / unit).astype(np.int64), axis=1, return_index=True, return_inverse=True
    )
    mesh = MeshQuad(every[:, kept], number.ravel()[np.concatenate(cells, axis=1)])
    outer = mesh.facets[:, mesh.boundary_facets()]
    s, t = mesh.p[:, outer]
    near = 1e-6 * a
    on = {
        "axis": (np.abs(t) < near).all(axis=0),
        "port1": (np.abs(s - s_lines[0]) < near).all(axis=0),
        "side": (np.abs(t - a - w) < near).all(axis=0),
        "top": (np.abs(s - h - w) < near).all(axis=0),
    }
    on["wall"] = ~np.any(list(on.values()), axis=0)
    return with_named_boundaries(mesh, {name: outer[:, chosen] for name, chosen in on.items()})
