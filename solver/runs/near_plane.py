"""Parts of one plane that stand near each other, joined with the modes that pass between them.

Each is solved with its ports moved up to its neighbours, so that modes below cutoff are among the
waves that are joined. The answers of the compared spaces are joined level by level, so that the bar
is read from the whole cluster; joining half of the modes tells what the modes left out may do.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import replace
from typing import Any

import numpy as np

from geometries.arrays import Array, ComplexArray
from geometries.plane_meshes.parts_in_plane import mesh_in_plane
from geometries.plane_meshes.plane_mesh import PlaneMesh, feed_length
from geometries.shapes.bends import Bend
from geometries.shapes.corners import Corner
from geometries.shapes.guides import RectangularGuide
from geometries.shapes.offsets import Offset
from solver.fem.level_search import search_levels
from solver.parts.plane_losses import lossy_in_plane
from solver.parts.plane_solver import DEGREES, RATIOS
from solver.parts.scalar_problem import ScalarProblem
from solver.parts.solution import Solution
from solver.progress import Progress
from solver.runs.cluster import NearJoint, NearMember
from solver.runs.near_waves import lossy_waves, solved_waves
from solver.waves.plane_modes import PlaneModes
from solver.waves.space_modes import SpaceMode
from solver.waves.walls import Walls

#: Kinds whose ports can be moved up to their neighbours in the plane.
MOVABLE = (Bend, Corner, Offset)
#: Modes at a port into which two parts run without guide between, and the fewest.
_WITHOUT_GUIDE, _FEWEST = 20, 4
#: A port this close to a step, over the width, where none can stand in it.
_BEFORE_STEP = 0.1
#: The members' own bars, over what is wanted of the cluster.
FINER, FINEST = 0.03, 1e-8


def modes_at(width: float, joints: Sequence[NearJoint], s_error: float) -> int:
    """Modes kept in the plane at every port of a cluster.

    Parameters
    ----------
    width : float
        Of the guide in the plane [m].
    joints : sequence of NearJoint
    s_error : float
        Wanted bound on the error of S.

    Notes
    -----
    So many that the second half of them carries next to nothing over the shortest distance:
    exp(-2 n pi d/width) of the wanted error for the n-th. Where there is no distance the series
    falls as a power, and the bar says what is left.
    """
    shortest = min(joint.length for joint in joints)
    if shortest <= 0:
        return _WITHOUT_GUIDE
    enough = -math.log(0.01 * s_error) * width / (2 * math.pi * shortest)
    return int(min(_WITHOUT_GUIDE, max(_FEWEST, 2 * math.ceil(enough) + 2)))


def feeds_of(
    parts: Sequence[Any], joints: Sequence[NearJoint], width: float
) -> list[tuple[float, float]]:
    """Straight guide in the mesh before each port of each part [m].

    Parameters
    ----------
    parts : sequence of Bend, Corner or Offset
    joints : sequence of NearJoint
    width : float
        Of the guide in the plane [m].
    """
    far = feed_length(width)
    halves = [min(0.5 * joint.length, far) for joint in joints]
    found = []
    for number, part in enumerate(parts):
        least = least_feed(part, width)
        outer = far + getattr(part, "overhang", 0.0)
        before = halves[number - 1] if number else outer
        behind = halves[number] if number < len(joints) else outer
        found.append((max(before, least), max(behind, least)))
    return found


def least_feed(part: Any, width: float) -> float:
    """Shortest straight guide in a mesh before the ports of a part [m].

    Parameters
    ----------
    part : Bend, Corner or Offset
    width : float
        Of the guide in the plane [m].
    """
    least = _BEFORE_STEP * width if isinstance(part, Offset) else 0.0
    return float(max(least, getattr(part, "overhang", 0.0)))


def mesh_maker(
    part: Any, feeds: tuple[float, float], frequency: Array
) -> Callable[[int], PlaneMesh]:
    """Return what meshes a part in its plane, by refinement, with straight guide at its ports.

    Parameters
    ----------
    part : Bend, Corner or Offset
        With an exact plane.
    feeds : (float, float)
        Straight guide before each plane of reference [m].
    frequency : (n,) array
        Ascending [Hz].
    """
    squared = PlaneModes(part.guide, part.exact_plane, 1).wavenumber_squared(frequency)[-1]
    wavelength = 2 * np.pi / np.sqrt(squared)

    def make_mesh(refinement: int) -> PlaneMesh:
        return mesh_in_plane(
            part, wavelength, plane=part.exact_plane, refinement=refinement, feeds=feeds
        )

    return make_mesh


def near_member(
    part: Any,
    feeds: tuple[float, float],
    count: int,
    frequency: Array,
    s_error: float,
    walls: Walls | None,
    report: Progress | None = None,
) -> NearMember:
    """Solve a part in its plane with its ports near.

    Parameters
    ----------
    part : Bend, Corner or Offset
    feeds : (float, float)
        Straight guide before each plane of reference [m].
    count : int
        Modes at each port.
    frequency : (n,) array
        Ascending [Hz].
    s_error : float
        Wanted bound on the error of S of the cluster.
    walls : Walls or None
    report : callable, optional

    Returns
    -------
    NearMember

    Raises
    ------
    MeshingError, LinearSolveError, ProblemSizeError
    """
    guide = part.guide
    assert isinstance(guide, RectangularGuide)
    modes = PlaneModes(guide, part.exact_plane, count)
    wanted = max(FINEST, FINER * s_error)
    make_mesh = mesh_maker(part, feeds, frequency)

    def problem_of(kept: PlaneModes) -> ScalarProblem[PlaneModes]:
        # beside an edge in the port itself a finer mesh gains little; the bar says what is left
        orders, ratios = {0: DEGREES}, {0: RATIOS[0]}
        return ScalarProblem(make_mesh, kept, 2, frequency, wanted, orders, ratios, compared=4)

    problem = problem_of(modes)
    found = search_levels(problem, wanted, report)
    solution = Solution(problem, frequency, found)

    def fewer(part_of: float) -> Any:
        kept = max(1, math.ceil(part_of * count - 1e-9))
        index = [*range(kept), *range(count, count + kept)]
        small = problem_of(replace(modes, count=kept))

        def at(f: Array) -> ComplexArray:
            q = problem.squared_at(f)
            impedance = found.last.model.impedance(q)[:, index][:, :, index]
            s = np.zeros((len(f), 2 * count, 2 * count), dtype=complex)
            s[:, np.array(index)[:, None], index] = small.scattering(found.mesh, impedance, q)
            return s

        return at

    sides = tuple(_as_guided(modes) for _ in range(2))
    return NearMember(
        first=modes.port_modes(1),
        second=modes.port_modes(2),
        sides=(sides[0], sides[1]),
        feeds=feeds,
        fewer=fewer,
        **solved_waves(problem, found),
        **lossy_waves(part, walls, lambda metal: lossy_in_plane(solution, metal)),
    )


def turned_in_plane(plane: str, parts: Sequence[Any] = ()) -> Any:
    """How a mode goes over into the frame of the part behind, for a `Cluster` in its plane."""

    def sign(one: SpaceMode, other: SpaceMode, turn: float) -> float:
        if (one.m, one.n) != (other.m, other.n):
            return 0.0
        flips = round(turn / math.pi)
        # bends, corners and offsets count across from the same wall: from the other one, functions
        # of odd order change sign
        return float((-1.0) ** (flips * (one.m + 1 if plane == "H" else one.n)))

    return sign


def _as_guided(modes: PlaneModes) -> tuple[SpaceMode, ...]:
    if modes.plane == "H":
        return tuple(SpaceMode(modes.guide, "TE", int(m), 0) for m in modes.orders)
    return tuple(SpaceMode(modes.guide, "TE", 1, int(n)) for n in modes.orders)


def same_plane(parts: Sequence[Any]) -> bool:
    """Whether parts can be joined in one plane."""
    # a part of a file has no plane to ask for
    if not all(isinstance(part, MOVABLE) for part in parts):
        return False
    planes = {part.exact_plane for part in parts}
    return len(planes) == 1 and None not in planes
