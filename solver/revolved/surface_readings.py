"""E and H on a surface about a bare horn, as linear readings of the unknowns.

The surface is the cylinder along which the layer begins, which runs on into the layer before and
behind, a disc before the aperture and a ring behind the throat, both where the layer begins.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import IntEnum

import numpy as np
from numpy.typing import NDArray
from scipy.sparse import coo_matrix, csr_matrix

from geometries.arrays import Array, ComplexArray
from geometries.plane_meshes.bare_horn_mesh import BareChart
from geometries.plane_meshes.plane_mesh import PlaneMesh
from solver.elements.conical_rules import gauss_jacobi
from solver.fem.scalar_field import PlaneSystem
from solver.revolved.harmonic_fields import fields_of_local

#: Points along each cell's side.
_POINTS = 14


class Part(IntEnum):
    """Parts of the surface: the cylinder, between the layers and in them, and its two ends."""

    BETWEEN = 0
    BEFORE = 1
    BEHIND = 2
    DISC = 3
    RING = 4


@dataclass(frozen=True, eq=False)
class Side:
    """One side of some cells, all of which have it on the surface.

    Parameters
    ----------
    cells : (c,) array of int
    grid : (2, q) array
        Points of the side in the reference cell.
    """

    cells: NDArray[np.integer]
    grid: Array


@dataclass(frozen=True, eq=False)
class Samples:
    """Points of the surface, those of one part after the other.

    Parameters
    ----------
    sides : tuple of Side
        Of the cylinder, the disc and the ring.
    part : (w,) array of int
        See `Part`.
    z : (w,) complex array
        Places along the axis [m].
    r : (w,) array
        Places from the axis, nowhere in the layer about the horn [m].
    step : (w,) complex array
        dz of the cylinder or dr of disc and ring, times the weight of the rule [m].
    """

    sides: tuple[Side, ...]
    part: NDArray[np.integer]
    z: ComplexArray
    r: Array
    step: ComplexArray


def samples_about(plane_mesh: PlaneMesh) -> Samples:
    """Choose the points of the surface about a bare horn."""
    mesh, chart = plane_mesh.mesh, plane_mesh.chart
    assert isinstance(chart, BareChart)
    x, weights = gauss_jacobi(_POINTS)
    one, zero = np.ones_like(x), np.zeros_like(x)
    low, high = (pick(mesh.p[:, mesh.t], axis=1) for pick in (np.min, np.max))
    near = 1e-6 * chart.side
    below = high[1] < chart.side + near
    behind = -chart.length - chart.back
    found = [
        (np.abs(high[1] - chart.side) < near, np.stack([x, one]), 0),
        (below & (np.abs(high[0] - chart.front) < near), np.stack([one, x]), 1),
        (
            below & (low[1] > chart.aperture - near) & (np.abs(low[0] - behind) < near),
            np.stack([zero, x]),
            1,
        ),
    ]
    sides, rows = [], []
    for number, (chosen, grid, axis) in enumerate(found):
        cells = np.flatnonzero(chosen)
        sides.append(Side(cells, grid))
        points = mesh._mapping().F(grid, tind=cells)
        z, r = chart.coordinates(points)
        slopes = np.einsum(
            "iacq,abcq->ibcq", chart.slopes(points), mesh._mapping().DF(grid, tind=cells)
        )
        step = slopes[0, 0] if axis == 0 else slopes[1, 1]
        part = np.full(z.shape, (Part.BETWEEN, Part.DISC, Part.RING)[number])
        if number == 0:
            part[points[0] > chart.front] = Part.BEFORE
            part[points[0] < behind] = Part.BEHIND
        rows.append([each.ravel() for each in (part, z, r, step * weights)])
    part, z, r, step = (np.concatenate(column) for column in zip(*rows, strict=True))
    # the cylinder's radius to the last digit, wherever a cell ends
    r = np.where(part < Part.DISC, chart.side, r.real)
    return Samples(tuple(sides), part.astype(np.int64), z, r, step)


def harmonic_readings(system: PlaneSystem, reference: float, samples: Samples) -> csr_matrix:
    """Rows that read E along z, r and about the axis, and its curl, (6 w, n).

    Parameters
    ----------
    system : PlaneSystem
        Of `solver.revolved.harmonic_field`.
    reference : float
        Its reference radius [m].
    samples : Samples
    """
    blocks: list[list[csr_matrix]] = [[] for _ in range(6)]
    for side in samples.sides:
        nb, c = len(system.local), len(side.cells)
        local = np.broadcast_to(np.eye(nb)[:, None, :], (nb, c, nb))
        _, electric, curl = fields_of_local(system, reference, local, side.grid, side.cells)
        for rows, block in zip([*electric, *curl], blocks, strict=True):
            block.append(_scattered(system, rows, side.cells))
    return _stacked(blocks)


def scalar_readings(system: PlaneSystem, samples: Samples) -> csr_matrix:
    """Rows that read psi/r, and its derivatives by z and r over r, (3 w, n)."""
    blocks: list[list[csr_matrix]] = [[], [], []]
    mapping, chart = system.plane_mesh.mesh._mapping(), system.plane_mesh.chart
    assert isinstance(chart, BareChart)
    for side in samples.sides:
        points = mapping.F(side.grid, tind=side.cells)
        r, slopes = chart.coordinates(points)[1], chart.slopes(points)
        inner = np.einsum("iacq,abcq->ibcq", slopes, mapping.DF(side.grid, tind=side.cells))
        (zx, zy), (rx, ry) = inner
        det = zx * ry - zy * rx
        inverse = np.array([[ry, -zy], [-rx, zx]]) / det
        shapes = [system.element.lbasis(side.grid, i) for i in range(len(system.local))]
        values = np.array([value for value, _ in shapes])
        slope = np.array([np.broadcast_to(s, (2, values.shape[1])) for _, s in shapes])
        rising = np.einsum("bacq,nbq->acqn", inverse, slope, optimize=True)
        rows = [np.broadcast_to(values.T, (*r.shape, len(values))), *rising]
        for row, block in zip(rows, blocks, strict=True):
            block.append(_scattered(system, row / r[..., None], side.cells))
    return _stacked(blocks)


def _scattered(system: PlaneSystem, rows: ComplexArray, cells: NDArray[np.integer]) -> csr_matrix:
    """Rows (c, q, nb) over each cell's own functions, as rows over all unknowns."""
    c, q, _ = rows.shape
    place = np.broadcast_to(system.local[:, cells].T[:, None, :], rows.shape)
    number = np.broadcast_to(np.arange(c * q).reshape(c, q, 1), rows.shape)
    there = place >= 0
    return coo_matrix(
        (rows[there], (number[there], place[there])), shape=(c * q, len(system.columns))
    ).tocsr()


def _stacked(blocks: list[list[csr_matrix]]) -> csr_matrix:
    from scipy.sparse import vstack

    return csr_matrix(vstack([part for block in blocks for part in block]))
