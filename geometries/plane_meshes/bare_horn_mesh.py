"""Meshes of the half-plane of a conical horn with thin walls in free space.

The wall is a slit: the cells inside and outside share no side along it. The guide goes on for ever
behind, and all space is open: on three sides the mesh ends in a layer in which z, r or both turn
complex, z + (n - 1) depth, so that every wave that leaves decays. n does not depend on frequency.
The map is exact, inside, outside and in the layer.
Source: W. C. Chew and W. H. Weedon, Microwave and Optical Technology Letters 7, 1994, p. 599, for
the layer as stretched coordinates.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from geometries.arrays import Array, ComplexArray
from geometries.cells.graded_lines import growing, lines_between, pieces
from geometries.plane_meshes.plane_mesh import PlaneMesh, PlanePort, with_named_boundaries
from geometries.shapes.horns import ConicalHorn

_GRADING = 0.17
_LAYERS = 5
#: Layers at the throat, where the wall only turns.
_AT_THROAT = 2
#: Longest cell over the shortest wavelength.
_LARGEST = 0.75
#: Straight guide before the throat over the guide's radius.
_FEED = 1.0
#: What stands free about the horn before the layer, over the longest wavelength.
_CLEAR = 0.25
#: Thickness of the layer over the longest wavelength, and its lines over that.
_THICK, _LINES = 1.1, (0.0, 0.3, 1.0)
#: Points so near to where the layer begins, over its radius, are before it whatever round-off says.
_NEAR = 1e-9


@dataclass(frozen=True)
class BareChart:
    """The half-plane of a bare conical horn.

    Parameters
    ----------
    throat, aperture : float
        Radii [m].
    length : float
        [m]
    front, back, side : float
        Where the layer begins: beyond the aperture, behind the throat, and its radius [m].
    growth : complex
        The n by which lengths grow in the layer.
    """

    throat: float
    aperture: float
    length: float
    front: float
    back: float
    side: float
    growth: complex = 1.0

    def position(self, points: Array) -> Array:
        """Points (z, r) of the half-plane [m], (2, ...), the layer's as if it were none."""
        return np.array(self._mapped(points)[0])

    def coordinates(self, points: Array) -> ComplexArray:
        """Points (z, r) that the field is solved at, complex in the layer, (2, ...) [m]."""
        z, r = self.position(points)
        # the guide itself goes on behind as it is
        behind = np.where(points[1] > self.aperture, z + self.length + self.back, 0)
        into_z = np.maximum(z - self.front, 0) + np.minimum(behind, 0)
        more = self.growth - 1
        return np.array([z + more * into_z, r + more * np.maximum(r - self.side, 0)])

    def slopes(self, points: Array) -> ComplexArray:
        """Derivatives (2, 2, ...) of `coordinates` by s and t."""
        (z, r), slopes = self._mapped(points)
        near = _NEAR * self.side
        by_z = np.where((z > self.front + near) | self._behind(points), self.growth, 1.0)
        by_r = np.where(r > self.side + near, self.growth, 1.0)
        return np.array([[by_z * part for part in slopes[0]], [by_r * part for part in slopes[1]]])

    def weights(self, points: Array) -> tuple[ComplexArray, ComplexArray]:
        """Stiffness tensor and mass weight, for r times H about the axis; see `PlainChart`."""
        r, ((zs, zt), (rs, rt)) = self.coordinates(points)[1], self.slopes(points)
        det = zs * rt - zt * rs
        tensor = [zt**2 + rt**2, -(zs * zt + rs * rt), zs**2 + rs**2]
        return np.stack(tensor) / (det * r), det / r

    def stretch(self, points: Array) -> Array:
        """Metres of metal for each metre of mesh along the wall, (...) [-]."""
        _, ((zs, _), (rs, _)) = self._mapped(points)
        return np.asarray(np.hypot(zs, rs))

    def _behind(self, points: Array) -> Any:
        start = -self.length - self.back - _NEAR * self.side
        return (points[0] < start) & (points[1] > self.aperture)

    def _mapped(self, points: Array) -> tuple[Any, Any]:
        """Point (z, r) and its derivatives ((z_s, z_t), (r_s, r_t))."""
        s, t = points
        a = self.aperture
        slope = (a - self.throat) / max(self.length, 1e-300)
        flared = (s < 0) & (s > -self.length)
        wall = np.where(s >= 0, a, np.where(flared, a + slope * s, self.throat))
        rate = np.where(flared, slope, 0.0)
        outside = (self.side - t) / (self.side - a)
        beyond = t > self.side * (1 + _NEAR)
        r = np.where(t < a, t * wall / a, t + np.where(beyond, 0.0, (wall - a) * outside))
        r_s = np.where(t < a, t * rate / a, np.where(beyond, 0.0, rate * outside))
        r_t = np.where(t < a, wall / a, np.where(beyond, 1.0, (self.side - wall) / (self.side - a)))
        return (s + 0.0, r), ((np.ones_like(s), np.zeros_like(s)), (r_s, r_t))


