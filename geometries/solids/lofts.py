"""Solids through the cross-sections of a part, one after the other along its axis."""

from __future__ import annotations

import math
from collections.abc import Sequence
from types import ModuleType
from typing import Any

import numpy as np

from geometries.arrays import Array
from geometries.shapes.dents import Dent
from geometries.shapes.transitions import Transition
from geometries.space_meshes.swept_maps import dented_map, sweep_of

#: Cross-sections along the axis, and points along a side that is not straight.
STATIONS, _POINTS = 41, 25
#: Corners of a section in halves of the two walls, counted round.
_CORNERS = np.array([[1, 1, -1, -1], [-1, 1, 1, -1]]) / 2

#: One side of a section: points (3, k) from corner to corner [m].
Side = Array


def section_sides(part: Any) -> list[list[Side]]:
    """Return the four sides of every cross-section of a swept part.

    Parameters
    ----------
    part : Bend, Twist, Taper, Dent or Transition

    Returns
    -------
    list of four (3, k) arrays for each station
        Points from corner to corner [m], counted round; the same k at every station.
    """
    if isinstance(part, Transition):
        return [_rounded_sides(part, s) for s in (0.0, part.length)]
    stations = np.linspace(0.0, part.axis_length, STATIONS)
    if isinstance(part, Dent):
        return [_dented_sides(part, s) for s in stations]
    section, _ = sweep_of(part)(stations)
    x, y = _CORNERS
    corners = (
        section.centre[:, :, None] + x * section.broad[:, :, None] + y * section.narrow[:, :, None]
    )
    return [
        [np.stack([at[:, i], at[:, (i + 1) % 4]], axis=1) for i in range(4)]
        for at in np.moveaxis(corners, 1, 0)
    ]


def rectangle_sides(width: float, height: float, z: float) -> list[Side]:
    """Return the sides of an upright rectangle about the z axis [m]."""
    x, y = _CORNERS * np.array([[width], [height]])
    corners = np.stack([x, y, np.full(4, z)])
    return [corners[:, [i, (i + 1) % 4]] for i in range(4)]


def lofted(
    gmsh: ModuleType, sections: Sequence[Sequence[Side]], ruled: bool
) -> list[tuple[int, int]]:
    """Return the solid through cross-sections, smooth along the axis.

    Parameters
    ----------
    gmsh : module
        With a session open; lengths in it are mm.
    sections : sequence of sequences of (3, k) arrays
        As of `section_sides` [m].
    ruled : bool
        Join them by straight lines.
    """
    occ = gmsh.model.occ
    wires = []
    for sides in sections:
        corners = [occ.addPoint(*(1e3 * side[:, 0])) for side in sides]
        edges = []
        for number, side in enumerate(sides):
            inner = [occ.addPoint(*(1e3 * point)) for point in side[:, 1:-1].T]
            ends = corners[number], corners[(number + 1) % len(corners)]
            edges.append(occ.addSpline([ends[0], *inner, ends[1]]) if inner else occ.addLine(*ends))
        wires.append(occ.addWire(edges, checkClosed=True))
    return list(occ.addThruSections(wires, makeSolid=True, makeRuled=ruled))


def _dented_sides(dent: Dent, station: float) -> list[Side]:
    mapping, sides = dented_map(dent), []
    dented = 1 if dent.wall == "broad" else 0
    for i in range(4):
        share = np.linspace(0.0, 1.0, _POINTS if i == dented else 2)
        u, v = (row[i] + share * (row[(i + 1) % 4] - row[i]) for row in _CORNERS)
        sides.append(mapping(np.stack([u, v, np.full_like(u, station)]))[0])
    return sides


def _rounded_sides(part: Transition, station: float) -> list[Side]:
    """Sides between a rectangle and a circle, on straight generators."""
    a, b, radius = part.guide.broad_width, part.guide.narrow_height, part.to_diameter / 2
    share, corner = station / part.length, part.corner_angle
    eta = np.linspace(-1.0, 1.0, _POINTS)
    narrow = np.stack([np.full_like(eta, a / 2), b / 2 * eta])
    broad = np.stack([-a / 2 * eta, np.full_like(eta, b / 2)])
    sides = []
    for turn in (1.0, -1.0):
        for line, angle in (
            (narrow, corner * eta),
            (broad, math.pi / 2 + (math.pi / 2 - corner) * eta),
        ):
            circle = radius * np.stack([np.cos(angle), np.sin(angle)])
            flat = turn * ((1.0 - share) * line + share * circle)
            sides.append(np.vstack([flat, np.full(flat.shape[1], station)]))
    return sides
