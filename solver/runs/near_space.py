"""Parts that stand near each other and share no plane, solved in space with their ports near."""

from __future__ import annotations

import copy
import math
from collections.abc import Callable, Sequence
from typing import Any

import numpy as np

from geometries.arrays import Array, ComplexArray
from geometries.cells.space_ports import FEED
from geometries.shapes.bends import Bend, width_in_plane
from geometries.shapes.dents import Dent
from geometries.shapes.guides import RectangularGuide
from geometries.shapes.part import Guide, Mirror
from geometries.shapes.tapers import Taper
from geometries.shapes.transitions import Transition
from geometries.shapes.twists import Twist
from geometries.space_meshes.swept_blocks import swept_mesh
from solver.elements.edge_hexahedra import HIGHEST_ORDER
from solver.fem.level_search import search_levels
from solver.parts.solution import Solution
from solver.parts.space_losses import lossy_in_space
from solver.parts.space_parts import SWEPT_RATIOS, kept_by
from solver.parts.space_solver import SpaceProblem
from solver.progress import Progress
from solver.runs import near_plane, near_sections
from solver.runs.cluster import NearJoint, NearMember, highest_kept
from solver.runs.near_waves import lossy_waves, solved_waves
from solver.waves.guide_lines import share_after_turn
from solver.waves.guide_modes import SPEED_OF_LIGHT
from solver.waves.space_modes import SpaceMode, space_modes
from solver.waves.walls import Walls

Symmetry = Callable[[tuple[int, int]], bool]

#: Kinds whose ports can be moved up to their neighbours in space, beside those with a plane.
MOVABLE = (Bend, Twist, Taper, Transition, Dent)
#: Orders of the elements: high modes at a near port ask for high ones from the start.
ORDERS = (8, 10, 12)
#: Half waves along the longest side up to which modes are kept where there is no guide between.
_WITHOUT_GUIDE, _FEWEST = 15.0, 4.0
#: Most modes of a port; those that many classes of fields ask for would take minutes.
_MOST = 80
#: The members' own bars, over what is wanted of the cluster.
_FINER = 0.25


def shared_symmetry(parts: Sequence[Any], joints: Sequence[NearJoint]) -> Symmetry:
    """Whether modes of a mirror class are excited somewhere in a cluster from the first mode."""
    mirrors: set[Mirror] = {"x", "y", "half-turn"}
    for part in parts:
        own = set(part.mirrors)
        if {"x", "y"} <= own:
            own.add("half-turn")
        mirrors &= own
    if any(abs(math.remainder(joint.turn, math.pi)) > 1e-9 for joint in joints):
        mirrors &= {"half-turn"}
    return kept_by(mirrors)


def highest_wavenumber(guide: Guide, joint: NearJoint, s_error: float) -> float:
    """Cutoff wavenumber up to which modes are kept at a joint [rad/m].

    Parameters
    ----------
    guide : RectangularGuide or CircularGuide
        There.
    joint : NearJoint
    s_error : float
        Wanted bound on the error of S.
    """
    most = _WITHOUT_GUIDE * math.pi / guide.longest_side
    if joint.length <= 0:
        return most
    enough = -math.log(0.03 * s_error) / (2 * joint.length)
    return min(most, max(2.0 * enough, _FEWEST * math.pi / guide.longest_side))


def turned_in_space(one: SpaceMode, other: SpaceMode, turn: float) -> float:
    """As `share_after_turn`, but half turns of a rectangle leave the sign of TE10 as it is.

    What takes half turns back at the ends of a run knows those between its units alone.
    """
    share = share_after_turn(one, other, turn)
    if isinstance(one.guide, RectangularGuide):
        share *= (-1.0) ** round(turn / math.pi)
    return share


def can_join(parts: Sequence[Any]) -> bool:
    """Whether neighbours can be joined in space."""
    return all(isinstance(part, MOVABLE) or has_plane(part) for part in parts)


def has_plane(part: Any) -> bool:
    """Whether a part is solved in its plane for all modes of its guide."""
    return isinstance(part, near_plane.MOVABLE) and part.exact_plane is not None


def feeds_of(
    parts: Sequence[Any], joints: Sequence[NearJoint], guides: Sequence[tuple[Guide, ...]]
) -> list[tuple[float, float]]:
    """Straight guide in the mesh before each port of each part, in the run's direction [m].

    Parameters
    ----------
    parts : sequence of Part
    joints : sequence of NearJoint
    guides : sequence of tuple
        Guide at each port, in the run's direction.
    """
    found = []
    for number, (part, pair) in enumerate(zip(parts, guides, strict=True)):
        first, second = (FEED * guide.longest_side for guide in pair)
        if has_plane(part):
            least = near_plane.least_feed(part, width_in_plane(part.guide, part.exact_plane))
            before = 0.5 * joints[number - 1].length if number else first + least
            behind = 0.5 * joints[number].length if number < len(joints) else second + least
            found.append((max(least, before), max(least, behind)))
            continue
        before = min(0.5 * joints[number - 1].length, first) if number else first
        behind = min(0.5 * joints[number].length, second) if number < len(joints) else second
        found.append((before, behind))
    return found


