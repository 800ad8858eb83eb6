"""What a part whose ports stand near answers, whichever way it was solved."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import numpy as np

from geometries.arrays import Array, ComplexArray
from solver.fem.level_ladder import LevelResult
from solver.fem.level_problem import LevelProblem
from solver.fem.loss_doubt import LossyAnswer
from solver.parts.plane_losses import second_order
from solver.runs.cluster import Waves
from solver.waves.guide_modes import entering_cutoff
from solver.waves.walls import Walls


def waves_of(problem: LevelProblem, found: LevelResult, model: Any) -> Waves:
    """Return what gives S of a reduced model at frequencies (n,) [Hz]."""

    def at(f: Array) -> ComplexArray:
        q = problem.squared_at(f)
        return problem.scattering(found.mesh, model.impedance(q), q)

    return at


def solved_waves(problem: LevelProblem, found: LevelResult) -> dict[str, Any]:
    """Return what was solved without loss, by the names of `NearMember`'s fields."""
    before = found.last.before
    return {
        "levels": tuple(waves_of(problem, found, model) for model in found.levels),
        "before": None if before is None else waves_of(problem, found, before),
        "least_ratio": problem.least_ratio[found.refinement],
    }


def lossy_waves(
    part: Any, walls: Walls | None, answer: Callable[[float], Callable[[Array], LossyAnswer]]
) -> dict[str, Any]:
    """Return what walls change, by the names of `NearMember`'s fields.

    Parameters
    ----------
    part : Part
    walls : Walls or None
    answer : callable
        Gives, for the conductivity [S/m], S with walls at frequencies (n,) [Hz]; called only where
        there are walls.
    """
    if walls is None:
        return {"lossy": None, "share": np.zeros_like}
    conductivity, lossy = walls.conductivity, answer(walls.conductivity)
    length, cutoff = part.axis_length, entering_cutoff(part)

    def share(f: Array) -> Array:
        return np.asarray(lossy(f).share + second_order(f, conductivity, length, cutoff))

    return {"lossy": lambda f: lossy(f).s, "share": share}
