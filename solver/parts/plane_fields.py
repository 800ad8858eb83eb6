"""Pictures of the field in a part solved in its plane."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from geometries.arrays import Array, ComplexArray, Numbers
from solver.fem.scalar_field import PlaneSystem
from solver.parts.field_picture import FieldPicture
from solver.parts.scalar_problem import ScalarProblem, scalar_unknowns
from solver.parts.solution import Solution
from solver.waves.field_vectors import fields_of_e, fields_of_h, wavenumber
from solver.waves.plane_modes import PlaneModes

#: Pieces along a cell's side.
_PIECES = {3: 3, 4: 8}
#: Points of a cell are moved so far inwards where a gradient is read: it may jump at its sides.
_INWARDS = 1e-3
#: What the coordinates of a picture are, by the plane.
_IN_PLANE = {"E": ("z", "y"), "H": ("z", "x")}


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
    grid, _ = cut_cell(corners, _PIECES[corners])
    (_, gradient), k = gradient_in_plane(system, unknowns / peak, grid), wavenumber(frequency)
    if modes.plane == "H":
        electric, magnetic = fields_of_e(values, gradient, k)
        quantity, axes = "E along b", _IN_PLANE["H"]
    else:
        # the entering wave has E over eta0 H as k over the wavenumber in the plane
        transverse = float(np.sqrt(modes.wavenumber_squared(np.array([frequency]))[0]))
        fields = fields_of_h(values, gradient, transverse, k)
        electric, magnetic = (field * transverse / k for field in fields)
        quantity, axes = "H along a", _IN_PLANE["E"]
    return FieldPicture(points, cells, values, frequency, quantity, electric, magnetic, axes)


def sampled(
    system: PlaneSystem, unknowns: ComplexArray, count: int
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
    system: PlaneSystem,
    unknowns: ComplexArray,
    grid: Array,
    cells: NDArray[np.integer],
) -> tuple[Array, ComplexArray]:
    """Points and gradients of fields in some cells, by the mesh's own coordinates.

    Parameters
    ----------
    system : PlaneSystem
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


def gradient_in_plane(
    system: PlaneSystem, unknowns: ComplexArray, grid: Array, inwards: float = _INWARDS
) -> tuple[Array, ComplexArray]:
    """Points (2, c * q) and gradients there of a scalar field, by the metal's coordinates.

    Parameters
    ----------
    system : PlaneSystem
    unknowns : (n,) complex array
    grid : (2, q) array
        Points of the reference cell.
    inwards : float
        By which part of the way to the middle of the cell they are moved.
    """
    chart, mesh = system.plane_mesh.chart, system.plane_mesh.mesh
    middle = grid.mean(axis=1, keepdims=True)
    inside = grid + inwards * (middle - grid)
    cells = np.arange(mesh.t.shape[1])
    points, slope = gradients(system, unknowns[:, None], inside, cells)
    step = 1e-7 * float(np.ptp(mesh.p))
    along = _derivative(chart, points, np.array([step, 0.0]))
    across = _derivative(chart, points, np.array([0.0, step]))
    determinant = along[0] * across[1] - along[1] * across[0]
    s, t = slope[..., 0]
    gradient = np.stack(
        [(across[1] * s - along[1] * t) / determinant, (along[0] * t - across[0] * s) / determinant]
    )
    return chart.position(points).reshape(2, -1), np.asarray(gradient.reshape(2, -1))


def _derivative(chart: object, points: Array, step: Array) -> Array:
    """Derivative (2, ...) of the chart's places along a step of its coordinates."""
    position = chart.position  # type: ignore[attr-defined]
    shift = step.reshape(2, *[1] * (points.ndim - 1))
    return np.asarray((position(points + shift) - position(points - shift)) / (2 * step.sum()))


def square_grid(pieces: int) -> Array:
    """Points (2, q) at which `sampled` reads a four-sided cell."""
    return cut_cell(4, pieces)[0]


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
