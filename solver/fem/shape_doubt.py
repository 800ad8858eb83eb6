"""What the shape of a mesh with straight edges leaves open, as part of the error bar.

Straight edges that stand for a curved wall are bent before the part is solved.  How far that
moves S is found by solving both shapes in one coarse space, in which the errors of the
discretisation are nearly the same; the whole difference goes into the bar.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import Any

import numpy as np

from geometries.arrays import Array, ComplexArray
from geometries.cells.space_ports import SpaceMesh
from solver.fem.level_ladder import LevelResult
from solver.fem.level_problem import LevelProblem, counted_answer
from solver.fem.reduced_model import ReducedModel, sweep

#: Order of the elements with which both shapes are solved.
_ORDER = 3


def with_shape_doubt(problem: LevelProblem, found: LevelResult, s_error: float) -> LevelResult:
    """Add to the bar by how much the guess at curved walls moves S.

    Parameters
    ----------
    problem : LevelProblem
    found : LevelResult
        Of a mesh that may have a straight-edged original.
    s_error : float
        Wanted bound on the error.

    Returns
    -------
    LevelResult
        Unchanged if the mesh's shape is not in doubt.
    """
    original = found.mesh.original
    if original is None:
        return found
    shapes = tuple((mesh, _model(problem, mesh)) for mesh in (found.mesh, original))
    doubt = shape_doubt(problem, shapes, problem.squared)
    error = found.error + doubt
    step = {"order": _ORDER, "refinement": 0, "unknowns": found.steps[-1]["unknowns"]}
    return replace(
        found,
        error=error,
        shapes=shapes,
        reached=bool(error.max() <= s_error),
        steps=(*found.steps, step | {"bar": float(error.max()), "shape": float(doubt.max())}),
    )


def shape_doubt(
    problem: LevelProblem, shapes: Sequence[tuple[Any, ReducedModel]], squared: Array
) -> Array:
    """By how much two shapes solved in one space differ at q (n,), (n,); 0 without any.

    Parameters
    ----------
    problem : LevelProblem
    shapes : sequence of (mesh, ReducedModel)
        None, or two.
    squared : (n,) array
    """
    if not shapes:
        return np.zeros(len(squared))
    one, other = (_answer(problem, *shape, squared) for shape in shapes)
    return np.asarray(np.abs(one - other).reshape(len(squared), -1).max(axis=1))


def _answer(problem: LevelProblem, mesh: Any, model: ReducedModel, squared: Array) -> ComplexArray:
    return counted_answer(problem, mesh, model, squared, np.ones(model.columns.shape[1]))


def _model(problem: LevelProblem, mesh: SpaceMesh) -> ReducedModel:
    _, pencil = next(problem.spaces(mesh, (_ORDER,)))
    found = sweep(
        pencil.stiffness,
        pencil.mass,
        pencil.columns,
        problem.squared,
        lambda model: _answer(problem, mesh, model, problem.squared),
        1e-6,
        (),
        problem.moving,
    )
    return found.model.bare
