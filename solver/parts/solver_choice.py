"""Which way a part is solved: in its plane, in its half-plane, in a quarter, or in space."""

from __future__ import annotations

from collections.abc import Callable
from functools import singledispatch
from typing import Any

import numpy as np

from geometries.arrays import Array
from geometries.shapes.choke_flanges import ChokeFlange
from geometries.shapes.flexibles import Flexible
from geometries.shapes.horns import Horn
from geometries.shapes.loads import Load
from geometries.shapes.part import known_part
from geometries.shapes.rotating_joints import RotatingJoint
from solver.parts.solved_part import SolvedPart, solved_part_of
from solver.progress import Progress
from solver.waves.walls import Walls

Doubt = Callable[[Array], Array]


@singledispatch
def solver_for(part: Any, in_space: bool = False) -> Callable[..., SolvedPart]:
    """Choose how a part is solved: in its half-plane, in its plane, or in space.

    Joints with a gap, loads and flexible guides have one way each.

    Parameters
    ----------
    part : Part
    in_space : bool
        In space even where an exact reduction holds.

    Raises
    ------
    UnknownPartError
        For an object that is no `Part`.
    """
    plane = known_part(part).exact_plane
    return solved_in_space if in_space or plane is None else solved_in_plane


@solver_for.register
def _(part: RotatingJoint, in_space: bool = False) -> Callable[..., SolvedPart]:
    if part.mode == "TM01":
        from solver.parts.half_plane_solver import solved_in_half_plane

        return solved_in_half_plane
    return _solved_in_a_quarter()


@solver_for.register
def _(part: ChokeFlange, in_space: bool = False) -> Callable[..., SolvedPart]:
    return _solved_in_a_quarter()


@solver_for.register
def _(part: Load, in_space: bool = False) -> Callable[..., SolvedPart]:
    from solver.parts.load_solver import solved_load

    return solved_load


@solver_for.register
def _(part: Horn, in_space: bool = False) -> Callable[..., SolvedPart]:
    from solver.parts.horns import solved_horn

    return solved_horn


@solver_for.register
def _(part: Flexible, in_space: bool = False) -> Callable[..., SolvedPart]:
    from solver.parts.flexible_solver import solved_flexible

    return solved_flexible


def _solved_in_a_quarter() -> Callable[..., SolvedPart]:
    from solver.parts.quarter_solver import solved_in_quarter

    return solved_in_quarter


def solved_in_plane(
    part: Any,
    frequency: Array,
    s_error: float,
    walls: Walls | None,
    report: Progress | None,
) -> SolvedPart:
    """Solve a part by the exact reduction to its plane."""
    from solver.parts.peak_readings import ratios_in_plane
    from solver.parts.plane_fields import field_picture
    from solver.parts.plane_solver import solve_in_plane
    from solver.waves.plane_modes import kept_apart

    solution = solve_in_plane(part, frequency, s_error, report)
    problem, found, lossy = solution.problem, solution.found, None
    modes = problem.modes
    if walls is not None:
        from solver.parts.plane_losses import lossy_in_plane

        lossy = lossy_in_plane(solution, walls.conductivity)
    return solved_part_of(
        solution,
        s_error,
        method=f"scalar Helmholtz equation in the {modes.plane}-plane (exact reduction), "
        f"hierarchical elements of degree {found.order}, reduced-model sweep",
        unknowns=found.space.sizes[found.order],
        uncoupled=kept_apart(modes.guide, modes.plane, float(frequency[-1])),
        picture=lambda at: field_picture(solution, at),
        ratios=lambda at: ratios_in_plane(solution, at),
        doubt=lambda squared: problem.round_off(found, squared),
        lossy=lossy,
        second=_second_order(part, walls),
    )


def solved_in_space(
    part: Any,
    frequency: Array,
    s_error: float,
    walls: Walls | None,
    report: Progress | None,
) -> SolvedPart:
    """Solve a part by edge elements in three dimensions."""
    from solver.parts.peak_readings import ratios_in_space
    from solver.parts.space_fields import space_picture
    from solver.parts.space_parts import space_problem
    from solver.parts.space_solver import apart, solve_in_space

    problem = space_problem(part, frequency, s_error)
    if walls is not None:
        # what walls take settles later than S
        problem = problem.solved_throughout
    solution = solve_in_space(problem, frequency, s_error, report)
    found, lossy = solution.found, None
    if walls is not None:
        from solver.parts.space_losses import lossy_in_space

        lossy = lossy_in_space(solution, walls.conductivity)
    cells = "hexahedra" if found.space.mesh.t.shape[0] == 8 else "tetrahedra"
    return solved_part_of(
        solution,
        s_error,
        method="curl-curl equation for E in three dimensions, edge elements of order "
        f"{found.order} on {cells}, reduced-model sweep",
        unknowns=found.last.model.basis.shape[0],
        uncoupled=apart(problem, float(frequency[-1])),
        picture=lambda at: space_picture(solution, at),
        ratios=lambda at: ratios_in_space(solution, at),
        lossy=lossy,
        second=_second_order(part, walls),
    )


def _second_order(part: Any, walls: Walls | None) -> Doubt:
    """What a first-order surface impedance leaves out of S at frequencies [Hz]."""
    from solver.parts.plane_losses import second_order
    from solver.waves.guide_modes import entering_cutoff

    if walls is None:
        return np.zeros_like
    # what enters a part with one port runs along it and back
    ways = 2 if len(known_part(part).guides) == 1 else 1
    length, cutoff = ways * known_part(part).axis_length, entering_cutoff(part)
    return lambda frequency: second_order(frequency, walls.conductivity, length, cutoff)
