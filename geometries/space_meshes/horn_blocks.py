"""Hexahedral meshes of a quarter of a horn, out to a half sphere before its wall.

The axis is the z axis and the aperture lies at z = 0. Straight before the aperture stands a prism
of the aperture's shape; from its surface rays go from the middle of the aperture to the half
sphere. Cells are drawn together towards the aperture's edge, where the field is singular.
"""

from __future__ import annotations

import math
from collections.abc import Callable

import numpy as np

from geometries.arrays import Array
from geometries.cells.hexahedral_mesh import Block, hexahedral_mesh
from geometries.cells.space_ports import HALF_SPHERE, SpaceMesh, SpacePort
from geometries.shapes.guides import CircularGuide, RectangularGuide
from geometries.shapes.horns import ConicalHorn, Horn, RectangularHorn
from geometries.space_meshes.choke_plans import (
    GRADING,
    Curve,
    PlanPiece,
    line,
    lines_towards,
    opening_pieces,
)
from geometries.space_meshes.swept_lines import ACROSS

Mapped = tuple[Array, Array]
#: What becomes of the plane x = 0; y = 0 is an electric wall.
_MIRROR = "magnetic"
#: Thickness of the cells along the aperture's edge over its smaller half side, and over the
#: shortest wavelength at most.
_FIRST, _FIRST_OF_WAVE = 0.06, 0.06
#: Thickness of the cells at the throat, where the walls only turn, over the guide's smaller side.
_AT_THROAT = 0.12
#: Longest cell over the shortest wavelength, along the rays and along the axis of the horn, where
#: errors of phase add up.
_ALONG, _IN_HORN = 0.7, 0.58
#: Longest cell across over the shortest wavelength.
_ACROSS = 0.75
#: What a refinement adds to the number of cells along a wavelength, over that number.
_FINER = 0.3
#: Length of the prism over the geometric mean of the aperture's half sides.
_PRISM = 0.6
#: Radius of the half sphere over the distance of the aperture's corner from the axis.
_SPHERE = 1.35


def sphere_about(horn: Horn) -> float:
    """Radius of the half sphere about a horn's aperture [m]."""
    return _SPHERE * horn.opening_radius


def horn_blocks(horn: Horn, *, wavelength: float, refinement: int = 0, feed: float) -> SpaceMesh:
    """Mesh a quarter of a horn whose aperture lies in a wall.

    Parameters
    ----------
    horn : RectangularHorn or ConicalHorn
    wavelength : float
        Shortest wavelength in the band [m]; it bounds the cells.
    refinement : int
        Each step adds a layer at the aperture's edge and shortens the cells.
    feed : float
        Straight guide between the throat and the port [m].

    Returns
    -------
    SpaceMesh
        With the open boundary `HALF_SPHERE`; ``magnetic`` is the plane x = 0.

    Raises
    ------
    MeshingError
    """
    half = _half_sides(horn)
    first = min(_FIRST * min(half), _FIRST_OF_WAVE * wavelength) * GRADING**refinement
    finer = wavelength / (1 + _FINER * refinement)
    largest = _ALONG * finer
    pieces, outline = _opening(horn, first, _ACROSS * finer)
    prism = _PRISM * math.sqrt(half[0] * half[1])
    sphere = sphere_about(horn)
    before = prism * lines_towards(prism, (first, 0.0), largest)
    thinnest = sphere - max(half)
    rays = lines_towards(thinnest, (first, 0.0), largest * thinnest / (sphere - prism))
    blocks = []
    for piece in pieces:
        for z, narrowed, ends in _stretches(horn, feed, first, _IN_HORN * finer):
            blocks.append(_block(piece, z, narrowed, ends))
        blocks.append(_block(piece, before, _straight, {}))
        on_top = _on_top(piece, prism)
        blocks.append(_shell(on_top, sphere, (piece.u_lines, piece.v_lines, rays), piece.sides))
    for (curve, u_lines), ends in zip(outline, ({"u0": "y0"}, {"u1": "x0"}), strict=True):
        beside = _beside(curve)
        blocks.append(_shell(beside, sphere, (u_lines, before, rays), ends))
    mesh = hexahedral_mesh(blocks)
    description: dict[str, object] = {
        "cells": int(mesh.t.shape[1]),
        "shape": "hexahedra of a quarter",
        "geometry": "exact map",
        "finest_cell_mm": first * 1e3,
        "half_sphere_mm": sphere * 1e3,
    }
    one, two, three = np.eye(3)
    start = -(horn.length + feed) * three
    port = SpacePort("port1", horn.guide, start, one, two, -three, feed)
    return SpaceMesh(mesh, (port,), description, images=4)


def _half_sides(part: Horn | RectangularGuide | CircularGuide) -> tuple[float, float]:
    """Half the width and height of an aperture, or of a guide [m]."""
    if isinstance(part, RectangularHorn):
        return 0.5 * part.aperture_width, 0.5 * part.aperture_height
    if isinstance(part, RectangularGuide):
        return 0.5 * part.broad_width, 0.5 * part.narrow_height
    radius = 0.5 * (part.aperture_diameter if isinstance(part, ConicalHorn) else part.diameter)
    return radius, radius


