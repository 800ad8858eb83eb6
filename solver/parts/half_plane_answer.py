"""A rotating joint in the shape that comes after every solver, with its fields."""

from __future__ import annotations

import numpy as np

from geometries.arrays import Array
from geometries.shapes.rotating_joints import RotatingJoint
from solver.parts.field_picture import FieldPicture
from solver.parts.half_plane_solver import JointSolution, joint_unknowns, solve_joint
from solver.parts.peak_readings import ratios_in_joint
from solver.parts.plane_fields import sampled
from solver.parts.solved_part import SolvedPart, between_points, refuse_walls, search_record
from solver.progress import Progress
from solver.waves.walls import Walls

#: Pieces along a cell's side.
_PIECES = 6


def solved_joint(
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
    solution = solve_joint(joint, frequency, s_error, report)
    found = solution.found
    return SolvedPart(
        port_modes=(*solution.modes.port_modes(1), *solution.modes.port_modes(2)),
        s=solution.s,
        error=solution.error,
        reached=found.reached,
        method="scalar Helmholtz equation for r H_phi in the half-plane (exact reduction), "
        f"hierarchical elements of degree {found.order}, radial line of the gap matched exactly, "
        "reduced-model sweep",
        unknowns=found.space.sizes[found.order],
        **search_record(found),
        uncoupled=_apart(joint, float(frequency[-1])),
        picture=lambda at: joint_picture(solution, at),
        ratios=lambda at: ratios_in_joint(solution, at),
        leaked_power=solution.leaked_power,
        leaked_error=solution.leaked_error,
        **between_points(solution.problem, found, frequency, "m = 0"),
    )


def _apart(joint: RotatingJoint, highest: float) -> tuple[str, ...]:
    """Names of the modes that propagate and that symmetry about the axis keeps apart."""
    from solver.waves.guide_modes import mode_cutoffs

    modes = mode_cutoffs(joint.guide, highest)
    return tuple(mode.label for mode in modes if mode.kind == "TE" or mode.m > 0)


def joint_picture(solution: JointSolution, frequency: float) -> FieldPicture:
    """H_phi in the half-plane for a TM01 wave that enters port 1, over its peak alone."""
    system = solution.found.space
    unknowns = joint_unknowns(solution, np.array([frequency]))[:, 0]
    points, cells, values = sampled(system, unknowns, _PIECES)
    radius = np.maximum(points[1], 1e-9 * solution.modes.guide.radius)
    across = np.linspace(0.0, solution.modes.guide.radius, 200)
    peak = np.abs(solution.modes.functions(system.plane_mesh.ports[0], across)[0]).max()
    return FieldPicture(points, cells, values / radius / peak, frequency, "H about axis")
