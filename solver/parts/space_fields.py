"""Pictures of the field in a part solved in three dimensions."""

from __future__ import annotations

import numpy as np

from geometries.arrays import ComplexArray
from solver.fem.field_samples import sampled
from solver.parts.field_picture import FieldPicture
from solver.parts.solution import Solution
from solver.parts.space_solver import SpaceProblem
from solver.waves.matched_ports import flux_of_first


def space_unknowns(solution: Solution[SpaceProblem], frequency: float) -> ComplexArray:
    """Unknowns of the electric field for a wave that enters in the first port mode.

    Parameters
    ----------
    solution : Solution
    frequency : float
        [Hz]

    Returns
    -------
    (n_dofs,) complex array
        Walls included; the incident mode has unit amplitude (unit integral of e^2).
    """
    model, space = solution.found.last.model, solution.found.space
    q = solution.problem.squared_at(np.array([frequency]))
    y = solution.problem.admittance_at(q)[0]
    flux = flux_of_first(model.impedance(q)[0], y)
    unknowns = np.zeros(space.n_dofs, dtype=complex)
    # a mode of unit amplitude has more on the part of its port that is meshed
    unknowns[space.free_dofs] = model.field(float(q[0]), flux) / np.sqrt(solution.found.mesh.images)
    return unknowns


def space_picture(solution: Solution[SpaceProblem], frequency: float) -> FieldPicture:
    """Magnitude of E for a wave in the first port mode, over the peak of that wave alone.

    Parameters
    ----------
    solution : Solution
    frequency : float
        [Hz]

    Returns
    -------
    FieldPicture
        On tetrahedra.
    """
    points, cells, size = sampled(solution.found.space, space_unknowns(solution, frequency))
    peak = solution.problem.modes[0][0].peak
    return FieldPicture(points, cells, (size / peak).astype(complex), frequency, "E")
