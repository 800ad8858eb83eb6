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
from geometries.shapes.offsets import Offset
from geometries.shapes.part import Guide, Mirror
from geometries.shapes.tapers import Taper
from geometries.shapes.transitions import Transition
from geometries.shapes.twists import Twist
from geometries.space_meshes.offset_blocks import offset_blocks
from geometries.space_meshes.offset_tetrahedra import offset_tetrahedra
from geometries.space_meshes.swept_blocks import swept_mesh
from geometries.user_files.user_meshes import MeshPart, user_mesh
from solver.elements.edge_hexahedra import HIGHEST_ORDER
from solver.fem.level_search import search_levels
from solver.fem.shape_doubt import with_shape_doubt
from solver.parts.solution import Solution
from solver.parts.space_losses import lossy_in_space
from solver.parts.space_parts import (
    EDGE_RATIOS,
    SWEPT_RATIOS,
    TETRAHEDRA_RATIOS,
    kept_by,
    tetrahedral_orders,
)
from solver.parts.space_solver import SpaceProblem
from solver.progress import Progress
from solver.runs import near_plane, near_sections
from solver.runs.cluster import NearJoint, NearMember, highest_kept
from solver.runs.near_waves import lossy_waves, solved_waves, waves_of
from solver.waves.guide_lines import share_after_turn
from solver.waves.guide_modes import SPEED_OF_LIGHT
from solver.waves.space_modes import SpaceMode, space_modes
from solver.waves.walls import Walls

Symmetry = Callable[[tuple[int, int]], bool]

#: Kinds that are swept, and all whose ports can be moved up to their neighbours in space, beside
#: those with a plane.
_SWEPT = (Bend, Twist, Taper, Transition, Dent)
MOVABLE = (*_SWEPT, Offset, MeshPart)
#: Orders of the elements: high modes at a near port ask for high ones from the start.
ORDERS = (8, 10, 12)
#: Those of cells graded towards edges, and of tetrahedra round an opening.
_SHIFT_ORDERS, _TURN_ORDERS = (5, 6), (3, 4)
#: Half waves along the longest side up to which modes are kept where there is no guide between.
_WITHOUT_GUIDE, _FEWEST = 15.0, 4.0
#: The same beside a part whose cells follow edges or a file: higher modes would be rough in them.
_BESIDE_EDGES = 8.0
#: Most modes of a port; those that many classes of fields ask for would take minutes.
_MOST = 80
#: Wavelength for which cells beside an edge are made, over the longest side.
_FINER_CELLS = 0.32
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


def highest_wavenumber(
    guide: Guide, joint: NearJoint, s_error: float, beside: Sequence[Any] = ()
) -> float:
    """Cutoff wavenumber up to which modes are kept at a joint [rad/m].

    Parameters
    ----------
    guide : RectangularGuide or CircularGuide
        There.
    joint : NearJoint
    s_error : float
        Wanted bound on the error of S.
    beside : sequence of Part
        The parts that meet there.
    """
    rough = any(is_rough(part) for part in beside)
    most = (_BESIDE_EDGES if rough else _WITHOUT_GUIDE) * math.pi / guide.longest_side
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


def is_rough(part: Any) -> bool:
    """Whether a part is solved in space in cells that are not fine for high modes."""
    return isinstance(part, (Offset, MeshPart)) and not has_plane(part)


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
        least = least_feed_in_space(part)
        before = min(0.5 * joints[number - 1].length, first) if number else first
        behind = min(0.5 * joints[number].length, second) if number < len(joints) else second
        found.append((max(least, before), max(least, behind)))
    return found


def rises(part: Any) -> bool:
    """Whether a member has further orders to go to."""
    return isinstance(part, _SWEPT) and not has_plane(part)


def least_feed_in_space(part: Any) -> float:
    """Shortest straight guide before the ports of a part that is meshed in space [m]."""
    if isinstance(part, Offset):  # no port can stand in the step
        return near_plane.least_feed(part, part.guide.narrow_height)
    return 0.0


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
    wanted = _FINER * s_error
    problem = _problem(part, feeds, kept, couples, frequency, wanted, order)
    found = with_shape_doubt(problem, search_levels(problem, wanted, report), wanted)
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
        doubted=tuple(waves_of(problem, found, model) for _, model in found.shapes),
        **solved_waves(problem, found),
        **lossy_waves(
            part, walls, lambda metal: lossy_in_space(Solution(problem, frequency, found), metal)
        ),
    )


def _problem(
    part: Any,
    feeds: tuple[float, float],
    kept: Sequence[Sequence[SpaceMode]],
    couples: Symmetry,
    frequency: Array,
    wanted: float,
    order: int,
) -> SpaceProblem:
    """The member on its mesh, in the orders that such cells can be solved with."""
    mesher: Any = swept_mesh
    compared, ratios = 4, SWEPT_RATIOS
    orders: tuple[int, ...] = (order, min(order + 1, HIGHEST_ORDER))
    wavelength = SPEED_OF_LIGHT / float(frequency[-1])
    if isinstance(part, Offset):
        turned = bool(part.turn)
        mesher = offset_tetrahedra if turned else offset_blocks
        orders, compared = (_TURN_ORDERS, 3) if turned else (_SHIFT_ORDERS, 4)
        ratios = EDGE_RATIOS
        # several cells across, for the modes that decay
        wavelength = min(wavelength, _FINER_CELLS * part.guide.longest_side)
    elif isinstance(part, MeshPart):
        mesher, compared, ratios = user_mesh, 3, TETRAHEDRA_RATIOS
    first = mesher(part, wavelength=wavelength, feeds=feeds)
    if isinstance(part, MeshPart):
        orders = tuple(tetrahedral_orders(int(first.mesh.t.shape[1]), 1.0)[0])
    return SpaceProblem(
        lambda _: first,
        frequency,
        wanted,
        {0: orders},
        ratios,
        couples,
        compared=compared,
        modes=kept,
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
