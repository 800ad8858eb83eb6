"""Meshes of the half-plane of a rotating joint: rectangles graded towards every edge.

The first coordinate runs along the axis from the plane z = 0, the second is the radius. All
edges of the metal lie on a grid of lines; the cells are the rectangles of the grid that lie
inside, so that their sides follow the metal exactly.
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise
from typing import Any

import numpy as np

from geometries.arrays import Array
from geometries.cells.graded_lines import growing, lines_between
from geometries.errors import MeshingError
from geometries.plane_meshes.plane_mesh import PlaneMesh, PlanePort, with_named_boundaries
from geometries.shapes.grooves import gap_end
from geometries.shapes.rotating_joints import RotatingJoint

_GRADING = 0.17
_LAYERS = 4
#: Straight guide before each port over the guide's radius.
_FEED = 1.0


@dataclass(frozen=True)
class RevolvedChart:
    """A half-plane that turns about the axis; fields are r times the azimuthal component."""

    def weights(self, points: Array) -> tuple[Array, Array]:
        """Stiffness tensor and mass weight 1/r [1/m]; see `PlainChart.weights`."""
        inverse = 1.0 / points[1]
        return np.stack([inverse, np.zeros_like(inverse), inverse]), inverse

    def stretch(self, points: Array) -> Array:
        """Metres of metal for each metre of mesh along a wall of the half-plane, (...) [-]."""
        return np.ones(points.shape[1:])

    def slopes(self, points: Array) -> Array:
        """Derivatives (2, 2, ...) of the half-plane's coordinates by the mesh's own [-]."""
        unit = np.eye(2).reshape(2, 2, *[1] * (points.ndim - 1))
        return np.broadcast_to(unit, (2, 2, *points.shape[1:]))

    def position(self, points: Array) -> Array:
        """Points of the half-plane [m], (2, ...)."""
        return points


@dataclass(frozen=True)
class Box:
    """A rectangle of the half-plane that is not metal.

    Parameters
    ----------
    z, r : (float, float)
        Its extent [m].
    """

    z: tuple[float, float]
    r: tuple[float, float]


def joint_boxes(joint: RotatingJoint) -> list[Box]:
    """Rectangles whose union is the inside of a joint with its feeds and its gap."""
    radius, gap = joint.guide.radius, joint.gap
    feed = _FEED * radius
    boxes = [
        Box((-feed, gap + feed), (0.0, radius)),
        Box((0.0, gap), (radius, gap_end(joint))),
    ]
    for groove in joint.grooves:
        z = (gap, gap + groove.depth) if groove.flange == 2 else (-groove.depth, 0.0)
        boxes.append(Box(z, (groove.inner_radius, groove.outer_radius)))
    return boxes


def mesh_joint(joint: RotatingJoint, wavelength: float, refinement: int) -> PlaneMesh:
    """Mesh the half-plane of a rotating joint.

    Parameters
    ----------
    joint : RotatingJoint
    wavelength : float
        Shortest wavelength over the band [m]; it bounds the cells.
    refinement : int
        0 for the coarsest mesh; each step grades further and halves the cells.

    Returns
    -------
    PlaneMesh
        With the boundaries ``port1``, ``port2``, ``rim``, ``wall`` and ``axis``; its ports are
        port 1, port 2 and the rim, at whose radius the gap goes on as a radial line.

    Raises
    ------
    MeshingError
    """
    boxes = joint_boxes(joint)
    largest = 0.75 * wavelength / (1 + refinement)
    layers = _LAYERS + refinement
    # the radii and planes on which the metal has edges that stick out
    radii = {joint.guide.radius, *(r for box in boxes[2:] for r in box.r)}
    planes = {0.0, joint.gap}
    z_lines = _graded_lines({z for box in boxes for z in box.z} | planes, planes, layers, largest)
    r_lines = _graded_lines({r for box in boxes for r in box.r}, radii, layers, largest)
    mesh = _cells_inside(boxes, z_lines, r_lines)
    radius, up = joint.guide.radius, np.array([0.0, 1.0])
    left, right, end = boxes[0].z[0], boxes[0].z[1], boxes[1].r[1]
    ports = (
        PlanePort("port1", np.array([left, 0.0]), up, radius, -left),
        PlanePort("port2", np.array([right, 0.0]), up, radius, right - joint.gap),
        PlanePort("rim", np.array([0.0, end]), np.array([1.0, 0.0]), joint.gap, 0.0),
    )
    description = {
        "cells": int(mesh.t.shape[1]),
        "shape": "rectangles of the half-plane",
        "layers_to_edges": layers,
    }
    return PlaneMesh(mesh, RevolvedChart(), ports, description)


def _graded_lines(stops: set[float], edges: set[float], layers: int, largest: float) -> Array:
    """Lines through every stop, drawn together towards the stops that are edges."""
    ordered = sorted(stops)
    pieces = [np.array([ordered[0]])]
    for low, high in pairwise(ordered):
        span, both = high - low, low in edges and high in edges
        first = _GRADING**layers * (0.5 * span if both else span)
        if both:
            half = _graded(0.5 * span, first, largest)
            offsets = np.concatenate([half, span - half[-2::-1]])
        elif low in edges:
            offsets = _graded(span, first, largest)
        elif high in edges:
            offsets = span - _graded(span, first, largest)[::-1]
        else:
            offsets = lines_between(span, np.zeros(0), np.zeros(0), largest)
        line = low + offsets[1:]
        line[-1] = high
        pieces.append(line)
    return np.concatenate(pieces)


def _graded(length: float, first: float, largest: float) -> Array:
    """Points from 0 to `length`, steps growing from `first` by 1/grading up to `largest`."""
    low = growing(first, _GRADING, 0.7 * length, largest)
    return lines_between(length, low, np.zeros(0), largest)


def _cells_inside(boxes: list[Box], z_lines: Array, r_lines: Array) -> Any:
    from skfem import MeshQuad

    z, r = (0.5 * (lines[1:] + lines[:-1]) for lines in (z_lines, r_lines))
    inside = np.zeros((len(z), len(r)), dtype=bool)
    for box in boxes:
        inside |= np.outer((box.z[0] < z) & (z < box.z[1]), (box.r[0] < r) & (r < box.r[1]))
    if not inside.any():
        raise MeshingError("the joint has no inside")
    i, j = np.nonzero(inside)
    rows = len(r_lines)
    corners = np.stack([i * rows + j, (i + 1) * rows + j, (i + 1) * rows + j + 1, i * rows + j + 1])
    used, cells = np.unique(corners, return_inverse=True)
    points = np.stack([z_lines[used // rows], r_lines[used % rows]])
    mesh = MeshQuad(points, cells.reshape(4, -1))
    outer = mesh.facets[:, mesh.boundary_facets()]
    middle = mesh.p[:, outer].mean(axis=1)
    ends, radius = boxes[0].z, boxes[0].r[1]
    on = {
        "axis": middle[1] == 0.0,
        "port1": (middle[0] == ends[0]) & (middle[1] < radius),
        "port2": (middle[0] == ends[1]) & (middle[1] < radius),
        "rim": middle[1] == boxes[1].r[1],
    }
    on["wall"] = ~np.any(list(on.values()), axis=0)
    return with_named_boundaries(mesh, {name: outer[:, chosen] for name, chosen in on.items()})
