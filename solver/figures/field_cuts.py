"""Cuts through a field on tetrahedra."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from geometries.arrays import Array, ComplexArray
from solver.parts.field_picture import CutPlane, FieldPicture

#: A plane is moved aside by this part of the part's size, off the corners of its cells.
_ASIDE = 1e-6


@dataclass(frozen=True, eq=False)
class FieldCut:
    """A field in a plane.

    Parameters
    ----------
    points : (2, n) array
        Along the two directions of the plane [m].
    triangles : (3, t) array of int
    electric, magnetic : (3, n) complex array
        Components across and up in the plane, and along its normal.
    """

    points: Array
    triangles: NDArray[np.integer]
    electric: ComplexArray
    magnetic: ComplexArray


def cut(field: FieldPicture, plane: CutPlane) -> FieldCut | None:
    """Return the field in a plane, its mirror images included; None if the plane misses it.

    Parameters
    ----------
    field : FieldPicture
        On tetrahedra, with its vectors.
    plane : CutPlane
    """
    assert field.electric is not None and field.magnetic is not None
    normal = np.cross(plane.across, plane.up)
    size = float(np.ptp(field.points, axis=1).max())
    # a plane along a mirror is moved into what was solved
    inside = 1.0 if normal @ (field.points.mean(axis=1) - plane.origin) >= 0.0 else -1.0
    origin = plane.origin + inside * _ASIDE * size * normal
    corners, share, triangles = _sliced(normal @ (field.points - origin[:, None]), field.cells)
    if not triangles.size:
        return None

    def read(values: Any) -> Any:
        first, second = values[:, corners[0]], values[:, corners[1]]
        return np.asarray(first + share * (second - first))

    part = FieldPicture(
        read(field.points), triangles, np.zeros(len(share), complex), field.frequency, "",
        read(field.electric), read(field.magnetic), mirrors=_beside(field, normal),
    )  # fmt: skip
    whole = part.whole()
    assert whole.electric is not None and whole.magnetic is not None
    frame = np.stack([plane.across, plane.up, normal])
    return FieldCut(
        (frame @ (whole.points - plane.origin[:, None]))[:2],
        whole.cells,
        frame @ whole.electric,
        frame @ whole.magnetic,
    )


def _beside(field: FieldPicture, normal: Array) -> tuple:
    """Mirrors whose images lie in the plane beside what is cut, not behind it."""
    return tuple(mirror for mirror in field.mirrors if abs(normal[mirror.axis]) < 0.5)


def _sliced(height: Array, cells: NDArray[np.integer]) -> tuple[Any, Array, Any]:
    """Cut tetrahedra where a height over the plane is zero.

    Returns
    -------
    (2, n) array of int, (n,) array, (3, t) array of int
        Ends of each cut edge, how far along it the cut lies, and triangles of cut edges.
    """
    above = height[cells] > 0.0
    count = above.sum(axis=0)
    pairs, triangles, start = [], [], 0
    for number in (1, 2, 3):
        chosen = np.flatnonzero(count == number)
        if not chosen.size:
            continue
        # corners above first, each group in any order
        order = np.argsort(~above[:, chosen], axis=0, kind="stable")
        sorted_cells = np.take_along_axis(cells[:, chosen], order, axis=0)
        edges = {1: ((0, 1), (0, 2), (0, 3)), 2: ((0, 2), (0, 3), (1, 3), (1, 2)),
                 3: ((0, 3), (1, 3), (2, 3))}[number]  # fmt: skip
        n = len(chosen)
        pairs += [sorted_cells[list(edge)] for edge in edges]
        numbers = start + np.arange(len(edges) * n).reshape(len(edges), n)
        triangles += [numbers[:3]] if number != 2 else [numbers[[0, 1, 2]], numbers[[0, 2, 3]]]
        start += len(edges) * n
    if not pairs:
        return np.zeros((2, 0), int), np.zeros(0), np.zeros((3, 0), int)
    corners = np.concatenate(pairs, axis=1)
    low, high = height[corners]
    return corners, low / (low - high), np.concatenate(triangles, axis=1)
