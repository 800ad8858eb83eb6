"""Scattering of flexible guides: one group of convolutions condensed, and joined to the whole.

A few convolutions, whole or as a quarter between mirrors, are solved by edge elements and
condensed onto the fields that still pass from one cut to the next; so is each end, with the feed
before it. The row of them is the problem whose reduced model is swept. Its orders are compared
once joined, so that what adds up from convolution to convolution is in the bar; what the
condensation leaves out is found by leaving out more.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import replace
from typing import Any

import numpy as np

from geometries.arrays import Array, ComplexArray
from geometries.shapes.flexibles import Flexible
from geometries.space_meshes.flexible_blocks import placed
from solver.fem.level_ladder import LevelResult
from solver.fem.level_problem import counted_answer
from solver.fem.level_search import search_levels
from solver.fem.loss_doubt import LossyAnswer, lossy_answer
from solver.fem.reduced_model import ReducedModel, Sweep, sweep
from solver.fem.shape_doubt import shape_doubt
from solver.parts.field_picture import DRIVEN_MIRRORS, FieldPicture
from solver.parts.flexible_problem import FlexibleProblem
from solver.parts.peak_readings import ratios_in_space
from solver.parts.plane_losses import second_order
from solver.parts.solution import Solution
from solver.parts.solved_part import SolvedPart, solved_part_of
from solver.parts.space_fields import space_picture
from solver.parts.space_losses import lossy_in_space, scattering_with_walls
from solver.parts.space_solver import apart
from solver.periodic.periodic_guide import PeriodicGuide, periodic_guide
from solver.periodic.row_fields import largest_in_row, sampled_row
from solver.progress import Progress
from solver.waves.guide_modes import entering_cutoff, phase_constant
from solver.waves.guide_power import attenuation_te10
from solver.waves.matched_ports import flux_of_first
from solver.waves.walls import Walls

#: Frequencies on each half wave that the piece gains over the band.
_PER_RIPPLE = 6


def solve_flexible(
    problem: FlexibleProblem, frequency: Array, s_error: float, report: Progress | None = None
) -> Solution[FlexibleProblem]:
    """Solve a flexible guide until the error bar is under what was asked.

    Raises
    ------
    MeshingError, LinearSolveError, ProblemSizeError
    """
    frequency = np.asarray(frequency)
    low, high = frequency[0], frequency[-1]
    # the sweep is settled where S is compared: close enough that no ripple passes between
    ripples = np.ptp(phase_constant(problem.part.guide, frequency)) * problem.part.axis_length
    comb = np.linspace(low, high, 2 + int(_PER_RIPPLE * ripples / np.pi))
    dense = np.unique(np.concatenate([frequency, comb[1:-1]]))
    search = FlexibleProblem(problem.part, dense, s_error, problem.whole)
    found = search_levels(search, s_error, report)
    if not problem.whole:
        found = _with_condensation_doubt(search, found, s_error)
    problem.take_rows(search)
    listed = np.searchsorted(dense, frequency)
    found = replace(found, s=found.s[listed], error=found.error[listed])
    return Solution(problem, frequency, found)


def _with_condensation_doubt(
    problem: FlexibleProblem, found: LevelResult, s_error: float
) -> LevelResult:
    """Add to the bar by how much S moves where ten times as much is left out."""
    pencil = found.space.coarser
    alike = np.ones(pencil.columns.shape[1])

    def respond(model: ReducedModel) -> ComplexArray:
        return counted_answer(problem, found.mesh, model, problem.squared, alike)

    matrices = (pencil.stiffness, pencil.mass, pencil.columns)
    fewer = sweep(*matrices, problem.squared, respond, 1e-7, moving=problem.moving)
    shapes = ((found.mesh, found.last.model.bare), (found.mesh, fewer.model.bare))
    doubt = shape_doubt(problem, shapes, problem.squared)
    error = found.error + doubt
    last = found.steps[-1] | {"bar": float(error.max()), "condensation": float(doubt.max())}
    return replace(
        found,
        error=error,
        shapes=shapes,
        reached=bool(error.max() <= s_error),
        steps=(*found.steps, last),
    )


def solved_flexible(
    part: Flexible,
    frequency: Array,
    s_error: float,
    walls: Walls | None,
    report: Progress | None,
) -> SolvedPart:
    """Solve a flexible guide.

    Parameters
    ----------
    part : Flexible
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
    MeshingError, LinearSolveError, ProblemSizeError
    """
    problem = FlexibleProblem(part, frequency, s_error)
    solution = solve_flexible(problem, frequency, s_error, report)
    found, lossy = solution.found, None
    if walls is not None:
        lossy = lossy_flexible(solution, walls.conductivity)
    solved = solved_part_of(
        solution,
        s_error,
        method=_method(problem, found),
        unknowns=found.last.model.basis.shape[0] if problem.whole else found.space.unknowns,
        uncoupled=apart(problem, float(frequency[-1])),
        picture=lambda at: _picture(solution, at),
        ratios=lambda at: _ratios(solution, at),
        lossy=lossy,
        second=_second_order(part, walls),
    )
    return replace(solved, periodic=lambda: _periodic(solution, solved.s, walls))


def _second_order(part: Flexible, walls: Walls | None) -> Callable[[Array], Array]:
    if walls is None:
        return np.zeros_like
    # along the convolutions' walls, where they are steepest
    slope = np.pi * part.convolution_depth / part.pitch
    length = part.axis_length * float(np.hypot(1.0, slope))
    cutoff = entering_cutoff(part)
    return lambda frequency: second_order(frequency, walls.conductivity, length, cutoff)


def _method(problem: FlexibleProblem, found: LevelResult) -> str:
    images = {2: "a half between mirrors", 4: "a quarter between mirrors"}[found.mesh.images]
    text = (
        f"curl-curl equation for E in three dimensions, {images}, edge elements of order "
        f"{found.order} on hexahedra, "
    )
    if problem.whole:
        return f"{text}all convolutions in one mesh, reduced-model sweep"
    pieces = problem.pieces
    return (
        f"{text}{pieces.count} equal cells of {pieces.cell} convolutions and two ends of "
        f"{pieces.end}, condensed onto {found.space.chain.cell.on_cut} fields a cut and joined, "
        "reduced-model sweep"
    )


def lossy_flexible(solution: Solution[Any], conductivity: float) -> Callable[[Array], LossyAnswer]:
    """As `solver.fem.loss_doubt.lossy_answer`, of a flexible guide."""
    problem, found = solution.problem, solution.found
    if problem.whole:
        return lossy_in_space(solution, conductivity)

    def with_walls(sweep: Sweep, order: int) -> Callable[[Array], ComplexArray]:
        space = found.space if order == found.order else problem.row(found.mesh, order)
        walls = space.wall_currents(sweep.model.basis @ sweep.model.vectors)
        return lambda at: scattering_with_walls(problem, sweep.model, walls, conductivity, at)

    return lossy_answer(problem, found, with_walls, smooth=True)


def _amplitudes(solution: Solution[Any], frequency: float) -> ComplexArray:
    """Amplitudes of the row for a wave of unit amplitude in the first port mode."""
    problem, model = solution.problem, solution.found.last.model
    q = problem.squared_at(np.array([frequency]))
    flux = flux_of_first(model.impedance(q)[0], problem.admittance_at(q)[0])
    return np.asarray(model.field(float(q[0]), flux) / np.sqrt(solution.found.mesh.images))


def _picture(solution: Solution[Any], frequency: float) -> FieldPicture:
    problem = solution.problem
    part, pieces = problem.part, problem.pieces
    mirrors = tuple(mirror for mirror in DRIVEN_MIRRORS if "xy"[mirror.axis] in part.mirrors)
    if problem.whole:
        return space_picture(solution, frequency, mirrors=mirrors)

    def there(number: int, points: Array) -> Array:
        if number > pieces.count:
            return placed(part, points, part.count, mirrored=True)
        plane = pieces.end + (number - 1) * pieces.cell if number else 0
        return placed(part, points, plane)

    amplitudes = _amplitudes(solution, frequency)
    points, cells, size = sampled_row(solution.found.space, amplitudes, there)
    values = (size / problem.modes[0][0].peak).astype(complex)
    return FieldPicture(points, cells, values, frequency, "E", mirrors=mirrors)


def _ratios(solution: Solution[Any], frequency: Array) -> Array:
    """Largest field over that of the entering wave alone, at frequencies (n,) [Hz]."""
    if solution.problem.whole:
        return ratios_in_space(solution, frequency)
    amplitudes = np.array([_amplitudes(solution, float(f)) for f in frequency]).T
    largest = largest_in_row(solution.found.space, amplitudes)
    return largest / solution.problem.modes[0][0].peak


def _periodic(
    solution: Solution[FlexibleProblem], s: ComplexArray, walls: Walls | None
) -> PeriodicGuide:
    problem, found, frequency = solution.problem, solution.found, solution.frequency
    part, cell = problem.part, problem.pieces.cell
    row, before = (
        problem.cell(found.refinement, order)
        if problem.whole
        else problem.row(found.mesh, order).cell
        for order in (found.order, found.order - 1)
    )
    # the phase of the mean guide tells which turn of the angle it is
    about = phase_constant(part.mean_guide, frequency) * cell * part.pitch
    guide = periodic_guide(row.period, before.period, frequency, cell, part.pitch, about)
    if walls is None:
        return guide
    modes = len(problem.modes[0])
    passed = np.abs(s[:, modes, 0]) ** 2 / (1 - np.abs(s[:, 0, 0]) ** 2)
    alone = attenuation_te10(part.guide, frequency, walls.conductivity) * part.axis_length
    return replace(guide, extra_loss=-10 * np.log10(passed) - 20 / math.log(10) * alone)
