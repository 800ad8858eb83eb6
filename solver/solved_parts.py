"""A part solved in its plane or in space, in one shape for what comes after."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from geometries.bends import Bend
from geometries.corners import Corner
from geometries.guides import RectangularGuide
from geometries.offsets import Offset
from geometries.straights import Straight
from solver.assessment import FieldPicture
from solver.errors import UnsupportedPartError
from solver.level_search import LevelResult, Report
from solver.scattering import PortMode, ScatteringMatrix
from solver.trapped_resonances import Resonance
from solver.walls import Walls


@dataclass(frozen=True, eq=False)
class SolvedPart:
    """Scattering of a part among all its port modes, and how it was found.

    Parameters
    ----------
    port_modes : tuple of PortMode
        All modes, evanescent ones included, those of port 1 first.
    s : (n, m, m) complex array
    error : (n,) array
    reached : bool
        Whether the bar is under what was asked.
    method : str
    unknowns : int
    mesh : dict
    factorisations : int
    seconds : dict
    steps : tuple of dict
    uncoupled : tuple of str
        Modes that propagate and that symmetry keeps apart.
    picture : callable
        Gives the field at a frequency [Hz].
    ratios : callable
        Gives the largest electric field over that of the entering wave alone, at frequencies
        (n,) [Hz] among those solved.
    leaked_power, leaked_error : (n,) array or None
        Power past the rim over the power that enters, and its bar; None for a closed part.
    resonances : callable
        Gives the trapped resonances in the band that the entering mode can drive.
    """

    port_modes: tuple[PortMode, ...]
    s: NDArray[np.complex128]
    error: NDArray[np.float64]
    reached: bool
    method: str
    unknowns: int
    mesh: dict[str, Any]
    factorisations: int
    seconds: dict[str, float]
    steps: tuple[dict[str, Any], ...]
    uncoupled: tuple[str, ...]
    picture: Callable[[float], FieldPicture]
    ratios: Callable[[NDArray[np.float64]], NDArray[np.float64]]
    leaked_power: NDArray[np.float64] | None = None
    leaked_error: NDArray[np.float64] | None = None
    resonances: Callable[[], tuple[Resonance, ...]] = tuple


def search_record(found: LevelResult) -> dict[str, Any]:
    """Return how a search over levels went, by the names of `SolvedPart`'s fields."""
    return {
        "mesh": dict(found.mesh.description),
        "factorisations": found.factorisations,
        "seconds": found.seconds,
        "steps": found.steps,
    }


def refuse_walls(part: Any, walls: Walls | None) -> None:
    """Refuse walls that lose power in a part whose loss is not computed.

    Raises
    ------
    UnsupportedPartError
    """
    if walls is not None:
        raise UnsupportedPartError(
            f"wall loss of a {part.kind} is not computed: leave out the table walls"
        )


def reduces_to_a_plane(part: Any) -> bool:
    """Whether the exact reduction to two dimensions holds for a part."""
    if not isinstance(getattr(part, "guide", None), RectangularGuide):
        return False
    if isinstance(part, Offset):
        return part.plane is not None
    return isinstance(part, Straight | Bend | Corner)


def solver_for(part: Any, in_space: bool = False) -> Callable[..., SolvedPart]:
    """Choose how a part is solved: in its half-plane, in its plane, or in space.

    Joints with a gap have one way each.

    Parameters
    ----------
    part : object
    in_space : bool
        In space even where an exact reduction holds.
    """
    if getattr(part, "mode", "") == "TM01":
        from solver.joint_answer import solved_joint

        return solved_joint
    if part.kind in ("choke-flange", "rotating-joint"):
        from solver.choke_answer import solved_choke

        return solved_choke
    return solved_in_space if in_space or not reduces_to_a_plane(part) else solved_in_plane


