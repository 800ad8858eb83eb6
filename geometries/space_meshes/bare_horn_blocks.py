"""Hexahedral meshes of a quarter of a rectangular horn with thin walls, in free space.

The axis is the z axis and the aperture lies at z = 0. Space ends in a box about the horn, of flat
layers in which the coordinate normal to the layer is complex: a wave that leaves decays in them and
nothing comes back, whatever its direction and frequency. The outside of the guide runs on into the
layer behind the port, and with it to infinity. Cells are drawn together towards the aperture's
edge from all sides. The walls are sheets without thickness between cells.

References
----------
W. C. Chew and W. H. Weedon, "A 3D perfectly matched medium from modified Maxwell's equations with
stretched coordinates", Microwave and Optical Technology Letters 7 (1994), 599-604 (from memory):
layers as complex coordinates.
"""

from __future__ import annotations

import itertools
from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from geometries.arrays import Array
from geometries.cells.hexahedral_mesh import Block, hexahedral_mesh
from geometries.cells.space_ports import BOX, SHEET, SpaceMesh, SpacePort
from geometries.shapes.horns import RectangularHorn
from geometries.space_meshes.choke_plans import GRADING, lines_towards

Mapped = tuple[Array, Array]
#: Thickness of the cells along the aperture's edge over its smaller half side, and over the
#: shortest wavelength at most.
_FIRST, _FIRST_OF_WAVE = 0.06, 0.02
#: Thickness of the cells at the throat, where the walls only turn, over the guide's smaller side.
_AT_THROAT = 0.12
#: Longest cell over the shortest wavelength.
_LARGEST = 0.7
#: What a refinement adds to the number of cells along a wavelength, over that number.
_FINER = 0.3
#: From the horn to the layers, over the shortest wavelength.
_GAP = 0.3
#: Thickness of the layers over the longest wavelength.
_LAYER = 0.35
#: Where the cells of a layer end, over its thickness.
_IN_LAYER = (0.0, 0.4, 1.0)
#: By how much a wave that meets a layer head-on has decayed at its end, in nepers, at the lowest
#: frequency.
NEPERS = 7.5
#: Parts of space across, outwards: before the aperture or within the walls, beside them, the layer.
_WITHIN, _BESIDE, _IN_THE_LAYER = range(3)


@dataclass(frozen=True)
class _Stretch:
    """Part of the axis: lines [m], half sides of the walls at both ends (2,) [m]."""

    lines: Array
    start: Array
    end: Array
    walled: bool = False
    layer: bool = False

    def half_sides(self, z: Array) -> Mapped:
        """Half sides (2, n) of the section and their slopes (2, n)."""
        slope = (self.end - self.start) / (self.lines[-1] - self.lines[0])
        there = self.start[:, None] + slope[:, None] * (z - self.lines[0])
        return there, np.repeat(slope[:, None], len(z), axis=1)


def bare_horn_blocks(
    horn: RectangularHorn,
    *,
    wavelengths: tuple[float, float],
    refinement: int = 0,
    feed: float,
    nepers: float = NEPERS,
) -> SpaceMesh:
    """Mesh a quarter of a horn with thin walls and the space about it.

    Parameters
    ----------
    horn : RectangularHorn
    wavelengths : (float, float)
        Shortest and longest in the band [m].
    refinement : int
        Each step adds a layer of cells at the aperture's edge and shortens the cells.
    feed : float
        Straight guide between the throat and the port [m].
    nepers : float
        Decay across the layers, see `NEPERS`.

    Returns
    -------
    SpaceMesh
        Its ``stretch`` holds the layers. The boundary `SHEET` is the walls, and `BOX` the faces,
        seen from within, at which the layers beside and before the horn start.

    Raises
    ------
    MeshingError
    """
    shortest, longest = wavelengths
    inner = 0.5 * np.array([horn.guide.broad_width, horn.guide.narrow_height])
    outer = 0.5 * np.array([horn.aperture_width, horn.aperture_height])
    first = min(_FIRST * outer.min(), _FIRST_OF_WAVE * shortest) * GRADING**refinement
    largest = _LARGEST * shortest / (1 + _FINER * refinement)
    gap, thickness = _GAP * shortest, _LAYER * longest
    box = np.maximum(inner, outer) + gap
    parts = _Parts(first, largest, gap, thickness, feed)
    across = [parts.across(half, end - half) for half, end in zip(outer, box, strict=True)]
    stretches = parts.along(horn, inner, outer)
    blocks, stretched, walls, faces = [], [], [], []
    for number, (stretch, i, j) in enumerate(_occupied(stretches)):
        sides = {"u0": "magnetic"} if i == _WITHIN else {}
        if stretch.walled and i == j == _WITHIN:
            walls += [(number, "u1"), (number, "v1")]
            sides |= {"w0": "port1"} if stretch is stretches[1] else {}
        faces += [(number, side) for side in _box_sides(stretches, stretch, i, j)]
        blocks.append(_block((across[0][i], across[1][j]), (i, j), stretch, box, sides))
        layers = np.array([i == _IN_THE_LAYER, j == _IN_THE_LAYER, stretch.layer])
        stretched.append(np.repeat(layers[:, None], np.prod(blocks[-1].cells), axis=1))
    mesh = hexahedral_mesh(blocks)
    mesh.boundaries[SHEET] = np.concatenate([mesh.facets_of(*wall) for wall in walls])
    mesh.boundaries[BOX] = np.concatenate([mesh.facets_of(*face) for face in faces])
    rate = nepers * longest / (2 * np.pi * thickness)
    description: dict[str, object] = {
        "cells": int(mesh.t.shape[1]),
        "shape": "hexahedra of a quarter",
        "geometry": "exact map",
        "finest_cell_mm": first * 1e3,
        "absorbing_layer_mm": thickness * 1e3,
    }
    one, two, three = np.eye(3)
    start = -(horn.length + feed) * three
    port = SpacePort("port1", horn.guide, start, one, two, -three, feed)
    stretch_of = np.where(np.concatenate(stretched, axis=1), 1 - 1j * rate, 1.0)
    return SpaceMesh(mesh, (port,), description, images=4, stretch=stretch_of)


