"""Hexahedral meshes of corners in space, graded towards every edge of a broken wall.

In its plane a corner is cut into quadrilaterals that meet at the inner edge; each is the bilinear
image of a square and is drawn out straight across the plane.  Cells shrink geometrically towards
the inner edge and towards the edges of the cut.
"""

from __future__ import annotations

from collections.abc import Callable

import numpy as np

from geometries.arrays import Array
from geometries.cells.graded_lines import pieces
from geometries.cells.hexahedral_mesh import Block, hexahedral_mesh
from geometries.cells.space_ports import SpaceMesh, SpacePort
from geometries.shapes.corners import Corner
from geometries.space_meshes.swept_lines import ACROSS, ALONG, graded_lines

Quad = tuple[Array, Array, Array, Array]

#: Layers towards the inner edge on the coarsest mesh.
_LAYERS = 4


def corner_blocks(
    corner: Corner, *, wavelength: float, refinement: int = 0, feed: float
) -> SpaceMesh:
    """Mesh a corner in space.

    The centre of the first reference plane lies at the origin, the axis leaves it along +z, with
    the broad wall along x and the narrow wall along y; the corner turns towards +y (E-plane) or
    +x (H-plane).

    Parameters
    ----------
    corner : Corner
    wavelength : float
        Shortest free-space wavelength in the band [m]; it bounds the cells.
    refinement : int
        Each step adds two layers at the edges; the order of the elements does the rest.
    feed : float
        Straight guide between the metal that turns and each port [m].

    Returns
    -------
    SpaceMesh

    Raises
    ------
    MeshingError
    """
    width = corner.width_in_plane
    back = 0.0 if not corner.cut else max(0.3 * width, corner.overhang)
    whole = feed + back
    quads = _cut_quads(corner, back, whole) if corner.cut else _square_quads(corner, whole)
    inner, outer = _LAYERS + 2 * refinement, _outer_layers(corner, refinement)
    largest = ALONG * wavelength
    across = max(_side(quad, 1, 2) for quad, _ in quads.values())
    turn = max(
        _side(quad, k, k + 1) for quad, name in quads.values() if name == "turn" for k in (0, 2)
    )
    lines = {
        "arm": graded_lines(1.0, 1.0, (0, inner), largest / whole),
        "across": graded_lines(1.0, 1.0, (inner, outer), largest / across),
        "turn": graded_lines(1.0, 1.0, (outer, inner), largest / turn),
    }
    if not corner.cut:
        across = max(across, turn)
        lines["across"] = graded_lines(1.0, 1.0, (inner, outer), largest / across)
        lines["turn"] = lines["across"]
    third = corner.guide.broad_width if corner.plane == "E" else corner.guide.narrow_height
    count = pieces(third, ACROSS * wavelength)
    through = np.linspace(-0.5, 0.5, count + 1) * third
    blocks = []
    for name, (quad, first) in quads.items():
        sides = {"u0": "port1"} if name == "arm1" else {"u0": "port2"} if name == "arm2" else {}
        breaks = (lines[first], lines["across"], through)
        blocks.append(Block(breaks, _mapping(quad, corner.plane, width), sides))
    mesh = hexahedral_mesh(blocks)
    description: dict[str, object] = {
        "cells": int(mesh.t.shape[1]),
        "shape": "hexahedra",
        "geometry": "exact map",
        "layers_at_edges": inner,
    }
    return SpaceMesh(mesh, _ports(corner, whole), description)


def _side(quad: Quad, first: int, second: int) -> float:
    return float(np.linalg.norm(quad[second % 4] - quad[first]))


def _outer_layers(corner: Corner, refinement: int) -> int:
    """Layers towards the outer edges, which are blunt; a square right angle is no singularity."""
    if not corner.cut and abs(corner.angle - 0.5 * np.pi) < 1e-9:
        return 0
    return 1 + refinement


