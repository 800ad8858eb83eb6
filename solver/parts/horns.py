"""Horns: which are solved how, and what they radiate.

A conical horn is solved in its half-plane about the axis, TM01 for psi = r H_phi and TE11 by edge
elements of order 1 about it (`solver.revolved`). TE10 with E along y sees the plane x = 0 as a
magnetic and y = 0 as an electric wall: E is solved in a quarter of the space. In a wall a half
sphere before the aperture is an open boundary whose spherical waves leave each with an admittance
of its own, so that nothing has to absorb them.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import replace
from typing import Any

import numpy as np
from numpy.typing import NDArray

from geometries.arrays import Array
from geometries.cells.space_ports import FEED, SpaceMesh
from geometries.shapes.horns import ConicalHorn, Horn, RectangularHorn
from geometries.space_meshes.horn_blocks import horn_blocks, sphere_about
from solver.fem.edge_space import EdgeSpace
from solver.fem.level_problem import Pencil
from solver.fem.level_search import search_levels
from solver.fem.snapshots import Driven
from solver.parts.bare_horns import solved_bare_horn
from solver.parts.field_picture import DRIVEN_MIRRORS
from solver.parts.half_plane_solver import half_plane_picture, harmonic_picture
from solver.parts.peak_readings import harmonic_ratios, ratios_in_half_plane, ratios_in_space
from solver.parts.solution import Solution
from solver.parts.solved_part import SolvedPart, refuse_walls, solved_part_of
from solver.parts.space_fields import space_picture
from solver.parts.space_solver import SpaceProblem, apart
from solver.progress import Progress
from solver.revolved.bare_conical_horn import BareConicalHorn, bare_conical_horn
from solver.revolved.bare_radiation import bare_radiation
from solver.revolved.walled_horn import WalledHorn, walled_horn
from solver.waves.guide_modes import SPEED_OF_LIGHT, mode_cutoffs
from solver.waves.radiation import Radiation, radiation_of
from solver.waves.spherical_waves import RevolvedWaves, SphericalWaves, spherical_waves
from solver.waves.walls import Walls

#: Orders tried on one mesh in a quarter of the space before it is refined.
ORDERS: Mapping[int, Sequence[int]] = {0: (4, 5, 6), 1: (4, 5, 6)}
#: What the innermost cells leave falls slowly with the order.
RATIOS: Mapping[int, float] = {0: 0.5, 1: 0.5}
#: What a spherical wave left out may still return, over the wanted accuracy.
LEFTOVER = 0.01
#: How the field of a conical horn is solved, by its order about the axis, and what lies outside.
_FIELDS = (
    "scalar Helmholtz equation for r H_phi in the half-plane (exact reduction), hierarchical "
    "elements",
    "curl-curl equation for E of order 1 about the axis in the half-plane (exact reduction), edge "
    "elements",
)
_OUTSIDE = {
    "wall": "spherical waves before the wall matched exactly",
    "bare": "an absorbing layer all about, another one at each degree",
}


class QuarterHorn(SpaceProblem):
    """A horn in a quarter of the space, as the search over levels asks for it.

    Parameters
    ----------
    horn : RectangularHorn or ConicalHorn
    frequency : (n,) array
        Ascending [Hz].
    s_error : float
    """

    def __init__(self, horn: Horn, frequency: Array, s_error: float) -> None:
        wavelength = SPEED_OF_LIGHT / float(frequency[-1])
        feed = FEED * horn.guide.longest_side

        def make_mesh(refinement: int) -> SpaceMesh:
            return horn_blocks(horn, wavelength=wavelength, refinement=refinement, feed=feed)

        self.waves: SphericalWaves = spherical_waves(
            sphere_about(horn),
            horn.opening_radius,
            2 * np.pi / wavelength,
            LEFTOVER * s_error,
            driven=1 if isinstance(horn, ConicalHorn) else None,
        )
        super().__init__(
            make_mesh,
            frequency,
            s_error,
            ORDERS,
            RATIOS,
            lambda symmetry: symmetry == (1, 0),
            boundaries=(self.waves,),
            look_ahead=True,
        )
        self.guided = np.flatnonzero(self.moving[: len(self.port_modes)])
        self.driven_columns = Driven(self.guided, self.admittance_at)

    def told(self, squared: Array) -> NDArray[np.bool_]:
        """Elements (n, m, m) whose change `next_order` can tell: those between guided modes.

        The reduced model holds no field of a wave that comes in from space, which the change of
        what leaves would ask for.
        """
        told = super().told(squared)
        beyond = np.setdiff1d(np.arange(told.shape[1]), self.guided)
        told[:, beyond] = told[:, :, beyond] = False
        return told

    def spaces(self, mesh: SpaceMesh, orders: Sequence[int]) -> Iterator[tuple[EdgeSpace, Pencil]]:
        """Assemble the spaces of ascending orders."""
        for space, pencil in super().spaces(mesh, orders):
            yield space, replace(pencil, driven=self.driven_columns)


def solved_horn(
    horn: Horn, frequency: Array, s_error: float, walls: Walls | None, report: Progress | None
) -> SolvedPart:
    """Solve a horn: on a circular guide in its half-plane, else in a quarter of the space.

    Parameters
    ----------
    horn : RectangularHorn or ConicalHorn
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
    refuse_walls(horn, walls)
    if isinstance(horn, RectangularHorn):
        if horn.rim == "bare":
            return solved_bare_horn(horn, frequency, s_error, report)
        return solved_horn_in_quarter(horn, frequency, s_error, report)
    return _in_half_plane(horn, frequency, s_error, report)