@dataclass(frozen=True)
class _Parts:
    """Sizes of cells and of the space about a horn [m]."""

    first: float
    largest: float
    gap: float
    thickness: float
    feed: float

    def across(self, half_side: float, beside: float) -> tuple[Array, Array, Array]:
        """Lines across: from 0 to 1 within and beside the walls, from 0 on in the layer [m]."""
        within = lines_towards(half_side, (0.0, self.first), self.largest)
        outside = lines_towards(beside, (self.first, 0.0), self.largest)
        return within, outside, self.thickness * np.array(_IN_LAYER)

    def along(self, horn: RectangularHorn, inner: Array, outer: Array) -> list[_Stretch]:
        """Parts of the axis: the layer behind, guide, horn, space before it, the layer there."""
        layer, length = self.thickness * np.array(_IN_LAYER), horn.length
        port = -(length + self.feed)
        turn = _AT_THROAT * 2 * inner.min() if length else self.first
        guide = self.feed * lines_towards(self.feed, (turn, 0.0), self.largest)
        before = self.gap * lines_towards(self.gap, (self.first, 0.0), self.largest)
        stretches = [
            _Stretch(port - layer[::-1], inner, inner, layer=True),
            _Stretch(-length - guide[::-1], inner, inner, walled=True),
        ]
        if length:
            ends = (min(turn, 0.2 * length), min(self.first, 0.2 * length))
            lines = -length + length * lines_towards(length, ends, self.largest)
            lines[-1] = 0.0
            stretches.append(_Stretch(lines, inner, outer, walled=True))
        stretches.append(_Stretch(before, outer, outer))
        stretches.append(_Stretch(self.gap + layer, outer, outer, layer=True))
        return stretches


def _occupied(stretches: list[_Stretch]) -> Iterator[tuple[_Stretch, int, int]]:
    """Blocks: all but the guide behind its port."""
    for stretch, i, j in itertools.product(stretches, range(3), range(3)):
        if stretch is not stretches[0] or max(i, j) > _WITHIN:
            yield stretch, i, j


def _box_sides(stretches: list[_Stretch], stretch: _Stretch, i: int, j: int) -> list[str]:
    """Sides of a block at which the layers beside and before the horn start."""
    if max(i, j) == _IN_THE_LAYER or stretch is stretches[-1]:
        return []
    sides = [name for at, name in ((i, "u1"), (j, "v1")) if at == _BESIDE]
    return sides + (["w1"] if stretch is stretches[-2] else [])


def _block(
    lines: tuple[Array, Array],
    parts: tuple[int, int],
    stretch: _Stretch,
    box: Array,
    sides: dict[str, str],
) -> Block:
    """Cells of one part of space across, over one part of the axis."""

    def mapping(parameters: Array) -> Mapped:
        z = parameters[2]
        points, slopes = np.zeros((3, len(z))), np.zeros((3, 3, len(z)))
        points[2], slopes[2, 2] = z, 1.0
        walls, rates = stretch.half_sides(z)
        for d, part in enumerate(parts):
            u, wall, rate, end = parameters[d], walls[d], rates[d], box[d]
            if part == _WITHIN:
                points[d], slopes[d, d], slopes[d, 2] = u * wall, wall, u * rate
            elif part == _BESIDE:
                points[d] = wall + u * (end - wall)
                slopes[d, d], slopes[d, 2] = end - wall, (1 - u) * rate
            else:
                points[d], slopes[d, d] = end + u, 1.0
        return points, slopes

    return Block((*lines, stretch.lines), mapping, sides)
