"""A choke flange or a TE11 rotating joint in the shape that comes after every solver."""

from __future__ import annotations

from dataclasses import replace

from geometries.arrays import Array
from geometries.shapes.choke_flanges import ChokeFlange
from geometries.shapes.rotating_joints import RotatingJoint
from solver.parts.field_picture import FieldPicture
from solver.parts.quarter_solver import AMPLITUDE, solve_choke
from solver.parts.solved_part import SolvedPart, between_points, refuse_walls, search_record
from solver.parts.space_solver import apart
from solver.progress import Progress
from solver.waves.walls import Walls


def solved_choke(
    part: ChokeFlange | RotatingJoint,
    frequency: Array,
    s_error: float,
    walls: Walls | None,
    report: Progress | None,
) -> SolvedPart:
    """Solve a choke flange or a TE11 rotating joint in a quarter of the space.

    Parameters
    ----------
    part : ChokeFlange or RotatingJoint
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
    from solver.parts.peak_readings import ratios_in_space
    from solver.parts.space_fields import space_picture

    refuse_walls(part, walls)
    solution = solve_choke(part, frequency, s_error, report)
    problem, found = solution.problem, solution.found

    def picture(at: float) -> FieldPicture:
        whole = space_picture(solution, at)
        return replace(whole, values=whole.values / AMPLITUDE)

    return SolvedPart(
        port_modes=problem.port_modes,
        s=solution.s,
        error=found.error,
        reached=found.reached,
        method="curl-curl equation for E in a quarter of the space between two mirror planes, edge "
        f"elements of order {found.order} on hexahedra, radial line of the gap matched, "
        "reduced-model sweep",
        unknowns=found.last.model.basis.shape[0],
        **search_record(found),
        uncoupled=apart(problem, float(frequency[-1])),
        picture=picture,
        ratios=lambda at: ratios_in_space(solution, at) / AMPLITUDE,
        leaked_power=solution.leaked_power,
        leaked_error=solution.leaked_error,
        **between_points(
            problem,
            found,
            frequency,
            "m = 1" if isinstance(part, RotatingJoint) else "m = 1, 3, 5",
        ),
    )
