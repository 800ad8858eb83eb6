"""Scattering and leakage of a rotating joint whose field does not vary about its axis.

The joint is solved in its half-plane for psi = r H_phi, exactly as a part in its plane, with an
open boundary at the rim, where the gap goes on for ever as a radial line.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from typing import Any

import numpy as np

from geometries.arrays import Array
from geometries.plane_meshes.bare_horn_mesh import stands_free
from geometries.plane_meshes.joint_mesh import mesh_joint
from geometries.plane_meshes.plane_mesh import PlaneMesh
from geometries.shapes.grooves import last_edge
from geometries.shapes.rotating_joints import RotatingJoint
from solver.fem.level_search import search_levels
from solver.parts.field_picture import FieldPicture
from solver.parts.peak_readings import harmonic_fields_over_peak, ratios_in_half_plane
from solver.parts.plane_fields import cut_cell, sampled
from solver.parts.scalar_problem import ScalarProblem, scalar_unknowns
from solver.parts.solution import Solution
from solver.parts.solved_part import SolvedPart, refuse_walls, solved_part_of
from solver.progress import Progress
from solver.waves.guide_modes import SPEED_OF_LIGHT
from solver.waves.half_plane_modes import HalfPlaneModes, half_plane_modes, half_plane_rim
from solver.waves.walls import Walls

#: Degrees tried on one mesh before it is refined.
DEGREES = (6, 7, 8, 9, 10)
REFINEMENTS = (0, 1)
#: What the innermost cells leave falls slowly with the degree.
RATIOS: Mapping[int, float] = dict.fromkeys(REFINEMENTS, 0.5)
#: Pieces along a cell's side.
_PIECES = 6
#: How far points are moved off the axis and off edges, over a cell's side.
_INWARDS = 1e-3


def half_plane_problem(
    joint: RotatingJoint, frequency: Array, s_error: float
) -> ScalarProblem[HalfPlaneModes]:
    """Set up a rotating joint in its half-plane.

    Parameters
    ----------
    joint : RotatingJoint
    frequency : (n,) array
        Ascending, above the cutoff of TM01 [Hz].
    s_error : float
        Wanted bound on the error of every S-parameter between propagating modes; the amplitude
        of what leaks is wanted five times as exactly.

    Returns
    -------
    ScalarProblem
    """
    highest = float(frequency[-1])

    def make_mesh(refinement: int) -> PlaneMesh:
        return mesh_joint(joint, SPEED_OF_LIGHT / highest, refinement)

    port, _, end = make_mesh(0).ports
    leftover = min(1e-3 * s_error, 1e-8)
    modes = half_plane_modes(joint.guide, highest, port.feed_length, leftover)
    radii = (last_edge(joint), float(end.start[1]))
    rim = half_plane_rim(joint.gap, highest, radii, leftover, end.name)
    orders, ports = dict.fromkeys(REFINEMENTS, DEGREES), len(joint.guides)
    return ScalarProblem(
        make_mesh, modes, ports, frequency, s_error, orders, RATIOS, compared=3, boundaries=(rim,)
    )


def solve_in_half_plane(
    joint: RotatingJoint, frequency: Array, s_error: float, report: Progress | None = None
) -> Solution[ScalarProblem[HalfPlaneModes]]:
    """Solve a rotating joint for TM01 until the error bar is under what was asked.

    Parameters
    ----------
    joint, frequency, s_error
        As those of `half_plane_problem`.
    report : callable, optional
        Is told in one line what is being done.

    Returns
    -------
    Solution

    Raises
    ------
    MeshingError, LinearSolveError, ProblemSizeError
    """
    problem = half_plane_problem(joint, frequency, s_error)
    found = search_levels(problem, s_error, report)
    return Solution(problem, np.asarray(frequency), found)


def solved_in_half_plane(
    joint: RotatingJoint,
    frequency: Array,
    s_error: float,
    walls: Walls | None,
    report: Progress | None,
) -> SolvedPart:
    """Solve a rotating joint in its half-plane.

    Parameters
    ----------
    joint : RotatingJoint
    frequency : (n,) array
        Ascending [Hz].
    s_error : float
    walls : Walls or None
    report : callable or None

    Returns
    -------
    SolvedPart

    Raises
    ------
    UnsupportedPartError
        For walls that lose power.
    MeshingError, LinearSolveError, ProblemSizeError
    """
    refuse_walls(joint, walls)
    solution = solve_in_half_plane(joint, frequency, s_error, report)
    order = solution.found.order
    return solved_part_of(
        solution,
        s_error,
        method="scalar Helmholtz equation for r H_phi in the half-plane (exact reduction), "
        f"hierarchical elements of degree {order}, radial line of the gap matched exactly, "
        "reduced-model sweep",
        unknowns=solution.found.space.sizes[order],
        uncoupled=_apart(joint, float(frequency[-1])),
        picture=lambda at: half_plane_picture(solution, at),
        ratios=lambda at: ratios_in_half_plane(solution, at),
        about="m = 0",
    )


def _apart(joint: RotatingJoint, highest: float) -> tuple[str, ...]:
    """Names of the modes that propagate and that symmetry about the axis keeps apart."""
    from solver.waves.guide_modes import mode_cutoffs

    modes = mode_cutoffs(joint.guide, highest)
    return tuple(mode.label for mode in modes if mode.kind == "TE" or mode.m > 0)


def half_plane_picture(solution: Solution[Any], frequency: float) -> FieldPicture:
    """H_phi in the half-plane for a TM01 wave that enters port 1, over its peak alone."""
    from solver.parts.peak_readings import tm01_alone
    from solver.parts.plane_fields import gradient_in_plane, square_grid
    from solver.waves.field_vectors import fields_about_axis, wavenumber

    system, at = solution.found.space, np.array([frequency])
    unknowns = scalar_unknowns(solution, at)[:, 0]
    points, cells, values = sampled(system, unknowns, _PIECES)
    largest = solution.problem.modes.guide.radius
    radius = np.maximum(points[1], 1e-9 * largest)
    across = np.linspace(0.0, largest, 200)
    peak = np.abs(solution.problem.modes.functions(system.plane_mesh.ports[0], across)[0]).max()
    k = wavenumber(frequency)
    # at the axis the quotient by the radius would enlarge every error
    places, gradient = gradient_in_plane(system, unknowns, square_grid(_PIECES), inwards=0.05)
    fields = fields_about_axis(values / radius, gradient, places[1], k)
    electric, magnetic = (field * k / tm01_alone(solution, at)[0] for field in fields)
    picture = FieldPicture(
        points,
        cells,
        values / radius / peak,
        frequency,
        "H about axis",
        electric,
        magnetic,
        ("z", "r"),
    )
    return _standing_free(picture, solution)


def harmonic_picture(solution: Solution[Any], frequency: float) -> FieldPicture:
    """E and H in the plane of E for a TE11 wave that enters, over its peak alone.

    Parameters
    ----------
    solution : Solution
        Of a `RevolvedProblem` of order 1.
    frequency : float
        [Hz]
    """
    system = solution.found.space
    grid, pieces = cut_cell(4, _PIECES)
    cells = np.arange(system.plane_mesh.mesh.t.shape[1])
    inside = grid + _INWARDS * (0.5 - grid)
    places, electric, magnetic = (
        each.reshape(len(each), -1)
        for each in harmonic_fields_over_peak(solution, frequency, inside, cells)
    )
    first = cells * grid.shape[1]
    triangles = (pieces[:, None, :] + first[None, :, None]).reshape(3, -1)
    none = np.zeros_like(electric[0])
    picture = FieldPicture(
        places.real,
        triangles,
        electric[1],
        frequency,
        "E across the axis",
        np.array([electric[0], electric[1], none]),
        np.array([none, none, magnetic[2]]),
        ("z", "r"),
        (np.array([none, none, electric[2]]), np.array([magnetic[0], magnetic[1], none])),
    )
    return _standing_free(picture, solution)


def _standing_free(picture: FieldPicture, solution: Solution[Any]) -> FieldPicture:
    """A picture without the triangles that lie in an absorbing layer."""
    chart = solution.found.space.plane_mesh.chart
    middles = picture.points[:, picture.cells].mean(axis=1)
    kept = picture.cells[:, stands_free(chart, middles)]
    used, number = np.unique(kept, return_inverse=True)

    def only(field: Any) -> Any:
        return None if field is None else field[..., used]

    return replace(
        picture,
        points=picture.points[:, used],
        cells=number.reshape(kept.shape),
        values=picture.values[used],
        electric=only(picture.electric),
        magnetic=only(picture.magnetic),
        turned=None if picture.turned is None else tuple(only(each) for each in picture.turned),
    )
