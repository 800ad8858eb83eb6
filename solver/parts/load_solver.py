"""Loads, solved in their plane, in the shape that comes after every solver."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from geometries.arrays import Array
from geometries.shapes.loads import Load
from solver.fem.field_samples import largest_of_ellipse
from solver.fem.level_ladder import LevelResult
from solver.fem.level_search import search_levels
from solver.loads.heat import hottest_profile
from solver.loads.load_field import LoadField
from solver.loads.load_problem import LoadProblem, load_problem
from solver.parts.field_picture import FieldPicture
from solver.parts.peak_field import edge_distance
from solver.parts.plane_fields import cut_cell
from solver.parts.solution import Solution
from solver.parts.solved_part import SolvedPart, refuse_walls, solved_part_of
from solver.progress import Progress
from solver.waves.walls import Walls

#: Pieces along a cell's side, in pictures and for the largest field.
_PIECES, _READ = 5, 8


def solved_load(
    load: Load,
    frequency: Array,
    s_error: float,
    walls: Walls | None,
    report: Progress | None,
) -> SolvedPart:
    """Solve a load in its plane.

    Parameters
    ----------
    load : Load
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
    refuse_walls(load, walls)
    problem = load_problem(load, frequency, s_error)
    found = search_levels(problem, s_error, report)
    error = found.error + problem.round_off(found, problem.squared)
    found = replace(found, error=error, reached=bool(error.max() <= s_error))
    fields = "E along b" if load.plane == "H" else "E along a and in the plane, coupled,"
    return solved_part_of(
        Solution(problem, frequency, found),
        s_error,
        method=f"Maxwell's equations for {fields} in the {load.plane}-plane (exact reduction) with "
        f"the materials of the load, hierarchical elements of degree {found.order}, reduced-model "
        "sweep",
        unknowns=found.space.sizes[found.order],
        uncoupled=problem.modes.kept_apart(float(frequency[-1])),
        picture=lambda at: load_picture(problem, found, at),
        ratios=lambda at: np.array([_ratio(problem, found, float(f)) for f in at]),
        doubt=lambda squared: problem.round_off(found, squared),
        heat=lambda worst: hottest_profile(problem, found, frequency, worst),
    )


def load_picture(problem: LoadProblem, found: LevelResult, frequency: float) -> FieldPicture:
    """E along b for a TE10 wave that enters, over its peak, midway between the narrow walls."""
    field = LoadField.of_model(problem, found.space, found.last.model, frequency)
    grid, pieces = cut_cell(3, _PIECES)
    cells = np.arange(field.mesh.t.shape[1])
    values = field.values(grid, cells)[1 if field.vector else 0].ravel() / _entering(problem)
    points = field.mesh._mapping().F(grid).reshape(2, -1)
    first = np.arange(len(cells)) * grid.shape[1]
    triangles = (pieces[:, None, :] + first[None, :, None]).reshape(3, -1)
    halves = [1.0]
    if problem.load.symmetric:  # the other half is the mirror image
        triangles = np.concatenate([triangles, triangles + len(values)], axis=1)
        points = np.concatenate([points, points * [[1.0], [-1.0]]], axis=1)
        values, halves = np.tile(values, 2), [1.0, -1.0]
    name = "E along b"
    if field.vector:  # E has a component along a too, which no picture of the plane holds
        return FieldPicture(points, triangles, values, frequency, name, axes=("z", "y"))
    none = np.zeros_like(values)
    along, across = (h.ravel() / _entering(problem) for h in field.magnetic_field(grid, cells))
    # a magnetic mirror turns H along the axis
    magnetic = [np.concatenate([along * s for s in halves]), np.tile(across, len(halves)), none]
    return FieldPicture(
        points,
        triangles,
        values,
        frequency,
        name,
        np.stack([none, none, values]),
        np.stack(magnetic),
        ("z", "x"),
    )


def _entering(problem: LoadProblem) -> float:
    """Peak of the entering wave whose squared field has unit integral [m^-1/2]."""
    modes = problem.modes
    return float(np.sqrt((2.0 if modes.plane == "H" else 1.0) / modes.width))


def _ratio(problem: LoadProblem, found: LevelResult, frequency: float) -> float:
    """Largest electric field over that of the entering wave alone."""
    field = LoadField.of_model(problem, found.space, found.last.model, frequency)
    sides = field.mesh.p[:, field.mesh.t]
    size = np.linalg.norm(sides - np.roll(sides, 1, axis=1), axis=0).max(axis=0)
    sharp = problem.load.has_sharp_edges
    cells = np.flatnonzero(size > edge_distance(problem.load.guide) * sharp)
    values = field.values(cut_cell(3, _READ)[0], cells)
    most = float(np.abs(values[0]).max())
    if field.vector:
        most = float(np.maximum(largest_of_ellipse(values[:2]), np.abs(values[2])).max())
    return most / _entering(problem)
