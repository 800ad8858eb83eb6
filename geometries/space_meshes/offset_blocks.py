"""Hexahedral meshes of offsets that do not turn, graded towards the edges of the opening."""

from __future__ import annotations

from itertools import pairwise

import numpy as np

from geometries.arrays import Array
from geometries.cells.graded_lines import pieces
from geometries.cells.hexahedral_mesh import Block, hexahedral_mesh
from geometries.cells.space_ports import SpaceMesh, SpacePort
from geometries.errors import MeshingError
from geometries.shapes.offsets import Offset
from geometries.space_meshes.swept_lines import ACROSS, ALONG, graded_lines

#: Layers towards the opening's edges on the coarsest mesh, for one shift and for two.
_LAYERS = {1: 4, 2: 1}
#: A smaller step over the broad wall, whose reflection is of its square, is left out.
_LEAST_STEP = 1e-6


def offset_blocks(
    offset: Offset, *, wavelength: float, refinement: int = 0, feeds: tuple[float, float]
) -> SpaceMesh:
    """Mesh an offset without turn in space.

    The joint is the plane z = 0, with the first guide's axis at the origin along +z, its broad
    wall along x and its narrow wall along y.

    Parameters
    ----------
    offset : Offset
    wavelength : float
        Shortest free-space wavelength in the band [m]; it bounds the cells.
    refinement : int
        Each step adds a layer at the edges; the order of the elements does the rest.
    feeds : (float, float)
        Straight guide between the joint and each port [m].

    Returns
    -------
    SpaceMesh

    Raises
    ------
    MeshingError
        For an offset that turns.
    """
    if offset.turn:
        raise MeshingError("an offset that turns cannot be cut into blocks")
    sizes = (offset.guide.broad_width, offset.guide.narrow_height)
    shifts = [
        0.0 if abs(shift) < _LEAST_STEP * sizes[0] else shift
        for shift in (offset.shift_x, offset.shift_y)
    ]
    layers = _LAYERS[2 if all(shifts) else 1] + refinement
    largest = ACROSS * wavelength
    across = [
        _pieces(size, shift, layers, largest) for size, shift in zip(sizes, shifts, strict=True)
    ]
    before, behind = (
        graded_lines(feed, min(feed, sizes[1]), (layers, 0), ALONG * wavelength) for feed in feeds
    )
    blocks = []
    for guide, (z, side) in enumerate(((-before[::-1], "w0"), (behind, "w1"))):
        for x in across[0][guide]:
            for y in across[1][guide]:
                blocks.append(Block((x, y, z), _identity, {side: f"port{guide + 1}"}))
    mesh = hexahedral_mesh(blocks)
    one, two, three = np.eye(3)
    away = np.array([*shifts, feeds[1]])
    ports = (
        SpacePort("port1", offset.guide, -feeds[0] * three, one, two, -three, feeds[0]),
        SpacePort("port2", offset.guide, away, one, two, three, feeds[1]),
    )
    description: dict[str, object] = {
        "cells": int(mesh.t.shape[1]),
        "shape": "hexahedra",
        "geometry": "exact map",
        "layers_at_edges": layers,
    }
    return SpaceMesh(mesh, ports, description)


def _pieces(
    size: float, shift: float, layers: int, largest: float
) -> tuple[list[Array], list[Array]]:
    """Lines across the stretches of the first and of the second guide along one wall.

    Both guides have the stretch of the opening in common; cells shrink towards its two ends.
    """
    half = 0.5 * size
    if not shift:
        count = pieces(size, largest)
        lines = [np.linspace(-half, half, count + 1)]
        return lines, lines
    ends = sorted((-half, half, shift - half, shift + half))
    stretches = []
    for (low, high), at in zip(
        pairwise(ends), ((0, layers), (layers, layers), (layers, 0)), strict=True
    ):
        stretches.append(low + graded_lines(high - low, high - low, at, largest))
        stretches[-1][-1] = high
    lower, upper = stretches[:2], stretches[1:]
    return (lower, upper) if shift > 0 else (upper, lower)


def _identity(parameters: Array) -> tuple[Array, Array]:
    return parameters, np.repeat(np.eye(3)[:, :, None], parameters.shape[1], axis=2)