def _in_half_plane(
    horn: ConicalHorn, frequency: Array, s_error: float, report: Progress | None
) -> SolvedPart:
    problem: WalledHorn | BareConicalHorn
    if horn.rim == "bare":
        problem = bare_conical_horn(horn, frequency, s_error)
    else:
        problem = walled_horn(horn, frequency, s_error)
    solution: Solution[Any] = Solution(problem, frequency, search_levels(problem, s_error, report))
    picture, ratios = half_plane_picture, ratios_in_half_plane
    if problem.order:
        picture, ratios = harmonic_picture, harmonic_ratios
    degree, ours = solution.found.order, {mode.name for mode in problem.port_modes}
    solved = solved_part_of(
        solution,
        s_error,
        method=f"{_FIELDS[problem.order]} of degree {degree}, {_OUTSIDE[horn.rim]}, reduced-model "
        "sweep",
        unknowns=solution.found.last.model.basis.shape[0],
        uncoupled=tuple(
            mode.label
            for mode in mode_cutoffs(horn.guide, float(frequency[-1]))
            if mode.label not in ours
        ),
        picture=lambda at: picture(solution, at),
        ratios=lambda at: ratios(solution, at),
        about=f"m = {problem.order}",
    )
    if isinstance(problem, WalledHorn):
        return _radiating(solved, problem.waves)
    bare = problem
    return replace(
        solved,
        radiation=lambda at: bare_radiation(bare, solution.found, solved.answers(np.asarray(at))),
    )


def solved_horn_in_quarter(
    horn: Horn, frequency: Array, s_error: float, report: Progress | None
) -> SolvedPart:
    """Solve a horn in a wall in a quarter of the space, on a circular guide too.

    Parameters
    ----------
    horn, frequency, s_error, report
        As those of `solved_horn`.
    """
    problem = QuarterHorn(horn, frequency, s_error)
    found = search_levels(problem, s_error, report)
    solution: Solution[SpaceProblem] = Solution(problem, frequency, found)
    solved = solved_part_of(
        solution,
        s_error,
        method="curl-curl equation for E in a quarter of the space between two mirror planes, edge "
        f"elements of order {solution.found.order} on hexahedra, spherical waves before the wall "
        "matched exactly, reduced-model sweep",
        unknowns=solution.found.last.model.basis.shape[0],
        uncoupled=apart(problem, float(frequency[-1])),
        picture=lambda at: space_picture(solution, at, mirrors=DRIVEN_MIRRORS),
        ratios=lambda at: ratios_in_space(solution, at),
        about="m = 1" if isinstance(horn, ConicalHorn) else "m = 1, 3, 5",
    )
    return _radiating(solved, problem.waves)


def _radiating(solved: SolvedPart, waves: SphericalWaves | RevolvedWaves) -> SolvedPart:
    """With what is radiated, which is the purpose of the part and no leakage."""
    ports = len(solved.port_modes)

    def radiation(at: Array) -> Radiation:
        return radiation_of(solved.answers(np.asarray(at)), waves, ports, solved.weights)

    return replace(solved, leaked_power=None, leaked_error=None, radiation=radiation)
