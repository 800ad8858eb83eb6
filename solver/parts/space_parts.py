"""Which mesh, orders and symmetry serve a part in three dimensions."""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from functools import singledispatch
from typing import Any

from geometries.arrays import Array
from geometries.cells.space_ports import FEED
from geometries.shapes.bends import Bend
from geometries.shapes.corners import Corner
from geometries.shapes.dents import Dent
from geometries.shapes.offsets import Offset
from geometries.shapes.part import Mirror, kind_of, known_part
from geometries.shapes.straights import Straight
from geometries.shapes.tapers import Taper
from geometries.shapes.transitions import Transition
from geometries.shapes.twists import Twist
from geometries.space_meshes.corner_blocks import corner_blocks
from geometries.space_meshes.offset_blocks import offset_blocks
from geometries.space_meshes.offset_tetrahedra import offset_tetrahedra
from geometries.space_meshes.swept_blocks import swept_mesh
from geometries.user_files.user_meshes import MeshPart, user_mesh
from solver.errors import UnsupportedPartError
from solver.parts.space_solver import SpaceProblem, Symmetry
from solver.waves.guide_modes import SPEED_OF_LIGHT

# Of hexahedra, the first order listed is for looking ahead alone: that takes one answer less.
#: Orders of exactly mapped hexahedra: few cells of high order, then a finer mesh.
SWEPT_ORDERS: Mapping[int, Sequence[int]] = {0: (5, 6, 7, 8, 9), 1: (4, 5, 6)}
#: The first mesh is not graded towards the onsets, so that a slow tail follows a fast fall.
SWEPT_RATIOS: Mapping[int, float] = {0: 0.5, 1: 0.3}
#: Cells graded towards edges: the layers are many enough for these orders.
CORNER_ORDERS: Mapping[int, Sequence[int]] = {0: (4, 5, 6, 7, 8), 1: (6, 7)}
SHIFT_ORDERS: Mapping[int, Sequence[int]] = {0: (4, 5, 6, 7, 8)}
TWO_SHIFTS_ORDERS: Mapping[int, Sequence[int]] = {0: (4, 5, 6), 1: (4, 5, 6)}
TURN_ORDERS: Mapping[int, Sequence[int]] = {0: (3, 4), 1: (4,)}
#: What the innermost layer leaves falls slowly with the order.
EDGE_RATIOS: Mapping[int, float] = {0: 0.5, 1: 0.5}
#: Tetrahedra are not graded towards edges that a file may have.
TETRAHEDRA_RATIOS: Mapping[int, float] = {0: 0.5, 1: 0.5}
#: Most unknowns that a search over orders on tetrahedra goes to by itself.
MOST_UNKNOWNS = 160_000


@singledispatch
def space_problem(part: Any, frequency: Array, s_error: float) -> SpaceProblem:
    """Set up a part for the three-dimensional solver.

    Parameters
    ----------
    part : Straight, Bend, Corner, Twist, Taper, Transition, Offset, Dent or MeshPart
    frequency : (n,) array
        Ascending [Hz].
    s_error : float
        Wanted bound on the error of S.

    Returns
    -------
    SpaceProblem

    Raises
    ------
    UnsupportedPartError
        For a part that has no mesh in space.
    MeshingError
    """
    raise UnsupportedPartError(f"no solver takes a {kind_of(part)}")


def _swept(part: Any, frequency: Array, s_error: float) -> SpaceProblem:
    wavelength = SPEED_OF_LIGHT / float(frequency[-1])
    first, second = part.guides
    feeds = (FEED * first.longest_side, FEED * second.longest_side)

    def make_mesh(refinement: int) -> Any:
        return swept_mesh(part, wavelength=wavelength, refinement=refinement, feeds=feeds)

    # a short part's answer stands still at every second order: four answers see through that
    return SpaceProblem(
        make_mesh,
        frequency,
        s_error,
        SWEPT_ORDERS,
        SWEPT_RATIOS,
        symmetry_of(part),
        compared=4,
        look_ahead=True,
    )


