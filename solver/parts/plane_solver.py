"""Scattering of parts that reduce exactly to a plane, with an error bar.

The part is solved in four nested spaces, of degree p - 3 to p on one mesh.
How fast successive answers draw together gives the bar of the last one; while the bar
is above what was asked, the degree rises, and then the mesh is refined.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace

import numpy as np

from geometries.arrays import Array
from geometries.plane_meshes.parts_in_plane import mesh_in_plane
from geometries.plane_meshes.plane_mesh import PlaneMesh, feed_length
from geometries.shapes.bends import width_in_plane
from geometries.shapes.guides import RectangularGuide
from geometries.shapes.part import Part
from solver.errors import UnsupportedPartError
from solver.fem.level_search import search_levels
from solver.parts.scalar_problem import ScalarProblem
from solver.parts.solution import Solution
from solver.progress import Progress
from solver.waves.plane_modes import PlaneModes, modes_for

#: Degrees tried on one mesh before it is refined, and refinements tried.
DEGREES = (6, 7, 8, 9, 10)
REFINEMENTS = (0, 1, 2)
#: Every mesh is graded towards its singular edges.
RATIOS: Mapping[int, float] = dict.fromkeys(REFINEMENTS, 0.05)


def plane_of(part: Part) -> str:
    """Plane in which a part is solved; a straight part is taken in the H-plane."""
    if part.exact_plane is None:
        raise UnsupportedPartError(f"this {part.kind} has no plane to which its field reduces")
    return part.exact_plane


def plane_problem(part: Part, frequency: Array, s_error: float) -> ScalarProblem[PlaneModes]:
    """Set up a part in its plane.

    Parameters
    ----------
    part : Part
        With an exact plane.
    frequency : (n,) array
        Ascending frequencies above the cutoff of TE10 [Hz].
    s_error : float
        Wanted bound on the error of every S-parameter between propagating modes.

    Returns
    -------
    ScalarProblem
    """
    guide = part.guide
    if not isinstance(guide, RectangularGuide):
        raise TypeError("a part is solved in the plane only in rectangular guide")
    plane = plane_of(part)
    leftover = min(1e-3 * s_error, 1e-8)
    feed = feed_length(width_in_plane(guide, plane))
    modes = modes_for(guide, plane, float(frequency[-1]), feed, leftover)
    wavelength = 2 * np.pi / np.sqrt(modes.wavenumber_squared(np.asarray(frequency))[-1])

    def make_mesh(refinement: int) -> PlaneMesh:
        return mesh_in_plane(part, wavelength, plane=plane, refinement=refinement)

    orders = dict.fromkeys(REFINEMENTS, DEGREES)
    ports = len(part.guides)
    return ScalarProblem(make_mesh, modes, ports, frequency, s_error, orders, RATIOS, compared=4)


def solve_in_plane(
    part: Part,
    frequency: Array,
    s_error: float,
    report: Progress | None = None,
) -> Solution[ScalarProblem[PlaneModes]]:
    """Solve a part in its plane until the error bar is under what was asked.

    Parameters
    ----------
    part, frequency, s_error
        As those of `plane_problem`.
    report : callable, optional
        Is told in one line what is being done.

    Returns
    -------
    Solution
        With ``reached`` false when the accuracy could not be had.

    Raises
    ------
    MeshingError, LinearSolveError, ProblemSizeError
    """
    problem = plane_problem(part, frequency, s_error)
    found = search_levels(problem, s_error, report)
    error = found.error + problem.round_off(found, problem.squared)
    found = replace(found, error=error, reached=bool(error.max() <= s_error))
    return Solution(problem, np.asarray(frequency), found)
