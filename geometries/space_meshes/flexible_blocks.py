"""Hexahedral meshes of flexible guides, whole or a stretch of them, on their exact map.

Only a layer next to the walls follows the convolutions, as thick as a few of their depths; inside
it the cells are those of a plain guide, in whose matrices few unknowns couple. What mirrors the
part has cut it: a straight piece to a quarter, a bent one to a half.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from geometries.arrays import Array
from geometries.cells.graded_lines import growing, lines_between, pieces
from geometries.cells.hexahedral_mesh import Block, hexahedral_mesh
from geometries.cells.space_ports import SpaceMesh, SpacePort
from geometries.shapes.flexibles import Flexible
from geometries.space_meshes.swept_lines import ACROSS, ALONG, CELL_ANGLE
from geometries.space_meshes.swept_maps import Mapping

#: First cell at a wall over the pitch, and thickness of a cell over that of the next: away from a
#: wall the field of the convolutions dies out as exp(-2 pi distance / pitch).
_FIRST, _GROWTH = 0.5, 1 / 3
#: Least depth of what follows the convolutions, over their own depth.
_LAYER = 1.5
#: Cells along a convolution, and depth over pitch from which on they are twice as many.
_ALONG_PITCH, _STEEP = 2, 0.5


#: Length of a cell of a row over the broad wall: what dies out over it need not be kept.
_CELL = 0.25


@dataclass(frozen=True)
class Stretch:
    """Part of a flexible guide, between planes at whole numbers of convolutions.

    Parameters
    ----------
    first, last : int
        Numbers of the planes, from 0 to the count.
    feeds : (float, float)
        Plain guide before the first and behind the last plane [m].
    """

    first: int
    last: int
    feeds: tuple[float, float] = (0.0, 0.0)


def flexible_blocks(
    part: Flexible, stretch: Stretch, *, wavelength: float, refinement: int = 0
) -> SpaceMesh:
    """Mesh a stretch of a flexible guide.

    The axis leaves plane 0 at the origin along +z, with the broad wall along x.

    Parameters
    ----------
    part : Flexible
    stretch : Stretch
    wavelength : float
        Shortest free-space wavelength in the band [m]; it bounds the cells.
    refinement : int
        Each step adds a layer at the walls and shortens the cells along the axis.

    Returns
    -------
    SpaceMesh
        The boundaries ``port1`` and ``port2`` are the two ends of the stretch, ``magnetic`` and
        ``electric`` the mirrors x = 0 and y = 0.
    """
    sides = {"u0": "magnetic"} if "x" in part.mirrors else {}
    sides |= {"v0": "electric"} if "y" in part.mirrors else {}
    u, kink_u = _across(part, part.guide.broad_width, "x", wavelength, refinement)
    v, kink_v = _across(part, part.guide.narrow_height, "y", wavelength, refinement)
    mapping = _mapping(part, kink_u, kink_v)
    runs = _along(part, stretch, wavelength, refinement)
    blocks = [
        Block((u, v, values), mapping, sides | _ends(number, len(runs)))
        for number, values in enumerate(runs)
    ]
    mesh = hexahedral_mesh(blocks)
    description: dict[str, object] = {
        "cells": int(mesh.t.shape[1]),
        "cells_along": sum(len(values) - 1 for values in runs),
        "cells_in_section": (len(u) - 1) * (len(v) - 1),
        "shape": f"hexahedra of a {'half' if part.plane else 'quarter'}",
        "geometry": "exact map",
    }
    images = 2 if part.plane else 4
    return SpaceMesh(mesh, flexible_ports(part, stretch), description, images=images)


@dataclass(frozen=True)
class Grouping:
    """How many convolutions each end and each cell of a row has, and how many cells it has."""

    end: int
    cell: int
    count: int


def grouped(part: Flexible) -> Grouping:
    """Choose the pieces of which a flexible guide is joined; a single convolution is all cell.

    Cells long enough that few fields pass from cut to cut, and ends that are no shorter: so the
    sources that find those fields are as far away as any in the part. Of equal choices the one
    with the fewest convolutions to mesh.
    """
    if part.count == 1:
        return Grouping(0, 1, 1)
    wanted = max(1, math.ceil(_CELL * part.guide.broad_width / part.pitch))
    choices = []
    for cell in range(1, wanted + 2):
        for count in range(part.count // cell + 1):
            left = part.count - cell * count
            if left >= 2 and left % 2 == 0:
                reach = min(cell, left // 2, wanted)
                choices.append((-reach, cell + left // 2, Grouping(left // 2, cell, count)))
    return min(choices, key=lambda choice: choice[:2])[2]


def _ends(number: int, count: int) -> dict[str, str]:
    first = {"w0": "port1"} if number == 0 else {}
    return first | ({"w1": "port2"} if number == count - 1 else {})


def _across(
    part: Flexible, width: float, mirror: str, wavelength: float, refinement: int
) -> tuple[Array, float]:
    """Lines across, from -1/2 or from the mirror at 0 to 1/2, and where the layer begins."""
    half = 0.5 * width
    first = _FIRST * part.pitch * _GROWTH**refinement
    layers = growing(first, _GROWTH, 0.7 * half)
    lines = lines_between(half, np.empty(0), layers, ACROSS * wavelength) / width
    deep = lines[lines <= 0.5 - _LAYER * part.convolution_depth / width]
    kink = float(deep[-1]) if deep.size else 0.0
    if mirror not in part.mirrors:
        lines = np.concatenate([-lines[:0:-1], lines])
    return lines, kink


def _along(part: Flexible, stretch: Stretch, wavelength: float, refinement: int) -> list[Array]:
    """Positions of the planes between cells of each run of cells, the feeds among them [m]."""
    pitch = part.pitch
    cells = _ALONG_PITCH * (2 if part.convolution_depth > _STEEP * pitch else 1)
    longest = min(ALONG * wavelength, CELL_ANGLE * part.mean_radius)
    cells = max(cells, pieces(pitch, longest)) * (1 + refinement)
    start, stop = stretch.first * pitch, stretch.last * pitch
    count = cells * (stretch.last - stretch.first)
    runs = [start + (stop - start) * np.arange(count + 1) / count]
    first = _FIRST * pitch * _GROWTH**refinement

    def feed(length: float) -> Array:
        graded = growing(first, _GROWTH, 0.7 * length, ALONG * wavelength)
        return lines_between(length, graded, np.empty(0), ALONG * wavelength)

    before, behind = stretch.feeds
    if before > 0:
        runs.insert(0, start - feed(before)[::-1])
    if behind > 0:
        runs.append(stop + feed(behind))
    return runs


def _mapping(part: Flexible, kink_u: float, kink_v: float) -> Mapping:
    """Map (u, v, s) to the inside of the guide: points (3, n), derivatives (3, 3, n)."""
    a, b, length = part.guide.broad_width, part.guide.narrow_height, part.axis_length

    def mapping(parameters: Array) -> tuple[Array, Array]:
        u, v, s = parameters
        inside = (s > 0) & (s < length)
        swing, slope = (np.where(inside, value, 0.0) for value in part.swing(s))
        x, x_u, x_s = _pressed(a, kink_u, u, swing, slope)
        y, y_v, y_s = _pressed(b, kink_v, v, swing, slope)
        frame, turned = _frame(part, np.clip(s, 0.0, length))
        beyond = s - np.clip(s, 0.0, length)
        centre, e_x, e_y, ahead = frame
        points = centre + beyond * ahead + x * e_x + y * e_y
        still = (s >= 0) & (s <= length)
        curl = np.where(still, x * turned[0] + y * turned[1], 0.0)
        along = ahead + x_s * e_x + y_s * e_y + curl
        return points, np.stack([x_u * e_x, y_v * e_y, along], axis=1)

    return mapping


def _pressed(
    width: float, kink: float, u: Array, swing: Array, slope: Array
) -> tuple[Array, Array, Array]:
    """Position across at the fraction u, and its derivatives by u and along the axis."""
    share = np.sign(u) * np.maximum(np.abs(u) - kink, 0.0) / (0.5 - kink)
    rising = np.where(np.abs(u) > kink, 1.0 / (0.5 - kink), 0.0)
    return width * u + swing * share, width + swing * rising, slope * share


def _frame(part: Flexible, s: Array) -> tuple[tuple[Array, ...], tuple[Array, Array]]:
    """Axis, directions across and ahead (3, n) at positions on it; how fast the first two turn."""
    zero, one = np.zeros_like(s), np.ones_like(s)
    x, y, z = (np.stack(rows) for rows in ((one, zero, zero), (zero, one, zero), (zero, zero, one)))
    none = np.zeros_like(x)
    if not part.plane:
        return (s * z, x, y, z), (none, none)
    radius = part.mean_radius
    cos, sin = np.cos(s / radius), np.sin(s / radius)
    # the axis turns away from +y (E-plane) or +x (H-plane), where the outer wall lies
    across = y if part.plane == "E" else x
    out, ahead = cos * across + sin * z, cos * z - sin * across
    # R (1 - cos) without its cancellation at a small angle
    centre = radius * sin * z - 2 * radius * np.sin(0.5 * s / radius) ** 2 * across
    turned = ahead / radius
    if part.plane == "E":
        return (centre, x, out, ahead), (none, turned)
    return (centre, out, y, ahead), (turned, none)


def placed(part: Flexible, points: Array, plane: int, mirrored: bool = False) -> Array:
    """Move points of a stretch that begins at plane 0 to where it begins at another plane.

    Parameters
    ----------
    part : Flexible
    points : (3, n) array
        [m]
    plane : int
    mirrored : bool
        The stretch runs back from that plane towards port 1.

    Returns
    -------
    (3, n) array
        [m]
    """
    (centre, x, y, ahead), _ = _frame(part, np.array([plane * part.pitch]))
    along = -points[2] if mirrored else points[2]
    return np.asarray(centre + x * points[0] + y * points[1] + ahead * along)


def flexible_ports(part: Flexible, stretch: Stretch) -> tuple[SpacePort, SpacePort]:
    """Ports at the two ends of the stretch."""
    ports = []
    for name, plane, feed, sign in (
        ("port1", stretch.first, stretch.feeds[0], -1),
        ("port2", stretch.last, stretch.feeds[1], 1),
    ):
        (centre, x, y, ahead), _ = _frame(part, np.array([plane * part.pitch]))
        outward = sign * ahead[:, 0]
        origin = centre[:, 0] + feed * outward
        ports.append(SpacePort(name, part.guide, origin, x[:, 0], y[:, 0], outward, feed))
    return ports[0], ports[1]
