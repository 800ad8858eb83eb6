"""Wall loss of plane parts at first order in the surface impedance.

The walls' term is projected on the reduced model, so loss needs no new factorisation.
H-plane parts: retaining the tangential E on the walls and eliminating it to first order
subtracts ``Zs/(j k eta)`` times the integral of the products of the curls on the walls,
per unit height ``(du/dn, dv/dn)_walls + (2/b) (grad u, grad v)``.  E-plane parts, solved
for H, gain ``j k Zs/eta`` times the integral of the products of tangential H, which the
factor sin(pi x/a) turns into ``(u, v)_walls`` and the terms below.  Both give the
textbook attenuation of TE10 when the part is straight.

References
----------
J. D. Jackson, "Classical Electrodynamics", 3rd ed., 1999, sections 8.1 and 8.5
(surface impedance and perturbation of boundary conditions); the reduction to the plane
is derived here.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from geometries.arrays import Array, ComplexArray
from solver.elements.conical_rules import gauss_jacobi
from solver.fem.loss_doubt import LossyAnswer, lossy_answer
from solver.fem.reduced_model import ReducedModel
from solver.fem.scalar_field import PlaneSystem
from solver.parts.scalar_problem import ScalarProblem
from solver.parts.solution import Solution
from solver.waves.guide_modes import ETA0, SPEED_OF_LIGHT
from solver.waves.guide_power import surface_resistance
from solver.waves.matched_ports import outgoing_root
from solver.waves.plane_modes import PlaneModes


@dataclass(frozen=True, eq=False)
class WallTerms:
    """Integrals over the walls among the modes of a reduced model.

    Parameters
    ----------
    flux : (r, r) array
        ``(du/dn, dv/dn)`` over the walls that bound the plane.
    value : (r, r) array
        ``(u, v)`` over them.
    slope : (r, r) array
        ``(du/ds, dv/ds)`` over them.
    """

    flux: Array
    value: Array
    slope: Array


def lossy_scattering(
    solution: Solution[ScalarProblem[PlaneModes]], conductivity: float
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
        As `Solution.s`.
    """
    return _answer(solution, solution.found.last.model, conductivity)(solution.frequency)


def lossy_in_plane(
    solution: Solution[ScalarProblem[PlaneModes]], conductivity: float
) -> Callable[[Array], LossyAnswer]:
    """As `solver.fem.loss_doubt.lossy_answer`, of a part solved in its plane."""
    return lossy_answer(
        solution.problem,
        solution.found,
        lambda sweep, _: _answer(solution, sweep.model, conductivity),
    )


def _answer(
    solution: Solution[ScalarProblem[PlaneModes]], model: ReducedModel, conductivity: float
) -> Callable[[Array], ComplexArray]:
    # the unknowns of a lower degree are the first of a higher one
    fields = np.zeros((solution.found.last.model.basis.shape[0], len(model.poles)))
    fields[: model.basis.shape[0]] = model.basis @ model.vectors
    terms = wall_terms(solution.found.space, fields)
    return lambda frequency: _with_walls(solution, model, terms, conductivity, frequency)


def _with_walls(
    solution: Solution[ScalarProblem[PlaneModes]],
    model: ReducedModel,
    terms: WallTerms,
    conductivity: float,
    frequency: Array,
) -> ComplexArray:
    modes = solution.problem.modes
    q = modes.wavenumber_squared(frequency)
    add = _walls_of_plane(modes, frequency, conductivity)
    at_wall = np.where(modes.orders == 0, 1.0, 2.0) * 2.0 / modes.width
    shift = add(
        at_wall * modes.transverse**2, at_wall, at_wall * (q[:, None] - modes.transverse**2), q
    )
    beta = outgoing_root(q[:, None] - modes.transverse**2 - shift)
    # the walls take their part of the flux along the axis too
    none = np.zeros_like(at_wall)
    along = add(none, none, at_wall, np.ones_like(q))
    impedance = np.empty((len(q), *[model.columns.shape[1]] * 2), dtype=complex)
    poles = np.diag(model.poles)
    for i in range(len(q)):
        walls = add(terms.flux, terms.value, terms.slope, poles, index=i)
        matrix = poles - q[i] * np.eye(len(poles)) + walls
        impedance[i] = model.columns.T @ np.linalg.solve(matrix, model.columns)
    return solution.problem.scattering_with(
        solution.found.mesh, impedance, q, beta, beta * (1 + along)
    )


