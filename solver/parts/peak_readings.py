"""The largest electric field of a solved part, read on points of its mesh."""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import NDArray

from geometries.arrays import Array, ComplexArray
from geometries.plane_meshes.bare_horn_mesh import stands_free
from solver.fem.field_samples import largest_fields, largest_of_ellipse, regular_points
from solver.parts.peak_field import edge_distance
from solver.parts.plane_fields import gradients
from solver.parts.scalar_problem import ScalarProblem, scalar_unknowns
from solver.parts.solution import Solution
from solver.parts.space_fields import space_unknowns
from solver.parts.space_solver import SpaceProblem
from solver.revolved.harmonic_fields import harmonic_fields
from solver.waves.field_vectors import wavenumber
from solver.waves.guide_modes import SPEED_OF_LIGHT
from solver.waves.plane_modes import PlaneModes

#: Points along a cell's side, where any cell might hold the peak and where it does.
_COARSE, _FINE = 4, 9
#: Cells whose coarse reading is above this part of the highest are read again.
_CLOSE = 0.9


def ratios_in_plane(solution: Solution[ScalarProblem[PlaneModes]], frequency: Array) -> Array:
    """Largest field over that of the entering wave alone, for a part solved in its plane.

    Parameters
    ----------
    solution : Solution
    frequency : (n,) array
        [Hz]

    Returns
    -------
    (n,) array

    Notes
    -----
    H-plane: the solved field is E. E-plane: it is H along a, and E lies in the plane with
    the size of its gradient times omega mu over the squared wavenumber in the plane.
    """
    modes, system = solution.problem.modes, solution.found.space
    mesh, element = system.plane_mesh.mesh, system.element
    unknowns = scalar_unknowns(solution, frequency)
    cells = np.flatnonzero(_sizes(mesh.p, mesh.t) > edge_distance(modes.guide))
    grid = regular_points(_FINE, 2, mesh.t.shape[0] == 3)
    # just inside the cell: its chart may end where the cell does
    grid = grid + 1e-6 * (1 / 3 - grid)
    if modes.plane == "H":
        padded = np.vstack([unknowns, np.zeros((1, len(frequency)))])
        local = padded[system.local[:, cells]]
        values = np.array([element.lbasis(grid, i)[0] for i in range(len(system.local))])
        size = np.abs(np.einsum("icf,iq->fcq", local, values, optimize=True))
        return np.asarray(size.max(axis=(1, 2)) / np.sqrt(2.0 / modes.width))
    points, gradient = gradients(system, unknowns, grid, cells)
    stretch = system.plane_mesh.chart.stretch(points)
    gradient[0] /= stretch[..., None]
    beta = np.sqrt(modes.wavenumber_squared(frequency))
    size = largest_of_ellipse(gradient).max(axis=(0, 1))
    return np.asarray(size * np.sqrt(modes.width) / beta)


def ratios_in_space(solution: Solution[SpaceProblem], frequency: Array) -> Array:
    """Largest field over that of the entering wave alone, for a part solved in space.

    Parameters
    ----------
    solution : Solution
    frequency : (n,) array
        Frequencies that were solved [Hz].

    Returns
    -------
    (n,) array
    """
    space = solution.found.space
    mode = solution.problem.modes[0][0]
    unknowns = np.array([space_unknowns(solution, float(f)) for f in frequency]).T
    simplex = space.mesh.t.shape[0] == 4
    shown = solution.found.mesh.plain_cells
    cells = shown[_sizes(space.mesh.p, space.mesh.t[:, shown]) > edge_distance(mode.guide)]
    coarse = largest_fields(space, unknowns, regular_points(_COARSE, 3, simplex), cells)
    found = np.empty(len(frequency))
    for i, size in enumerate(coarse):
        close = cells[size > _CLOSE * size.max()]
        fine = largest_fields(
            space, unknowns[:, i : i + 1], regular_points(_FINE, 3, simplex), close
        )
        found[i] = fine.max()
    return found / mode.peak


