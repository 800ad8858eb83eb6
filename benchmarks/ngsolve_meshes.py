"""Meshes of parts for NGSolve: boxes in a lattice, each a hexahedron or six tetrahedra.

They follow the exact map of the part and may be graded towards a sharp edge; where the part has
mirror planes, the half or the quarter is enough.
"""

from __future__ import annotations

import itertools
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from geometries import Bend, Corner, Taper, Twist
from geometries.shapes.profiles import PLAIN_PROFILES

Array = NDArray[np.float64]
Part = Bend | Corner | Taper | Twist

#: Corners of a box from its least, in the order in which the library lists them.
_BOX = ((0, 0, 0), (1, 0, 0), (1, 1, 0), (0, 1, 0), (0, 0, 1), (1, 0, 1), (1, 1, 1), (0, 1, 1))
_QUAD = ((0, 0), (1, 0), (1, 1), (0, 1))


@dataclass(frozen=True)
class Discretisation:
    """Mesh, order and solver of one attempt.

    Parameters
    ----------
    cells : (int, int, int, int)
        Cells across the broad wall, across the narrow wall, along each feed and along the part;
        for a corner: across it, not graded, in an arm, and layers towards the inner edge.
    order : int
        Order of the edge elements in NGSolve's count, in which 0 is the lowest.
    hexahedra : bool
        Each box is one hexahedron, or else six tetrahedra.
    condensed : bool
        Eliminate the inside of each cell at each frequency before factorisation.
    inverse : str
        Direct solver.
    grading : float
        Ratio of successive layers towards an edge.
    mirrored : bool
        Solve the half or the quarter that mirror planes leave.
    """

    cells: tuple[int, int, int, int]
    order: int
    hexahedra: bool = True
    condensed: bool = False
    inverse: str = "sparsecholesky"
    grading: float = 0.15
    mirrored: bool = True

    @property
    def described(self) -> dict[str, Any]:
        """As results name it."""
        return {
            "cells": "x".join(map(str, self.cells)),
            "order": self.order,
            "shape": "hexahedra" if self.hexahedra else "tetrahedra",
            "condensed": self.condensed,
            "inverse": self.inverse,
        }


@dataclass(frozen=True)
class Lattice:
    """Lines along x, y and s that bound boxes, and whether there is a mirror at x = 0 or y = 0."""

    lines: tuple[Array, Array, Array]
    mirrors: tuple[bool, bool]


def lattice_of(part: Part, feeds: tuple[float, float], choice: Discretisation) -> Lattice:
    """Boxes of a part before they are mapped; x along the broad wall and y along the narrow one.

    Parameters
    ----------
    part : Bend, Corner (E-plane, uncut, of 90 degrees), Taper or Twist
    feeds : (float, float)
        Straight guide before each port [m].
    choice : Discretisation

    Returns
    -------
    Lattice
    """
    a, b = part.guide.broad_width, part.guide.narrow_height
    nx, ny, n_feed, n_part = choice.cells
    in_plane = getattr(part, "plane", None)
    mirrors = (
        choice.mirrored and (isinstance(part, Taper) or in_plane == "E"),
        choice.mirrored and (isinstance(part, Taper) or in_plane == "H"),
    )
    x = np.linspace(0.0 if mirrors[0] else -0.5 * a, 0.5 * a, nx + 1)
    y = np.linspace(0.0 if mirrors[1] else -0.5 * b, 0.5 * b, ny + 1)
    if isinstance(part, Corner):
        near = np.concatenate([[0.0], choice.grading ** np.arange(n_part, -1.0, -1.0)])
        arm = np.linspace(b, feeds[0], n_feed + 1)[1:] if feeds[0] > b else np.array([])
        far = np.concatenate([near[1:] * min(b, feeds[0]), arm])
        return Lattice(
            (
                x,
                np.concatenate([-near[:0:-1] * b, [0.0], far]),
                np.concatenate([-far[::-1], near * b]),
            ),
            mirrors,
        )
    length = part.axis_length
    first, last = feeds
    s = [
        np.linspace(-first, 0, n_feed + 1)[:-1],
        np.linspace(0, length, n_part + 1)[:-1],
        np.linspace(length, length + last, n_feed + 1),
    ]
    return Lattice((x, y, np.concatenate(s)), mirrors)


def mesh_of(part: Part, lattice: Lattice, choice: Discretisation) -> tuple[Any, Any]:
    """Mesh of a part, deformed to the exact map at high order, and the deformation.

    The boundaries are ``wall``, ``port1``, ``port2`` and ``magnetic``.
    """
    import ngsolve as ngs

    mesh = ngs.Mesh(_boxes(part, lattice, choice.hexahedra))
    if isinstance(part, Corner):
        return mesh, None
    x, y, s = ngs.x, ngs.y, ngs.z
    moved = ngs.CoefficientFunction(_map_of(part, x, y, s)) - ngs.CoefficientFunction((x, y, s))
    shift = ngs.GridFunction(ngs.VectorH1(mesh, order=max(3, choice.order + 1)))
    shift.Set(moved, bonus_intorder=8)
    mesh.SetDeformation(shift)
    return mesh, shift