def stands_free(chart: object, places: Array) -> NDArray[np.bool_]:
    """Whether places (2, ...) along z and r lie in no absorbing layer; only a bare horn has one."""
    if not isinstance(chart, BareChart):
        return np.ones(places.shape[1:], dtype=bool)
    z, r = places
    behind = (z < -chart.length - chart.back) & (r > chart.throat)
    return np.asarray(~((z > chart.front) | behind | (r > chart.side)))


def mesh_bare_horn(
    horn: ConicalHorn, wavelengths: tuple[float, float], refinement: int
) -> PlaneMesh:
    """Mesh the half-plane of a conical horn with a bare rim.

    Parameters
    ----------
    horn : ConicalHorn
    wavelengths : (float, float)
        Shortest and longest wavelength over the band [m].
    refinement : int
        0 for the coarsest mesh; each step grades further and halves the cells.

    Returns
    -------
    PlaneMesh
        With the boundaries ``port1``, ``wall`` (and the layer's end) and ``axis``.
    """
    throat, length, a = horn.guide.radius, horn.length, horn.opening_radius
    clear, thick = _CLEAR * wavelengths[1], _THICK * wavelengths[1]
    chart = BareChart(throat, a, length, clear, clear, max(a, throat) + clear)
    largest, layers = _LARGEST * wavelengths[0] / (1 + refinement), _LAYERS + refinement
    first = _GRADING**layers * min(a, throat)
    turn, feed = _GRADING ** (_AT_THROAT + refinement) * throat, _FEED * throat
    layer = _refined(thick * np.array(_LINES), refinement)
    front = np.concatenate([_graded(clear, first, largest), clear + layer[1:]])
    inside = [-_graded(feed, turn if length else first, largest)[::-1] - length]
    behind = [-length - clear - layer[:0:-1]]
    if length:
        inside.append(-length + _graded(0.5 * length, turn, largest)[1:])
        inside.append(-_graded(0.5 * length, first, largest)[-2::-1])
        behind.append(-length - np.linspace(clear, 0, pieces(clear, largest) + 1))
        behind.append(-_graded(length, first, largest)[-2::-1])
    else:
        behind.append(-_graded(clear, first, largest)[::-1])
    gap = chart.side - a
    widest = max(gap, chart.side - throat)
    across = a - _graded(a, first, largest)[::-1]
    across[0] = 0.0
    outer = _graded(gap, first, largest * gap / widest)
    outer = np.concatenate([a + outer, chart.side + layer[1:]])
    lines = (np.concatenate(inside), np.concatenate(behind), front, across, outer)
    start = np.array([lines[0][0], 0.0])
    mesh = _slit_mesh(*lines)
    description: dict[str, object] = {
        "cells": int(mesh.t.shape[1]),
        "shape": "quadrilaterals of the half-plane on the exact map, the wall a slit",
        "layers_to_edges": layers,
        "absorbing_layer_mm": thick * 1e3,
    }
    port = PlanePort("port1", start, np.array([0.0, 1.0]), a, feed)
    return PlaneMesh(mesh, chart, (port,), description)


def _graded(length: float, first: float, largest: float) -> Array:
    """Lines from 0 to `length` [m], drawn together towards 0."""
    low = growing(min(first, 0.5 * length), _GRADING, 0.6 * length, largest)
    return lines_between(length, low, np.zeros(0), largest)


def _refined(lines: Array, times: int) -> Array:
    for _ in range(times):
        lines = np.sort(np.concatenate([lines, 0.5 * (lines[1:] + lines[:-1])]))
    return lines


def _slit_mesh(inside: Array, behind: Array, front: Array, across: Array, outer: Array) -> Any:
    """Cells before the aperture, in the horn and outside it; only the first touch the others."""
    from skfem import MeshQuad

    a = across[-1]
    points, cells, start = [], [], 0
    t_front = np.concatenate([across, outer[1:]])
    for block, (s_lines, t_lines) in enumerate(
        [(front, t_front), (inside, across), (behind, outer)]
    ):
        s, t = np.meshgrid(s_lines, t_lines, indexing="ij")
        number = start + np.arange(s.size).reshape(s.shape)
        corners = number[:-1, :-1], number[1:, :-1], number[1:, 1:], number[:-1, 1:]
        cells.append(np.stack([corner.ravel() for corner in corners]))
        # the wall has points of its own on either side, but for its edge
        points.append(np.stack([s.ravel(), t.ravel(), np.where(s < 0, block, 0).ravel()]))
        start += s.size
    every = np.concatenate(points, axis=1)
    unit = np.array([[1e-9 * outer[-1]], [1e-9 * outer[-1]], [1.0]])
    _, kept, number = np.unique(
        np.round(every / unit).astype(np.int64), axis=1, return_index=True, return_inverse=True
    )
    mesh = MeshQuad(every[:2, kept], number.ravel()[np.concatenate(cells, axis=1)])
    facets = mesh.facets[:, mesh.boundary_facets()]
    s, t = mesh.p[:, facets]
    near = 1e-6 * a
    inner = (every[2, kept] == 1)[facets].all(axis=0)
    on = {
        "axis": (np.abs(t) < near).all(axis=0),
        "port1": inner & (np.abs(s - inside[0]) < near).all(axis=0),
    }
    on["wall"] = ~np.any(list(on.values()), axis=0)
    return with_named_boundaries(mesh, {name: facets[:, chosen] for name, chosen in on.items()})
