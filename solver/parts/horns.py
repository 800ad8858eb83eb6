"""Horns in a wall: set up out to a half sphere before it, and solved with what they radiate.

TM01 does not vary about the axis: psi = r H_phi is solved in the half-plane, as in a joint. TE10
and TE11 with E along y see the plane x = 0 as a magnetic and y = 0 as an electric wall: E is solved
in a quarter of the space. The half sphere is an open boundary whose spherical waves leave each with
an admittance of its own, so that nothing has to absorb them.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import replace

import numpy as np

from geometries.arrays import Array
from geometries.cells.space_ports import FEED, SpaceMesh
from geometries.plane_meshes.horn_mesh import HornChart, mesh_horn
from geometries.plane_meshes.plane_mesh import PlaneMesh, PlanePort
from geometries.shapes.horns import ConicalHorn, Horn, RectangularHorn
from geometries.space_meshes.horn_blocks import horn_blocks, sphere_about
from solver.errors import UnsupportedPartError
from solver.fem.edge_space import EdgeSpace
from solver.fem.level_problem import Pencil
from solver.fem.level_search import search_levels
from solver.fem.loaded_snapshots import Driven
from solver.fem.scalar_field import PlaneSystem
from solver.parts.bare_horns import solved_bare_horn
from solver.parts.half_plane_solver import half_plane_picture
from solver.parts.peak_readings import ratios_in_half_plane, ratios_in_space
from solver.parts.scalar_problem import ScalarProblem
from solver.parts.solution import Solution
from solver.parts.solved_part import SolvedPart, refuse_walls, solved_part_of
from solver.parts.space_fields import space_picture
from solver.parts.space_solver import SpaceProblem, apart
from solver.progress import Progress
from solver.waves.guide_modes import SPEED_OF_LIGHT, mode_cutoffs
from solver.waves.half_plane_modes import HalfPlaneModes, half_plane_modes
from solver.waves.radiation import Radiation, radiation_of
from solver.waves.spherical_waves import (
    RevolvedWaves,
    SphericalWaves,
    revolved_waves,
    spherical_waves,
)
from solver.waves.walls import Walls

#: Degrees and orders tried on one mesh before it is refined, in the half-plane and in the quarter.
DEGREES: Mapping[int, Sequence[int]] = {0: (8, 9, 10), 1: (8, 9, 10)}
ORDERS: Mapping[int, Sequence[int]] = {0: (4, 5, 6), 1: (5, 6)}
#: What the innermost cells leave falls slowly with the degree.
RATIOS: Mapping[int, float] = {0: 0.5, 1: 0.5}
#: What a spherical wave left out may still return, over the wanted accuracy.
LEFTOVER = 0.01


class HalfPlaneHorn(ScalarProblem[HalfPlaneModes]):
    """A TM01 horn in its half-plane, as the search over levels asks for it.

    Parameters
    ----------
    horn : ConicalHorn
    frequency : (n,) array
        Ascending, above the cutoff of TM01 [Hz].
    s_error : float
    """

    def __init__(self, horn: ConicalHorn, frequency: Array, s_error: float) -> None:
        highest = float(frequency[-1])

        def make_mesh(refinement: int) -> PlaneMesh:
            return mesh_horn(horn, SPEED_OF_LIGHT / highest, refinement)

        first, leftover = make_mesh(0), min(1e-3 * s_error, 1e-8)
        chart = first.chart
        assert isinstance(chart, HornChart)
        self.chart = chart
        modes = half_plane_modes(horn.guide, highest, first.ports[0].feed_length, leftover)
        k = 2 * math.pi * highest / SPEED_OF_LIGHT
        self.waves: RevolvedWaves = revolved_waves(chart.sphere, chart.aperture, k, leftover)
        super().__init__(
            make_mesh,
            modes,
            1,
            frequency,
            s_error,
            DEGREES,
            RATIOS,
            compared=3,
            boundaries=(self.waves,),
        )
        guided = np.flatnonzero(self.moving[: modes.count])
        self.driven = Driven(guided, self.admittance_at)

    def functions(self, port: PlanePort, t: Array) -> Array:
        """Functions of a port's waves over its coordinate, the map's stretch taken along."""
        if port.name == "port1":
            scale = self.modes.guide.radius / self.chart.aperture
            return scale * self.modes.functions(port, scale * t)
        theta, rate = self.chart.polar_angle(port.name, t)
        return self.waves.fields(theta) * rate * self.chart.sphere

    def spaces(
        self, mesh: PlaneMesh, orders: Sequence[int]
    ) -> Iterator[tuple[PlaneSystem, Pencil]]:
        """Take the spaces of ascending degrees; the half sphere has two stretches in the mesh."""
        guided, count = self.modes.count, self.waves.count
        for system, pencil in super().spaces(mesh, orders):
            ends = pencil.columns[:, guided:]
            columns = [pencil.columns[:, :guided], ends[:, :count] + ends[:, count:]]
            loaded = replace(pencil, columns=np.concatenate(columns, axis=1), driven=self.driven)
            yield system, loaded


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
        )
        guided = np.flatnonzero(self.moving[: len(self.port_modes)])
        self.driven_columns = Driven(guided, self.admittance_at)

    def spaces(self, mesh: SpaceMesh, orders: Sequence[int]) -> Iterator[tuple[EdgeSpace, Pencil]]:
        """Assemble the spaces of ascending orders."""
        for space, pencil in super().spaces(mesh, orders):
            yield space, replace(pencil, driven=self.driven_columns)


def solved_horn(
    horn: Horn, frequency: Array, s_error: float, walls: Walls | None, report: Progress | None
) -> SolvedPart:
    """Solve a horn: TM01 in its half-plane, all else in a quarter of the space.

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
        For walls that lose power, and for a rim without a wall about it.
    MeshingError, LinearSolveError, ProblemSizeError
    """
    refuse_walls(horn, walls)
    if horn.rim == "bare" and isinstance(horn, RectangularHorn):
        return solved_bare_horn(horn, frequency, s_error, report)
    if horn.rim == "bare":
        raise UnsupportedPartError(
            'a horn with rim = "bare" is not computed: take rim = "wall", whose reflection is '
            "close where the aperture is wide, or a limit that leaves room for the difference"
        )
    if isinstance(horn, ConicalHorn) and horn.mode == "TM01":
        return _in_half_plane(horn, frequency, s_error, report)
    return _in_quarter(horn, frequency, s_error, report)


def _in_half_plane(
    horn: ConicalHorn, frequency: Array, s_error: float, report: Progress | None
) -> SolvedPart:
    problem = HalfPlaneHorn(horn, frequency, s_error)
    found = search_levels(problem, s_error, report)
    solution: Solution[ScalarProblem[HalfPlaneModes]] = Solution(problem, frequency, found)
    order, highest = solution.found.order, float(frequency[-1])
    solved = solved_part_of(
        solution,
        s_error,
        method="scalar Helmholtz equation for r H_phi in the half-plane (exact reduction), "
        f"hierarchical elements of degree {order}, spherical waves before the wall matched "
        "exactly, reduced-model sweep",
        unknowns=solution.found.space.sizes[order],
        uncoupled=tuple(
            mode.label
            for mode in mode_cutoffs(horn.guide, highest)
            if mode.kind == "TE" or mode.m > 0
        ),
        picture=lambda at: half_plane_picture(solution, at),
        ratios=lambda at: ratios_in_half_plane(solution, at),
        about="m = 0",
    )
    return _radiating(solved, problem.waves)


def _in_quarter(
    horn: Horn, frequency: Array, s_error: float, report: Progress | None
) -> SolvedPart:
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
        picture=lambda at: space_picture(solution, at),
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
