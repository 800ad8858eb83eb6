"""Joints with a gap, set up in a quarter of the space about the axis.

TE10, and TE11 with E along y, see the plane x = 0 as a magnetic and y = 0 as an electric wall. The
rim is an open boundary whose waves are those of the radial line into which the gap goes on; where
the gap is tall or densely filled, those that vary across it are taken along.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace

import numpy as np

from geometries.arrays import Array
from geometries.cells.space_ports import FEED, SpaceMesh
from geometries.shapes.choke_flanges import ChokeFlange
from geometries.shapes.grooves import last_edge
from geometries.shapes.guides import CircularGuide
from geometries.shapes.rotating_joints import RotatingJoint
from geometries.space_meshes.choke_blocks import TE10_MIRRORS, Mirrors, choke_blocks
from geometries.space_meshes.choke_lines import JointBox
from solver.parts.field_picture import DRIVEN_MIRRORS, CutPlane
from solver.parts.solution import Solution
from solver.parts.solved_part import SolvedPart, refuse_walls, solved_part_of
from solver.parts.space_solver import SpaceProblem, apart, solve_in_space
from solver.progress import Progress
from solver.waves.guide_modes import SPEED_OF_LIGHT
from solver.waves.rim_waves import RimWaves, rim_waves
from solver.waves.walls import Walls

ORDERS: Mapping[int, Sequence[int]] = {0: (3, 4, 5), 1: (3, 4, 5)}
#: Of fields that no port drives: what is told of them is their resonances, each with its own error.
ALONE: Mapping[int, Sequence[int]] = {0: (4, 5)}
RATIOS: Mapping[int, float] = {0: 0.5, 1: 0.5}
#: What a wave left out at the rim may still return or bring out, over the wanted accuracy.
LEFTOVER = 0.01


def quarter_problem(
    part: ChokeFlange | RotatingJoint,
    frequency: Array,
    s_error: float,
    mirrors: Mirrors = TE10_MIRRORS,
    box: JointBox | None = None,
) -> SpaceProblem:
    """Set up a joint in a quarter of the space.

    Parameters
    ----------
    part : ChokeFlange or RotatingJoint
    frequency : (n,) array
        Ascending [Hz].
    s_error : float
        Wanted bound on the error of every S-parameter between propagating modes; the amplitude
        of what leaks is wanted up to five times as exactly, where little leaks.
    mirrors : (str, str)
        See `choke_blocks`. For others than those of TE10 the waves at the rim are the answer.
    box : JointBox, optional
        Joints whose cells and waves this one shares.

    Returns
    -------
    SpaceProblem

    Raises
    ------
    MeshingError
    """
    wavelength, box = shortest_wavelength(part, frequency), box or JointBox(part, part)

    def make_mesh(refinement: int) -> SpaceMesh:
        return choke_blocks(
            part,
            wavelength=wavelength,
            refinement=refinement,
            feed=FEED * part.guide.longest_side,
            mirrors=mirrors,
            box=box,
        )

    wanted = (int(mirrors[0] == "magnetic"), int(mirrors[1] == "magnetic"))
    return SpaceProblem(
        make_mesh,
        frequency,
        s_error,
        ORDERS if mirrors == TE10_MIRRORS else ALONE,
        RATIOS,
        lambda symmetry: symmetry == wanted,
        boundaries=_rims(part, box, float(frequency[-1]), s_error, mirrors),
        driven=mirrors == TE10_MIRRORS,
        look_ahead=True,
    )


def shortest_wavelength(part: ChokeFlange | RotatingJoint, frequency: Array) -> float:
    """Return the shortest wavelength in a band, in the densest filling [m]."""
    return float(SPEED_OF_LIGHT / float(frequency[-1]) / np.sqrt(part.gasket_permittivity))


def _rims(
    part: ChokeFlange | RotatingJoint,
    box: JointBox,
    highest: float,
    s_error: float,
    mirrors: Mirrors,
) -> tuple[RimWaves, ...]:
    """Return the waves at the rim, as many as any joint of the box needs; none where closed."""
    if part.rim == "closed":
        return ()
    round_all_through = mirrors == TE10_MIRRORS and isinstance(part.guide, CircularGuide)
    # the taller the gap, the slower do waves decay that vary across it
    rim = rim_waves(
        box.end,
        box.largest.gap,
        2 * np.pi * highest / SPEED_OF_LIGHT,
        part.gasket_permittivity,
        mirrors=mirrors,
        only=1 if round_all_through else None,
        stretches=_past_last_edge(part, box.end),
        leftover=LEFTOVER * s_error,
    )
    return (replace(rim, gap=part.gap),)


def _past_last_edge(
    part: ChokeFlange | RotatingJoint, end: float
) -> tuple[tuple[float, float], ...]:
    """Length and permittivity of the gap's stretches from the last edge to where the mesh ends.

    A gasket's own edge, upright and as high as the gap, makes no wave that varies across it.
    """
    edge, permittivity = last_edge(part), part.gasket_permittivity
    inner = max(edge, part.gasket_inner_radius) if permittivity > 1.0 else end
    return (inner - edge, 1.0), (end - inner, permittivity)


def solve_in_quarter(
    part: ChokeFlange | RotatingJoint,
    frequency: Array,
    s_error: float,
    report: Progress | None = None,
) -> Solution[SpaceProblem]:
    """Solve a joint in a quarter of the space until the error bar is under what was asked.

    Parameters
    ----------
    part, frequency, s_error
        As those of `quarter_problem`.
    report : callable, optional

    Returns
    -------
    Solution

    Raises
    ------
    MeshingError, LinearSolveError, ProblemSizeError
    """
    return solve_in_space(quarter_problem(part, frequency, s_error), frequency, s_error, report)


def solved_in_quarter(
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
    solution = solve_in_quarter(part, frequency, s_error, report)
    return solved_part_of(
        solution,
        s_error,
        method="curl-curl equation for E in a quarter of the space between two mirror planes, edge "
        f"elements of order {solution.found.order} on hexahedra, radial line of the gap matched, "
        "reduced-model sweep",
        unknowns=solution.found.last.model.basis.shape[0],
        uncoupled=apart(solution.problem, float(frequency[-1])),
        picture=lambda at: space_picture(solution, at, _gap_cuts(part), DRIVEN_MIRRORS),
        ratios=lambda at: ratios_in_space(solution, at),
        about="m = 1" if isinstance(part, RotatingJoint) else "m = 1, 3, 5",
    )


def _gap_cuts(part: ChokeFlange | RotatingJoint) -> tuple[CutPlane, ...]:
    """The gap seen from the side, and in its own plane."""
    x, y, z = np.eye(3)
    middle = 0.5 * part.gap * z
    rim, gap = part.rim_radius, part.gap
    side = (-3.0 * gap, 3.0 * gap, 0.9 * part.opening_radius, rim)
    return (
        CutPlane("gap from the side", middle, z, y, ("z", "y"), side),
        CutPlane("in the gap", middle, x, y, ("x", "y")),
    )