def _square_quads(corner: Corner, whole: float) -> dict[str, tuple[Quad, str]]:
    """Two arms and the kite between the reference planes; u runs from the port, v outwards."""
    width = corner.width_in_plane
    forward, outward = _second_arm(corner)
    inner, lower = np.zeros(2), np.array([0.0, -width])
    upper = width * outward
    outer = np.array([corner.outer_arm, -width])
    start = np.array([-whole, 0.0])
    return {
        "arm1": ((start, inner, lower, start + lower), "arm"),
        "arm2": ((whole * forward, inner, upper, whole * forward + upper), "arm"),
        # u from the inner edge along the second reference plane, v along the first
        "turn": ((inner, upper, outer, lower), "turn"),
    }


def _cut_quads(corner: Corner, back: float, whole: float) -> dict[str, tuple[Quad, str]]:
    """Two arms, and a quadrilateral on either side of the mirror line."""
    width = corner.width_in_plane
    forward, outward = _second_arm(corner)
    lower, upper = np.array([0.0, -width]), width * outward
    first = np.array([corner.outer_arm - corner.cut, -width])
    second = np.array([corner.outer_arm, -width]) + corner.cut * forward
    middle, inner = 0.5 * (first + second), np.zeros(2)
    start, end = np.array([-whole, 0.0]), whole * forward
    return {
        "arm1": ((start, np.array([-back, 0.0]), first, start + lower), "arm"),
        "arm2": ((end, back * forward, second, end + upper), "arm"),
        "turn1": ((np.array([-back, 0.0]), inner, middle, first), "turn"),
        "turn2": ((back * forward, inner, middle, second), "turn"),
    }


def _second_arm(corner: Corner) -> tuple[Array, Array]:
    """Directions (2,) along the second arm, away from the corner, and to its outer wall."""
    sin, cos = np.sin(corner.angle), np.cos(corner.angle)
    return np.array([cos, sin]), np.array([sin, -cos])


def _mapping(quad: Quad, plane: str, width: float) -> Callable[[Array], tuple[Array, Array]]:
    """Map of (u, v) in the unit square and the third coordinate [m] to space."""
    p00, p10, p11, p01 = (p[:, None] for p in quad)

    def mapping(parameters: Array) -> tuple[Array, Array]:
        u, v, third = parameters
        flat = p00 * (1 - u) * (1 - v) + p10 * u * (1 - v) + p11 * u * v + p01 * (1 - u) * v
        by_u = (p10 - p00) * (1 - v) + (p11 - p01) * v
        by_v = (p01 - p00) * (1 - u) + (p11 - p10) * u
        points, slopes = np.zeros((3, len(u))), np.zeros((3, 3, len(u)))
        turned, across = (1, 0) if plane == "E" else (0, 1)
        points[2], points[turned], points[across] = flat[0], flat[1] + 0.5 * width, third
        slopes[across, 2] = 1.0
        for parameter, slope in enumerate((by_u, by_v)):
            slopes[2, parameter], slopes[turned, parameter] = slope
        return points, slopes

    return mapping


def _ports(corner: Corner, whole: float) -> tuple[SpacePort, SpacePort]:
    width = corner.width_in_plane
    forward, outward = _second_arm(corner)
    ends = np.zeros((2, 3))
    ends[0, 2] = -whole
    turned = 1 if corner.plane == "E" else 0
    centre = whole * forward + 0.5 * width * outward
    ends[1, 2], ends[1, turned] = centre[0], centre[1] + 0.5 * width
    axis = np.zeros(3)
    axis[2], axis[turned] = forward
    still = np.eye(3)[1 - turned]
    moving = np.zeros(3)  # the wall in the plane, turned with the axis
    moving[2], moving[turned] = -forward[1], forward[0]
    x, y = (still, moving) if corner.plane == "E" else (moving, still)
    one, two, three = np.eye(3)
    return (
        SpacePort("port1", corner.guide, ends[0], one, two, -three, whole),
        SpacePort("port2", corner.guide, ends[1], x, y, axis, whole),
    )