def _map_of(part: Any, x: Any, y: Any, s: Any) -> tuple[Any, Any, Any]:
    """Point of a part at the point (x, y, s) of a straight guide, as NGSolve expressions."""
    from ngsolve import IfPos, cos, sin

    if getattr(part, "profile", "constant") not in PLAIN_PROFILES:
        raise ValueError(f"{part.profile}: no map of this profile")
    length = part.axis_length
    inside = IfPos(s, IfPos(s - length, length, s), 0.0)
    beyond = s - inside
    if isinstance(part, Twist):
        turn = part.angle * inside / length
        return x * cos(turn) - y * sin(turn), x * sin(turn) + y * cos(turn), s
    if isinstance(part, Taper):
        share = inside / length
        wide = 1 + share * (part.to_guide.broad_width / part.guide.broad_width - 1)
        high = 1 + share * (part.to_guide.narrow_height / part.guide.narrow_height - 1)
        return x * wide, y * high, s
    radius = part.mean_radius
    turn = inside / radius
    out = (y if part.plane == "E" else x) + radius
    across = out * cos(turn) - beyond * IfPos(s, sin(turn), 0.0) - radius
    along = out * sin(turn) + beyond * IfPos(s, cos(turn), 1.0)
    return (x, across, along) if part.plane == "E" else (across, y, along)


def _boxes(part: Part, lattice: Lattice, hexahedra: bool) -> Any:
    """Netgen mesh of a lattice's boxes, or of six tetrahedra in each."""
    from netgen import meshing as ng

    lines = lattice.lines
    counts = [len(values) - 1 for values in lines]

    def kept(box: tuple[int, ...]) -> bool:
        if not all(0 <= i < n for i, n in zip(box, counts, strict=True)):
            return False
        _, y, s = (lines[d][i] + lines[d][i + 1] for d, i in enumerate(box))
        return not isinstance(part, Corner) or y < 0 or s > 0

    mesh = ng.Mesh(dim=3)
    points: dict[tuple[int, ...], Any] = {}

    def point(place: tuple[int, ...]) -> Any:
        if place not in points:
            at = ng.Pnt(*(float(lines[d][i]) for d, i in enumerate(place)))
            points[place] = mesh.Add(ng.MeshPoint(at))
        return points[place]

    names = ("wall", "port1", "port2", "magnetic")
    for number, name in enumerate(names, start=1):
        mesh.Add(ng.FaceDescriptor(surfnr=number, domin=1, domout=0, bc=number))
        mesh.SetBCName(number - 1, name)
    mesh.SetMaterial(1, "inside")
    boxes = [box for box in itertools.product(*map(range, counts)) if kept(box)]
    for box in boxes:
        for cell in [_BOX] if hexahedra else _tetrahedra():
            mesh.Add(ng.Element3D(1, [point(_plus(box, corner)) for corner in cell]))
        for axis, side in itertools.product(range(3), (0, 1)):
            beyond = tuple(i + (2 * side - 1) * (d == axis) for d, i in enumerate(box))
            if kept(beyond):
                continue
            name = _name_of(part, lattice, axis, side, beyond[axis] in (-1, counts[axis]))
            flat = [_with(corner, axis, side) for corner in _QUAD]
            for face in [flat] if hexahedra else [flat[:3], [flat[0], flat[2], flat[3]]]:
                nodes = [point(_plus(box, corner)) for corner in face]
                mesh.Add(ng.Element2D(names.index(name) + 1, nodes))
    return mesh


def _name_of(part: Part, lattice: Lattice, axis: int, side: int, outermost: bool) -> str:
    """Boundary that a side of a box belongs to."""
    if axis == 0 and side == 0 and lattice.mirrors[0]:
        return "magnetic"  # E of TE10 lies in the plane x = 0, and is normal to y = 0
    if outermost and axis == 2 and side == 0:
        return "port1"
    second = (1, 1) if isinstance(part, Corner) else (2, 1)
    return "port2" if outermost and (axis, side) == second else "wall"


def _tetrahedra() -> list[list[tuple[int, ...]]]:
    """Six tetrahedra along a box's diagonal, which match across boxes."""
    cells = []
    for axes in itertools.permutations(range(3)):
        corner = [0, 0, 0]
        cell = [tuple(corner)]
        for axis in axes:
            corner[axis] = 1
            cell.append(tuple(corner))
        swaps = sum(first > last for first, last in itertools.combinations(axes, 2))
        cells.append(cell if swaps % 2 else [cell[1], cell[0], *cell[2:]])
    return cells


def _plus(box: tuple[int, ...], corner: tuple[int, ...]) -> tuple[int, ...]:
    return tuple(i + j for i, j in zip(box, corner, strict=True))


def _with(corner: tuple[int, int], axis: int, side: int) -> tuple[int, ...]:
    return (*corner[:axis], side, *corner[axis:])