def solved_in_plane(
    part: Any,
    frequency: NDArray[np.float64],
    s_error: float,
    walls: Walls | None,
    report: Report | None,
) -> SolvedPart:
    """Solve a part by the exact reduction to its plane."""
    from solver.peak_readings import ratios_in_plane
    from solver.plane_fields import field_picture
    from solver.plane_modes import kept_apart
    from solver.plane_solver import solve_in_plane

    solution = solve_in_plane(part, frequency, s_error, report)
    s, error, modes = solution.s, solution.error, solution.modes
    if walls is not None:
        from solver.plane_losses import lossy_scattering, second_order

        s = lossy_scattering(solution, walls.conductivity)
        error = error + second_order(frequency, walls.conductivity, _length(part))
    return SolvedPart(
        port_modes=(*modes.port_modes(1), *modes.port_modes(2)),
        s=s,
        error=error,
        reached=bool(error.max() <= s_error),
        method=f"scalar Helmholtz equation in the {modes.plane}-plane (exact reduction), "
        f"hierarchical elements of degree {solution.degree}, reduced-model sweep",
        unknowns=solution.system.sizes[solution.degree],
        mesh=dict(solution.system.plane_mesh.description),
        factorisations=solution.factorisations,
        seconds=solution.seconds,
        steps=solution.steps,
        uncoupled=kept_apart(modes.guide, modes.plane, float(frequency[-1])),
        picture=lambda at: field_picture(solution, at),
        ratios=lambda at: ratios_in_plane(solution, at),
    )


def solved_in_space(
    part: Any,
    frequency: NDArray[np.float64],
    s_error: float,
    walls: Walls | None,
    report: Report | None,
) -> SolvedPart:
    """Solve a part by edge elements in three dimensions."""
    from solver.peak_readings import ratios_in_space
    from solver.space_fields import space_picture
    from solver.space_parts import space_problem
    from solver.space_solver import apart, solve_in_space

    problem = space_problem(part, frequency, s_error)
    solution = solve_in_space(problem, frequency, s_error, report)
    found = solution.found
    s, error = found.s, found.error
    if walls is not None:
        from solver.plane_losses import second_order
        from solver.space_losses import lossy_scattering_in_space

        s = lossy_scattering_in_space(solution, walls.conductivity)
        error = error + second_order(frequency, walls.conductivity, _length(part))
    cells = "hexahedra" if found.space.mesh.t.shape[0] == 8 else "tetrahedra"
    return SolvedPart(
        port_modes=problem.port_modes,
        s=s,
        error=error,
        reached=bool(error.max() <= s_error),
        method="curl-curl equation for E in three dimensions, edge elements of order "
        f"{found.order} on {cells}, reduced-model sweep",
        unknowns=found.last.model.basis.shape[0],
        **search_record(found),
        uncoupled=apart(problem, float(frequency[-1])),
        picture=lambda at: space_picture(solution, at),
        ratios=lambda at: ratios_in_space(solution, at),
    )


def among_propagating(
    solved: SolvedPart, frequency: NDArray[np.float64], walls: Walls | None
) -> ScatteringMatrix:
    """Keep the modes that propagate somewhere in the band.

    Parameters
    ----------
    solved : SolvedPart
    frequency : (n,) array
        [Hz]
    walls : Walls or None
        Without walls nothing is dissipated.

    Returns
    -------
    ScatteringMatrix
        Elements of a mode below its cutoff are 0.
    """
    keep = [i for i, mode in enumerate(solved.port_modes) if mode.cutoff < frequency[-1]]
    kept = tuple(solved.port_modes[i] for i in keep)
    above = frequency[:, None] > np.array([mode.cutoff for mode in kept])
    inner = np.where(above[:, :, None] & above[:, None, :], solved.s[:, keep][:, :, keep], 0.0)
    none = np.zeros(len(frequency))
    leaked = none if solved.leaked_power is None else solved.leaked_power
    lost = 1.0 - (np.abs(inner[:, :, 0]) ** 2).sum(axis=1) - leaked
    heat = none if walls is None else np.maximum(lost, 0.0)
    return ScatteringMatrix(frequency, kept, inner, solved.error, leaked, heat, solved.leaked_error)


def _length(part: Any) -> float:
    """Length of a part along its axis, for the size of what is left out [m]."""
    for name in ("arc_length", "length"):
        if hasattr(part, name):
            return float(getattr(part, name))
    return 2 * float(getattr(part, "outer_arm", 0.0))
