"""Pictures of the field in a part solved in its plane."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from geometries.arrays import Array, ComplexArray, Numbers
from solver.fem.scalar_field import ScalarSystem
from solver.parts.field_picture import FieldPicture
from solver.parts.scalar_problem import ScalarProblem, scalar_unknowns
from solver.parts.solution import Solution
from solver.waves.plane_modes import PlaneModes

#: Pieces along a cell's side.
_PIECES = {3: 3, 4: 8}


def field_picture(solution: Solution[ScalarProblem[PlaneModes]], frequency: float) -> FieldPicture:
    """Field for a TE10 wave that enters port 1, over the peak of that wave alone.

    Parameters
    ----------
    solution : Solution
    frequency : float
        [Hz]

    Returns
    -------
    FieldPicture
        E along b for an H-plane part, H along a for an E-plane part.
    """
    modes, system = solution.problem.modes, solution.found.space
    unknowns = scalar_unknowns(solution, np.array([frequency]))[:, 0]
    across = np.linspace(0.0, modes.width, 65)
    peak = np.abs(modes.functions(system.plane_mesh.ports[0], across)[0]).max()
    corners = system.plane_mesh.mesh.t.shape[0]
    points, cells, values = sampled(system, unknowns / peak, _PIECES[corners])
    quantity = "E along b" if modes.plane == "H" else "H along a"
    return FieldPicture(points, cells, values, frequency, quantity)


def sampled(
    system: ScalarSystem, unknowns: ComplexArray, count: int
) -> tuple[Array, Numbers, ComplexArray]:
    """Points (2, n), triangles (3, t) and values (n,): each cell cut into small triangles.

    `count` is the number of pieces along a cell's side.
    """
    mesh, element = system.plane_mesh.mesh, system.element
    grid, pieces = cut_cell(mesh.t.shape[0], count)
    table = np.array([element.lbasis(grid, i)[0] for i in range(len(system.local))])
    padded = np.append(unknowns, 0.0)
    values = padded[system.local].T @ table
    points = system.plane_mesh.chart.position(mesh._mapping().F(grid))
    first = np.arange(mesh.t.shape[1]) * grid.shape[1]
    cells = (pieces[:, None, :] + first[None, :, None]).reshape(3, -1)
    return points.reshape(2, -1), cells, values.ravel()


def gradients(
    system: ScalarSystem,
    unknowns: ComplexArray,
    grid: Array,
    cells: NDArray[np.integer],
) -> tuple[Array, ComplexArray]:
    """Points and gradients of fields in some cells, by the mesh's own coordinates.

    Parameters
    ----------
    system : ScalarSystem
    unknowns : (n, f) complex array
        One column a field.
    grid : (2, q) array
        Points of the reference cell.
    cells : (c,) array of int

    Returns
    -------
    (2, c, q) array, (2, c, q, f) complex array
    """
    padded = np.vstack([unknowns, np.zeros((1, unknowns.shape[1]))])
    local = padded[system.local[:, cells]]
    slopes = [system.element.lbasis(grid, i)[1] for i in range(len(system.local))]
    slope = np.broadcast_to(np.array(slopes), (len(slopes), 2, grid.shape[1]))
    mapping = system.plane_mesh.mesh._mapping()
    inverse = mapping.invDF(grid, tind=cells)
    reference = np.einsum("icf,iaq->acqf", local, slope, optimize=True)
    gradient = np.einsum("aicq,acqf->icqf", inverse, reference, optimize=True)
    return mapping.F(grid, tind=cells), gradient


def cut_cell(corners: int, pieces: int) -> tuple[Array, Numbers]:
    """Points on a regular grid of the reference cell, and its small triangles."""
    i, j = np.meshgrid(np.arange(pieces + 1), np.arange(pieces + 1), indexing="ij")
    inside = i + j <= pieces if corners == 3 else np.full(i.shape, True)
    number = np.full(i.shape, -1)
    number[inside] = np.arange(inside.sum())
    lower = [number[:-1, :-1], number[1:, :-1], number[:-1, 1:]]
    upper = [number[1:, 1:], number[:-1, 1:], number[1:, :-1]]
    triangles = np.concatenate([np.stack([c.ravel() for c in half]) for half in (lower, upper)], 1)
    kept = (triangles >= 0).all(axis=0)
    return np.stack([i[inside], j[inside]]) / pieces, triangles[:, kept]