def second_order(frequency: Array, conductivity: float, length: float, cutoff: float) -> Array:
    """Size of what a first-order surface impedance leaves out of S, (n,) [-].

    Parameters
    ----------
    frequency : (n,) array
        [Hz]
    conductivity : float
        [S/m]
    length : float
        Length of the part [m].
    cutoff : float
        Of the mode that enters [Hz].

    Notes
    -----
    The phase constant is the root of a square that the walls change by a first-order term; the
    square of that term changes it as (k/beta)^3, so that most is left out towards cutoff.
    """
    k = 2 * np.pi * frequency / SPEED_OF_LIGHT
    ratio = surface_resistance(conductivity, frequency) / ETA0
    slow = np.maximum(1.0 - (cutoff / frequency) ** 2, 1e-6) ** -1.5
    return np.asarray(4.0 * ratio**2 * (1.0 + k * length * slow))


def _walls_of_plane(
    modes: PlaneModes, frequency: Array, conductivity: float
) -> Callable[..., ComplexArray]:
    """The walls' term as a function of the four integrals; see the module's text."""
    k = 2 * np.pi * frequency / SPEED_OF_LIGHT
    zs = (1 + 1j) * surface_resistance(conductivity, frequency)
    guide, kx = modes.guide, modes.uniform_wavenumber
    q = modes.wavenumber_squared(frequency)

    def add(
        flux: Array, value: Array, slope: Array, stiffness: Array, index: int | None = None
    ) -> ComplexArray:
        pick = slice(None) if index is None else index
        factor = zs[pick] / (1j * k[pick] * ETA0)
        qi = q[pick]
        if index is None:
            factor, qi, stiffness = factor[:, None], qi[:, None], stiffness[:, None]
        if modes.plane == "H":
            return np.asarray(-factor * (flux + 2 / guide.narrow_height * stiffness))
        cross = (kx / qi) ** 2
        return np.asarray(
            -factor * qi * (value + cross * slope + 4 / guide.broad_width * cross * stiffness)
        )

    return add


def wall_terms(system: PlaneSystem, fields: Array) -> WallTerms:
    """Integrals over the walls among fields given by their unknowns (n, r)."""
    from skfem import FacetBasis

    mesh, element = system.plane_mesh.mesh, system.element
    x, w = gauss_jacobi(element.p + 2)
    basis = FacetBasis(
        mesh,
        element,
        facets=mesh.boundaries["wall"],
        quadrature=(x[None], w),
    )
    number = np.full(int(basis.N), -1)
    number[basis.dofs.element_dofs] = system.local
    padded = np.vstack([fields, np.zeros((1, fields.shape[1]))])
    shape = (*basis.dx.shape, fields.shape[1])
    value, gradient = np.zeros(shape), np.zeros((2, *shape))
    for i in range(basis.Nbfun):
        here = padded[number[basis.element_dofs[i]]][:, None, :]
        value += np.asarray(basis.basis[i][0])[..., None] * here
        gradient += basis.basis[i][0].grad[..., None] * here
    normal = np.asarray(basis.normals)
    stretch = system.plane_mesh.chart.stretch(np.asarray(basis.global_coordinates()))
    flux = np.einsum("dfq,dfqr->fqr", normal, gradient)
    slope = (normal[0][..., None] * gradient[1] - normal[1][..., None] * gradient[0]) / stretch[
        ..., None
    ]
    weight = basis.dx * stretch

    def products(f: Array) -> Array:
        rows = (f * np.sqrt(weight)[..., None]).reshape(-1, f.shape[-1])
        return np.asarray(rows.T @ rows)

    return WallTerms(products(flux), products(value), products(slope))
