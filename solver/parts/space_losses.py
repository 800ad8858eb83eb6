"""Wall loss of parts in three dimensions at first order in the surface impedance.

Retaining the tangential electric field on the walls and eliminating it to first order
subtracts ``Zs/(j k eta)`` times the integral of ``(n x curl u) . (n x curl v)`` over the
walls.  That term is projected on the reduced model, so loss needs no new factorisation.
The ports carry the modes of the lossy guide, each taken by itself: in a guide where a TE
and a TM mode of one cutoff both propagate, the walls couple them and their split is not
resolved.

References
----------
J. D. Jackson, "Classical Electrodynamics", 3rd ed., 1999, sections 8.1 and 8.5
(surface impedance and perturbation of boundary conditions); the projection is derived
here.
"""

from __future__ import annotations

from collections.abc import Callable

import numpy as np

from geometries.arrays import Array, ComplexArray
from solver.fem.edge_space import EdgeSpace, edge_space
from solver.fem.field_samples import wall_current_matrix
from solver.fem.loss_doubt import LossyAnswer, lossy_answer
from solver.fem.reduced_model import ReducedModel, Sweep
from solver.parts.solution import Solution
from solver.parts.space_solver import SpaceProblem
from solver.waves.guide_modes import ETA0, SPEED_OF_LIGHT
from solver.waves.guide_power import surface_resistance
from solver.waves.matched_ports import outgoing_root
from solver.waves.mode_walls import outline_integrals
from solver.waves.open_boundaries import open_scattering


def lossy_scattering_in_space(
    solution: Solution[SpaceProblem], conductivity: float
) -> ComplexArray:
    """Scattering matrix of a solved part with walls of finite conductivity.

    Parameters
    ----------
    solution : Solution
        The same part without loss.
    conductivity : float
        Conductivity of the smooth walls [S/m].

    Returns
    -------
    (n, m, m) complex array
        Over the modes of the problem, at the reference planes.
    """
    found = solution.found
    lossy = _answer(solution.problem, found.space, found.last.model, conductivity)
    return lossy(solution.frequency)


def lossy_in_space(
    solution: Solution[SpaceProblem], conductivity: float
) -> Callable[[Array], LossyAnswer]:
    """As `solver.fem.loss_doubt.lossy_answer`, of a part solved in space."""
    problem, found = solution.problem, solution.found

    def with_walls(sweep: Sweep, order: int) -> Callable[[Array], ComplexArray]:
        space = found.space if order == found.order else edge_space(found.mesh.mesh, order)
        return _answer(problem, space, sweep.model, conductivity)

    return lossy_answer(problem, found, with_walls)


def _answer(
    problem: SpaceProblem, space: EdgeSpace, model: ReducedModel, conductivity: float
) -> Callable[[Array], ComplexArray]:
    fields = np.zeros((space.n_dofs, len(model.poles)))
    fields[space.free_dofs] = model.basis @ model.vectors
    walls = wall_current_matrix(space, fields)
    return lambda frequency: scattering_with_walls(problem, model, walls, conductivity, frequency)


def scattering_with_walls(
    problem: SpaceProblem,
    model: ReducedModel,
    walls: Array,
    conductivity: float,
    frequency: Array,
) -> ComplexArray:
    """Scattering with walls that lose power, from what they add to a reduced model.

    Parameters
    ----------
    problem : SpaceProblem
    model : ReducedModel
        Without loss.
    walls : (r, r) array
        Integrals of its modes over the walls; see `wall_current_matrix`.
    conductivity : float
        [S/m]
    frequency : (n,) array
        [Hz]

    Returns
    -------
    (n, m, m) complex array
    """
    factor, squared = wall_factor(frequency, conductivity), problem.squared_at(frequency)
    impedance = np.empty((len(factor), *[model.columns.shape[1]] * 2), dtype=complex)
    for i, q in enumerate(squared):
        matrix = np.diag(model.poles - q) - factor[i] * walls
        impedance[i] = model.columns.T @ np.linalg.solve(matrix, model.columns)
    beta, admittance = _lossy_modes(problem, squared, factor)
    listed = zip(problem.ports, problem.modes, strict=True)
    feeds = np.concatenate([np.full(len(modes), port.feed_length) for port, modes in listed])
    phase = np.where(problem.phase_constants(squared).real > 0, beta, 0.0) * feeds
    return open_scattering(impedance, admittance, phase, problem.boundaries, squared)


def wall_factor(frequency: Array, conductivity: float) -> ComplexArray:
    """Surface impedance over j k eta, (n,) [m]."""
    k = 2 * np.pi * frequency / SPEED_OF_LIGHT
    return np.asarray((1 - 1j) * surface_resistance(conductivity, frequency) / (k * ETA0))


def _lossy_modes(
    problem: SpaceProblem, at: Array, factor: ComplexArray
) -> tuple[ComplexArray, ComplexArray]:
    """Phase constants and admittances (n, m) of the port modes between lossy walls."""
    modes = [mode for kept in problem.modes for mode in kept]
    electric = np.array([mode.kind == "TE" for mode in modes])
    integrals = [outline_integrals(mode) for mode in modes]
    along = np.array([values.along for values in integrals])
    across = np.array([values.across for values in integrals])
    q, f = at[:, None], factor[:, None]
    squared = problem.phase_constants(at) ** 2
    squared = squared + f * np.where(electric, across + squared * along, q * along)
    beta = outgoing_root(squared)
    beta = np.where(beta == 0, 1e-9, beta)
    # the walls take their part of the axial flux of a TE mode
    return beta, np.where(electric, beta * (1 - f * along), q / beta)