def near_member(
    part: Any,
    feeds: tuple[float, float],
    highest: tuple[float | None, float | None],
    couples: Symmetry,
    frequency: Array,
    s_error: float,
    walls: Walls | None,
    report: Progress | None = None,
    *,
    order: int = ORDERS[0],
) -> NearMember:
    """Solve a part in space with its ports near.

    Parameters
    ----------
    part : Part
        One of `MOVABLE`.
    feeds : (float, float)
        Straight guide before each plane of reference [m].
    highest : (float or None, float or None)
        Cutoff wavenumbers up to which modes are kept at its ports [rad/m]; None for as many as the
        feed asks for.
    couples : callable
        See `shared_symmetry`.
    frequency : (n,) array
        Ascending [Hz].
    s_error : float
        Wanted bound on the error of S of the cluster.
    walls : Walls or None
    report : callable, optional
    order : int
        Of the elements, where the part is meshed in space; at most one more is tried.

    Returns
    -------
    NearMember

    Raises
    ------
    MeshingError, LinearSolveError, ProblemSizeError
    """
    kept = [
        kept_modes(guide, feed, most, couples, frequency, s_error)
        for guide, feed, most in zip(part.guides, feeds, highest, strict=True)
    ]
    if has_plane(part):
        return near_sections.near_member(part, feeds, kept, frequency, s_error, walls, report)
    return member_in_space(
        part, feeds, kept, couples, frequency, s_error, walls, report, order=order
    )


def member_in_space(
    part: Any,
    feeds: tuple[float, float],
    kept: Sequence[Sequence[SpaceMode]],
    couples: Symmetry,
    frequency: Array,
    s_error: float,
    walls: Walls | None,
    report: Progress | None = None,
    *,
    order: int = ORDERS[0],
) -> NearMember:
    """As `near_member`, on a mesh in space, with given modes `kept` at the ports."""
    wavelength = SPEED_OF_LIGHT / float(frequency[-1])

    def make_mesh(refinement: int) -> Any:
        return swept_mesh(part, wavelength=wavelength, refinement=refinement, feeds=feeds)

    wanted, orders = _FINER * s_error, {0: (order, min(order + 1, HIGHEST_ORDER))}
    problem = SpaceProblem(
        make_mesh, frequency, wanted, orders, SWEPT_RATIOS, couples, compared=4, modes=kept
    )
    found = search_levels(problem, wanted, report)
    count = len(kept[0])

    def fewer(share: float) -> Any:
        limits = [highest_kept(modes, share) for modes in kept]
        masks = [
            [mode.wavenumber <= limit for mode in modes]
            for modes, limit in zip(kept, limits, strict=True)
        ]
        index = np.flatnonzero([*masks[0], *masks[1]])
        small = copy.copy(problem)
        small.modes = tuple(
            tuple(mode for mode, keep in zip(modes, mask, strict=True) if keep)
            for modes, mask in zip(kept, masks, strict=True)
        )

        def at(f: Array) -> ComplexArray:
            q = problem.squared_at(f)
            impedance = found.last.model.impedance(q)[:, index][:, :, index]
            s = np.zeros((len(f), *[len(kept[0]) + len(kept[1])] * 2), dtype=complex)
            s[:, index[:, None], index] = small.scattering(found.mesh, impedance, q)
            return s

        return at

    modes = problem.port_modes
    ports = problem.ports
    return NearMember(
        first=modes[:count],
        second=modes[count:],
        sides=(tuple(kept[0]), tuple(kept[1])),
        feeds=(ports[0].feed_length, ports[1].feed_length),
        fewer=fewer,
        **solved_waves(problem, found),
        **lossy_waves(
            part, walls, lambda metal: lossy_in_space(Solution(problem, frequency, found), metal)
        ),
    )


def kept_modes(
    guide: Guide,
    feed: float,
    most: float | None,
    couples: Symmetry,
    frequency: Array,
    s_error: float,
) -> list[SpaceMode]:
    """Modes kept at a port of a near part, the lowest first; see `near_member`."""
    stop = float(frequency[-1])
    if most is None:
        found = space_modes(guide, stop, feed, 0.01 * s_error)
    else:
        cutoff = most * SPEED_OF_LIGHT / (2 * math.pi)
        found = space_modes(guide, max(cutoff, stop), 1.0, 1.0)
    chosen = [mode for mode in found if couples(mode.symmetry)]
    if len(chosen) <= _MOST:
        return chosen
    # of modes that decay alike all or none: a part may mix them
    last = chosen[_MOST].wavenumber * (1 - 1e-9)
    return [mode for mode in chosen[:_MOST] if mode.wavenumber < last]
