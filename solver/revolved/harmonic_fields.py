"""E and H of a field that varies once about the axis, at points of its mesh."""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import NDArray

from geometries.arrays import Array, ComplexArray
from solver.elements.harmonic_quads import harmonic_tables
from solver.fem.scalar_field import PlaneSystem


def harmonic_fields(
    system: PlaneSystem,
    reference: float,
    unknowns: Any,
    grid: Array,
    cells: NDArray[np.integer],
) -> tuple[ComplexArray, ComplexArray, ComplexArray]:
    """Fields of some unknowns at points of some cells.

    Parameters
    ----------
    system : PlaneSystem
        Of `solver.revolved.harmonic_field`.
    reference : float
        Its reference radius [m].
    unknowns : (n, f) array
        One column a field.
    grid : (2, q) array
        Points of the reference cell, none of them on the axis.
    cells : (c,) array of int

    Returns
    -------
    (2, c, q) array
        Places along z and r, complex in a layer that absorbs [m].
    (3, c, q, f) complex array
        E along z and r, which goes as sin phi, and about the axis, as cos phi.
    (3, c, q, f) complex array
        The curl of E along z and r, as cos phi, and about the axis, as sin phi.
    """
    local = np.vstack([unknowns, np.zeros((1, unknowns.shape[1]))])[system.local[:, cells]]
    return fields_of_local(system, reference, local, grid, cells)


def fields_of_local(
    system: PlaneSystem,
    reference: float,
    local: Any,
    grid: Array,
    cells: NDArray[np.integer],
) -> tuple[ComplexArray, ComplexArray, ComplexArray]:
    """Fields as `harmonic_fields` gives them, of each cell's own unknowns (nb, c, f)."""
    mapping, chart = system.plane_mesh.mesh._mapping(), system.plane_mesh.chart
    points = mapping.F(grid, tind=cells)
    slopes = np.einsum(
        "ia...,ab...->ib...",
        chart.slopes(points),  # type: ignore[attr-defined]
        mapping.DF(grid, tind=cells),
    )
    places = chart.coordinates(points)  # type: ignore[attr-defined]
    (zx, zy), (rx, ry) = slopes
    det, ratio = zx * ry - zy * rx, places[1] / reference
    w, dw, u, du = harmonic_tables(system.element.p, grid)
    upright = np.einsum("iq,icf->cqf", w, local, optimize=True)
    slope = np.einsum("iaq,icf->acqf", dw, local, optimize=True)
    edges = np.einsum("iaq,icf->acqf", u, local, optimize=True)
    turn = np.einsum("iq,icf->cqf", du, local, optimize=True)
    inverse = np.array([[ry, -zy], [-rx, zx]]) / det
    # covariant components: J^-T times those of the reference cell
    plain = np.einsum("ba...,b...f->a...f", inverse, edges)
    rising = np.einsum("ba...,b...f->a...f", inverse, slope)
    crossed = (rx[..., None] * edges[1] - ry[..., None] * edges[0]) / reference
    curl = (ratio[..., None] * turn + crossed) / det[..., None]
    electric = [*(ratio[..., None] * plain + rising), upright / places[1][..., None]]
    return places, np.array(electric), np.array([-plain[1] / reference, plain[0] / reference, curl])
