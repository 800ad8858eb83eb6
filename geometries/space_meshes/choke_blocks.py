"""Hexahedral meshes of a quarter of a joint with a gap and grooves, graded towards its edges."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np

from geometries.arrays import Array
from geometries.cells.hexahedral_mesh import Block, hexahedral_mesh
from geometries.cells.space_ports import SpaceMesh, SpacePort
from geometries.shapes.choke_flanges import ChokeFlange
from geometries.shapes.guides import RectangularGuide
from geometries.shapes.rotating_joints import RotatingJoint
from geometries.space_meshes.choke_lines import JointBox, along_feed, along_groove
from geometries.space_meshes.choke_plans import PlanPiece, opening_pieces, ring_pieces

Mirrors = tuple[str, str]

#: Mirror planes of TE10 and of TE11 with E along y.
TE10_MIRRORS: Mirrors = ("magnetic", "electric")


def choke_blocks(
    part: ChokeFlange | RotatingJoint,
    *,
    wavelength: float,
    refinement: int = 0,
    feed: float,
    mirrors: Mirrors = TE10_MIRRORS,
    box: JointBox | None = None,
) -> SpaceMesh:
    """Mesh a quarter of a joint in space.

    The guide's axis is the z axis; the gap lies between z = 0 and z = gap.

    Parameters
    ----------
    part : ChokeFlange or RotatingJoint
    wavelength : float
        Shortest wavelength in the band [m], in the densest filling; it bounds the cells.
    refinement : int
        Each step adds a layer at the edges and splits the gap's height.
    feed : float
        Straight guide between the gap and each port [m].
    mirrors : (str, str)
        What the planes x = 0 and y = 0 are, ``"magnetic"`` or ``"electric"``.
    box : JointBox, optional
        Joints that share this one's cells, each as fine as it needs; by default it stands alone.

    Returns
    -------
    SpaceMesh
        A quarter of the joint; the boundary ``open_rim`` is there unless the rim is closed.

    Raises
    ------
    MeshingError
    """
    box = box or JointBox(part, part)
    gap, first = part.gap, box.first(refinement)
    closed = part.rim == "closed"
    opening, outline = opening_pieces(part.guide, first, wavelength, refinement)
    radii = _radii(part, first, box.end)
    last = "" if closed else "open_rim"
    rings = ring_pieces(outline, radii, first, wavelength, refinement, last)
    z_feed = along_feed(feed, first, wavelength)
    z_gap = gap * box.gap_lines(wavelength, refinement)
    blocks, permittivity = [], []
    walls: dict[str, str] = dict(zip(("x0", "y0"), mirrors, strict=True))

    def add(piece: PlanPiece, z: Array, ends: dict[str, str], filling: float = 1.0) -> None:
        sides = {side: walls.get(name, name) for side, name in (piece.sides | ends).items()}
        sides = {side: name for side, name in sides.items() if name != "electric"}
        blocks.append(Block((piece.u_lines, piece.v_lines, z), piece.mapping, sides))
        permittivity.append(np.full(int(np.prod(blocks[-1].cells)), filling))

    for piece in opening:
        add(piece, -z_feed[::-1], {"w0": "port1"})
        add(piece, z_gap, {})
        add(piece, gap + z_feed, {"w1": "port2"})
    bounds = [0.0, *(radius for radius, _ in radii)]
    gasket = part.gasket_permittivity
    for piece in rings:
        inside = bounds[piece.zone - 1]
        filled = gasket > 1.0 and inside >= part.gasket_inner_radius - 1e-12
        add(piece, z_gap, {}, gasket if filled else 1.0)
        for number, groove in enumerate(part.grooves):
            if groove.inner_radius - 1e-12 <= inside < groove.outer_radius - 1e-12:
                lines = box.groove_lines(number, wavelength, refinement)
                depth = along_groove(*lines, groove.depth)
                z = gap + depth if groove.flange == 2 else -depth[::-1]
                metal = {side: name for side, name in piece.sides.items() if side != "v1"}
                add(replace(piece, sides=metal), z, {})
    mesh = hexahedral_mesh(blocks)
    description: dict[str, object] = {
        "cells": int(mesh.t.shape[1]),
        "shape": "hexahedra of a quarter",
        "geometry": "exact map",
        "finest_cell_mm": first * 1e3,
    }
    one, two, three = np.eye(3)
    ports = (
        SpacePort("port1", part.guide, -feed * three, one, two, -three, feed),
        SpacePort("port2", part.guide, (gap + feed) * three, one, two, three, feed),
    )
    return SpaceMesh(mesh, ports, description, permittivity=np.concatenate(permittivity), images=4)


def _radii(
    part: ChokeFlange | RotatingJoint, first: float, end: float
) -> list[tuple[float, float]]:
    """Outer radius of each ring up to the end, and the thickness of the cells along it."""
    circles = [r for groove in part.grooves for r in (groove.inner_radius, groove.outer_radius)]
    edges = dict.fromkeys(circles, first)
    if part.gasket_permittivity > 1.0:
        edges.setdefault(part.gasket_inner_radius, first)
    if isinstance(part.guide, RectangularGuide) and not edges:
        # a circle close about the corners, so that what follows is rings
        opening = part.opening_radius
        edges[min(1.25 * opening, math.sqrt(opening * end))] = 0.0
    edges.pop(end, None)
    return [*sorted(edges.items()), (end, 0.0)]