for _kind in (Straight, Bend, Twist, Taper, Transition, Dent):
    space_problem.register(_kind, _swept)


@space_problem.register
def _corner(part: Corner, frequency: Array, s_error: float) -> SpaceProblem:
    wavelength = SPEED_OF_LIGHT / float(frequency[-1])
    feed = FEED * part.guide.broad_width

    def make_mesh(refinement: int) -> Any:
        return corner_blocks(part, wavelength=wavelength, refinement=refinement, feed=feed)

    return SpaceProblem(
        make_mesh,
        frequency,
        s_error,
        CORNER_ORDERS,
        EDGE_RATIOS,
        symmetry_of(part),
        look_ahead=True,
    )


@space_problem.register
def _offset(part: Offset, frequency: Array, s_error: float) -> SpaceProblem:
    wavelength = SPEED_OF_LIGHT / float(frequency[-1])
    feeds = (FEED * part.guide.broad_width,) * 2
    mesh = offset_tetrahedra if part.turn else offset_blocks

    def make_mesh(refinement: int) -> Any:
        return mesh(part, wavelength=wavelength, refinement=refinement, feeds=feeds)

    shifted = SHIFT_ORDERS if part.plane else TWO_SHIFTS_ORDERS
    orders = TURN_ORDERS if part.turn else shifted
    return SpaceProblem(
        make_mesh,
        frequency,
        s_error,
        orders,
        EDGE_RATIOS,
        symmetry_of(part),
        look_ahead=not part.turn,
    )


@space_problem.register
def _from_file(part: MeshPart, frequency: Array, s_error: float) -> SpaceProblem:
    wavelength = SPEED_OF_LIGHT / float(frequency[-1])
    first = user_mesh(part, wavelength=wavelength)

    def make_mesh(refinement: int) -> Any:
        if refinement == 0:
            return first
        return user_mesh(part, wavelength=wavelength, refinement=refinement)

    orders = tetrahedral_orders(int(first.mesh.t.shape[1]), 3 if part.is_step else 8)
    return SpaceProblem(make_mesh, frequency, s_error, orders, TETRAHEDRA_RATIOS, symmetry_of(part))


def tetrahedral_orders(cells: int, growth: float) -> dict[int, tuple[int, ...]]:
    """Orders for a mesh of tetrahedra and for the next finer one, by what is affordable.

    Parameters
    ----------
    cells : int
        Number of cells of the coarsest mesh.
    growth : float
        Cells of the next mesh over those.

    Returns
    -------
    dict of int to tuple of int
        The coarsest mesh is solved up to order 3 whatever it costs.
    """

    def unknowns(order: int, refinement: int) -> float:
        # a cell has a share of 1.2 edges and of 2 faces
        own = 1.2 * order + 2 * order * (order - 1) + order * (order - 1) * (order - 2) / 2
        return own * cells * growth**refinement

    affordable = {
        r: tuple(order for order in (3, 4, 5) if unknowns(order, r) < MOST_UNKNOWNS) for r in (0, 1)
    }
    orders = {r: listed for r, listed in affordable.items() if listed}
    return {0: (3,)} | orders


def symmetry_of(part: Any) -> Symmetry:
    """Whether modes of a mirror class (see `SpaceMode.symmetry`) couple with TE10.

    TE10 has the class (1, 0).  A part that is its own mirror image keeps classes apart; one that
    is its own image under half a turn keeps the sum of both apart.

    Raises
    ------
    UnknownPartError
        For an object that is no `Part`.
    """
    return kept_by(known_part(part).mirrors)


def kept_by(mirrors: Collection[Mirror]) -> Symmetry:
    """Whether modes of a mirror class couple with TE10 where some mirrors hold; `symmetry_of`."""

    def couples(symmetry: tuple[int, int]) -> bool:
        across, up = symmetry
        return (
            ("x" not in mirrors or across == 1)
            and ("y" not in mirrors or up == 0)
            and ("half-turn" not in mirrors or (across + up) % 2 == 1)
        )

    return couples