def _opening(
    horn: Horn, first: float, largest: float
) -> tuple[list[PlanPiece], list[tuple[Curve, Array]]]:
    """Pieces of the aperture's plan, and the two stretches of its outline with their lines."""
    if isinstance(horn, ConicalHorn):
        circle = CircularGuide(horn.aperture_diameter)
        pieces, outline = opening_pieces(circle, first, largest / ACROSS, 0)
        return pieces, [(curve, lines) for curve, _, _, lines in outline]
    a, b = _half_sides(horn)
    x, y = (lines_towards(side, (0.0, first), largest) for side in (a, b))
    sides = {"u0": "x0", "v0": "y0"}
    piece = PlanPiece(line((0, 0), (a, 0)), line((0, b), (a, b)), x, y, 0, sides)
    return [piece], [(line((a, 0), (a, b)), y), (line((a, b), (0, b)), 1 - x[::-1])]


Narrowing = Callable[[Array], tuple[Array, Array]]


def _straight(z: Array) -> tuple[Array, Array]:
    """Scale (2, n) of both sides over the aperture's, and its slope [1/m]."""
    return np.ones((2, len(z))), np.zeros((2, len(z)))


def _stretches(
    horn: Horn, feed: float, first: float, largest: float
) -> list[tuple[Array, Narrowing, dict[str, str]]]:
    """Lines along the axis, scale of the section and named ends of guide and horn."""
    length = horn.length
    inner, outer = (np.array(_half_sides(part)) for part in (horn.guide, horn))
    if length == 0:
        return [(-feed * lines_towards(feed, (first, 0.0), largest)[::-1], _straight, PORT)]
    turn = _AT_THROAT * 2 * min(inner)

    def guide(z: Array) -> tuple[Array, Array]:
        ratio = (inner / outer)[:, None]
        return np.repeat(ratio, len(z), axis=1), np.zeros((2, len(z)))

    def flare(z: Array) -> tuple[Array, Array]:
        slope = ((outer - inner) / (length * outer))[:, None]
        return 1.0 + slope * z, np.repeat(slope, len(z), axis=1)

    ends = (min(turn, 0.2 * length), min(first, 0.2 * length))
    along = -length + length * lines_towards(length, ends, largest)
    along[-1] = 0.0
    return [
        (-length - feed * lines_towards(feed, (turn, 0.0), largest)[::-1], guide, PORT),
        (along, flare, {}),
    ]


#: The side of the first stretch that is the port.
PORT = {"w0": "port1"}


def _block(piece: PlanPiece, z: Array, narrowed: Narrowing, ends: dict[str, str]) -> Block:
    """Piece of the aperture's plan swept along the axis with a scale of its sides."""

    def mapping(parameters: Array) -> Mapped:
        points, slopes = piece.mapping(parameters)
        scale, rate = narrowed(points[2])
        derivatives = slopes.copy()
        derivatives[:2, :2] *= scale[:, None]
        derivatives[:2, 2] = points[:2] * rate
        return np.concatenate([points[:2] * scale, points[2:]]), derivatives

    return Block((piece.u_lines, piece.v_lines, z), mapping, _named(piece.sides | ends))


def _on_top(piece: PlanPiece, prism: float) -> Callable[[Array, Array], Mapped]:
    """Top of the prism: points (3, n) and derivatives (3, 2, n) by u and v."""

    def surface(u: Array, v: Array) -> Mapped:
        points, slopes = piece.mapping(np.stack([u, v, np.full_like(u, prism)]))
        return points, slopes[:, :2]

    return surface


def _beside(curve: Curve) -> Callable[[Array, Array], Mapped]:
    """Side of the prism: points (3, n) and derivatives (3, 2, n) by u and z."""

    def surface(u: Array, z: Array) -> Mapped:
        plan, slope = curve(u)
        points, slopes = np.zeros((3, len(u))), np.zeros((3, 2, len(u)))
        points[:2], points[2] = plan, z
        slopes[:2, 0], slopes[2, 1] = slope, 1.0
        return points, slopes

    return surface


def _shell(
    surface: Callable[[Array, Array], Mapped],
    sphere: float,
    lines: tuple[Array, Array, Array],
    sides: dict[str, str],
) -> Block:
    """Cells along the rays from the prism's surface to the half sphere."""

    def mapping(parameters: Array) -> Mapped:
        base, slopes = surface(parameters[0], parameters[1])
        depth, far = parameters[2], np.linalg.norm(base, axis=0)
        grow = 1 + depth * (sphere / far - 1)
        turned = -depth * sphere * np.einsum("in,ijn->jn", base, slopes) / far**3
        derivatives = np.empty((3, 3, len(depth)))
        derivatives[:, :2] = slopes * grow + base[:, None] * turned
        derivatives[:, 2] = base * (sphere / far - 1)
        return base * grow, derivatives

    return Block(lines, mapping, _named(sides | {"w1": HALF_SPHERE}))


def _named(sides: dict[str, str]) -> dict[str, str]:
    """Boundary names: the plane x = 0 is a magnetic wall, and y = 0 has none."""
    named = {side: _MIRROR if name == "x0" else name for side, name in sides.items()}
    return {side: name for side, name in named.items() if name != "y0"}