def ratios_in_half_plane(solution: Solution[Any], frequency: Array) -> Array:
    """Largest electric field over that of the entering wave alone, (n,).

    Notes
    -----
    The field lies in the half-plane, with the size of grad(psi) over omega epsilon r. Cells next
    to sharp edges are left out, and so is what lies within a thousandth of the axis.
    """
    modes, system = solution.problem.modes, solution.found.space
    mesh, chart = system.plane_mesh.mesh, system.plane_mesh.chart
    middle = chart.position(mesh.p[:, mesh.t].mean(axis=1))
    far = _sizes(mesh.p, mesh.t) > edge_distance(modes.guide)
    cells = np.flatnonzero(far & stands_free(chart, middle))
    x = np.linspace(1e-3, 1 - 1e-3, _FINE)
    grid = np.stack([c.ravel() for c in np.meshgrid(x, x, indexing="ij")])
    points, gradient = gradients(system, scalar_unknowns(solution, frequency), grid, cells)
    slopes = chart.slopes(points)
    gradient = np.einsum("aicq,acqf->icqf", _inverse(slopes), gradient)
    radius = chart.position(points)[1]
    far = radius > 1e-3 * modes.guide.radius
    field = np.where(far[..., None], gradient / radius[..., None], 0.0)
    largest = largest_of_ellipse(field).max(axis=(0, 1))
    return np.asarray(largest / tm01_alone(solution, frequency))


def _inverse(slopes: Array) -> Array:
    """Inverses (2, 2, ...) of matrices (2, 2, ...)."""
    return np.asarray(
        np.moveaxis(np.linalg.inv(np.moveaxis(slopes, (0, 1), (-2, -1))), (-2, -1), (0, 1))
    )


def tm01_alone(solution: Solution[Any], frequency: Array) -> Array:
    """Largest grad(psi)/r of the first mode alone, (n,)."""
    from scipy.special import j0, j1

    modes = solution.problem.modes
    kc = float(modes.transverse[0])
    r = np.linspace(0.0, modes.guide.radius, 400)
    size = modes.functions(solution.found.space.plane_mesh.ports[0], np.array([0.5 / kc]))[0, 0]
    size = size / j1(0.5)
    k = 2 * np.pi * frequency / SPEED_OF_LIGHT
    beta = np.sqrt(k**2 - kc**2)
    # E_z and E_r are a quarter period apart
    along, across = kc * np.abs(j0(kc * r)), np.multiply.outer(beta, np.abs(j1(kc * r)))
    return np.asarray(size * np.maximum(along, across).max(axis=1))


def _sizes(points: Array, cells: NDArray[np.integer]) -> Array:
    """Longest extent of each cell along an axis of coordinates [m]."""
    return np.asarray(np.ptp(points[:, cells], axis=1).max(axis=0))


def harmonic_ratios(solution: Solution[Any], frequency: Array) -> Array:
    """Largest electric field over that of the entering wave alone, (n,).

    Cells next to sharp edges are left out.
    """
    mesh = solution.found.space.plane_mesh
    size = np.ptp(mesh.mesh.p[:, mesh.mesh.t], axis=1).max(axis=0)
    middle = mesh.chart.position(mesh.mesh.p[:, mesh.mesh.t].mean(axis=1))
    guide = solution.problem.modes.guide
    cells = np.flatnonzero((size > edge_distance(guide)) & stands_free(mesh.chart, middle))
    grid = regular_points(_FINE, 2, False)
    grid = grid + 1e-3 * (0.5 - grid)
    found = []
    for f in frequency:
        electric = harmonic_fields_over_peak(solution, float(f), grid, cells)[1]
        in_plane = largest_of_ellipse(electric[:2]).max()
        found.append(max(float(in_plane), float(np.abs(electric[2]).max())))
    return np.array(found)


def harmonic_fields_over_peak(
    solution: Solution[Any], frequency: float, grid: Array, cells: Any
) -> tuple[ComplexArray, ComplexArray, ComplexArray]:
    """Places, and E and eta0 H (3, c, q) over the peak of E of the entering wave alone."""
    problem = solution.problem
    unknowns = problem.unknowns(solution.found, frequency)[:, None]
    places, electric, curl = harmonic_fields(
        solution.found.space, problem.reference, unknowns, grid, cells
    )
    across = np.linspace(0.0, problem.modes.guide.radius, 200)
    peak = np.abs(problem.modes.fields(across)[:, 0]).max()
    electric, curl = electric[..., 0] / peak, curl[..., 0] / peak
    return places, electric, 1j / wavenumber(frequency) * curl
