"""What the shape of a mesh with straight edges leaves open, as part of the error bar.

Straight edges that stand for a curved wall are bent before the part is solved.  How far that
moves S is found by solving both shapes in one coarse space, in which the errors of the
discretisation are nearly the same; the whole difference goes into the bar.
"""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from geometries.space_ports import SpaceMesh
from solver.level_search import LevelResult
from solver.reduced_model import ReducedModel, sweep

if TYPE_CHECKING:
    from solver.space_solver import SpaceProblem

#: Order of the elements with which both shapes are solved.
_ORDER = 3


def with_shape_doubt(problem: SpaceProblem, found: LevelResult, s_error: float) -> LevelResult:
    """Add to the bar by how much the guess at curved walls moves S.

    Parameters
    ----------
    problem : SpaceProblem
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
    difference = np.abs(_response(problem, found.mesh) - _response(problem, original))
    doubt = difference.reshape(len(difference), -1).max(axis=1)
    error = found.error + doubt
    step = {"order": _ORDER, "refinement": 0, "unknowns": found.steps[-1]["unknowns"]}
    return replace(
        found,
        error=error,
        reached=bool(error.max() <= s_error),
        steps=(*found.steps, step | {"bar": float(error.max()), "shape": float(doubt.max())}),
    )


def _response(problem: SpaceProblem, mesh: SpaceMesh) -> NDArray[np.complex128]:
    _, pencil = next(problem.spaces(mesh, (_ORDER,)))

    def respond(model: ReducedModel) -> NDArray[np.complex128]:
        s = problem.scattering(mesh, model.impedance(problem.squared))
        return np.where(problem.among, s, 0.0)

    found = sweep(
        pencil.stiffness,
        pencil.mass,
        pencil.columns,
        problem.squared,
        respond,
        1e-6,
        (),
        problem.moving,
    )
    return found.response
