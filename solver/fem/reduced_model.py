"""Frequency sweep by a reduced model: few factorisations, hundreds of frequencies.

K, M and the port columns B do not depend on frequency.  Solutions of
``(K - q M) x = B`` at a few q, with three derivatives each, span a small space; the
projected problem answers at every q.  Its impedance matrix
``Z(q) = B^T (K - q M)^-1 B`` is a sum over the poles of the small problem, so that a
whole band costs one small eigenvalue problem.  Where a material loses power K or M is
complex; real and imaginary parts of the solutions then span a real basis all the same.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from typing import Any

import numpy as np
from numpy.typing import NDArray
from scipy.sparse import csr_matrix

from geometries.arrays import Array, ComplexArray
from solver.fem.block_pattern import reached_part
from solver.fem.census import Census
from solver.fem.linear_solve import SymmetricSolver
from solver.fem.lossy_model import LossyModel
from solver.fem.snapshots import coordinates, new_directions, snapshot, spanned

MOST_SNAPSHOTS = 40
#: Where a sweep begins, in parts of its band: Chebyshev's two places, at which the product of the
#: distances from both is least over the band.
_PLACES = (0.5 - 0.125**0.5, 0.5 + 0.125**0.5)
#: Part of a band by which a resonance may move as snapshots lose their last derivatives.
_STANDS = 0.01
#: First snapshots of a complex pencil that hold what evanescent modes excite, each with a real and
#: an imaginary part: it hardly changes over a band.
_OF_ALL = 2


def distance_to_poles(poles: Array, q: Array) -> Array:
    """Poles (r,) less q (n,), (n, r), and never so little that only round-off would be left.

    What is made of the inverse is smooth across a pole.
    """
    q = np.asarray(q)[:, None]
    distance, least = poles - q, 1e-9 * np.abs(q)
    return np.where(np.abs(distance) < least, least, distance)


@dataclass(frozen=True, eq=False)
class ReducedModel:
    """The projected problem in its own modes.

    Parameters
    ----------
    poles : (r,) array
        Values of q at which the part closed by magnetic walls resonates.
    columns : (r, m) array
        Port columns in those modes.
    basis : (n, b) array
        Span of the snapshots, in the unknowns of the mesh.
    vectors : (b, r) array
        The modes in that basis.
    """

    poles: Array
    columns: Array
    basis: Array
    vectors: Array

    def impedance(self, q: Array) -> Array:
        """Z(q) = B^T (K - q M)^-1 B, (len(q), m, m)."""
        inverse = 1.0 / distance_to_poles(self.poles, q)
        return np.asarray(
            np.einsum("rm,fr,rn->fmn", self.columns, inverse, self.columns, optimize=True)
        )

    @property
    def bare(self) -> ReducedModel:
        """The same model without its basis: all that `impedance` needs."""
        none = np.zeros((0, 0))
        return ReducedModel(self.poles, self.columns, none, none)

    def amplitudes(self, q: Array, fluxes: ComplexArray) -> ComplexArray:
        """Amplitudes (n, r, c) of the modes for fluxes (n, m, c) through the columns, at q (n,)."""
        return np.asarray((self.columns @ fluxes) / distance_to_poles(self.poles, q)[:, :, None])

    def resonant(self, low: float, high: float) -> tuple[Array, Array]:
        """Poles (j,) between two q, and the amplitudes (r, j) of the field at each."""
        inside = (self.poles > low) & (self.poles < high)
        return self.poles[inside], np.eye(len(self.poles))[:, inside]

    def fields(self, combinations: Array) -> Array:
        """Unknowns (n, w) of the mesh for combinations (r, w) of the modes."""
        return np.asarray(self.basis @ (self.vectors @ combinations))

    @property
    def projected(self) -> tuple[Array, Array, Array]:
        """K, M (r, r) and B (r, m) in the modes."""
        return np.diag(self.poles), np.eye(len(self.poles)), self.columns

    def field(self, q: float, right: ComplexArray) -> ComplexArray:
        """Unknowns of the mesh for the port excitation ``B right``."""
        weights = (self.columns @ right) / (self.poles - q)
        return np.asarray(self.basis @ (self.vectors @ weights))


@dataclass(frozen=True, eq=False)
class Sweep:
    """What a sweep found.

    Parameters
    ----------
    model : ReducedModel or LossyModel
        The latter where K or M is complex.
    response : array
        What ``respond`` made of the last model, over the whole band.
    change : (n,) array
        Largest change of the response by what was added last, at each frequency; see `sweep`.
    shifts : tuple of float
        Values of q that were factorised.
    before : ReducedModel, LossyModel or None
        The model without what was added last, and without its basis.
    enough : tuple of float
        Those of the shifts that a finer space may start from.
    """

    model: Any
    response: ComplexArray
    change: Array
    shifts: tuple[float, ...]
    before: Any = None
    enough: tuple[float, ...] = ()


def sweep(
    stiffness: csr_matrix,
    mass: csr_matrix,
    columns: Array,
    squared: Array,
    respond: Callable[[Any], ComplexArray],
    tolerance: float,
    shifts: tuple[float, ...] = (),
    moving: NDArray[np.bool_] | None = None,
    census: bool = False,
    watched: Callable[[Array], ComplexArray] | None = None,
) -> Sweep:
    """Add snapshots until the response over the whole band no longer changes.

    What is left out is seen by leaving out more: the last derivatives of every snapshot; or, where
    the matrices are complex, the whole of the last snapshot.

    Parameters
    ----------
    stiffness, mass : (n, n) csr_matrix
        Upper triangles of K and M, real or complex.
    columns : (n, m) array
        Port columns B.
    squared : (f,) array
        The values of q that are asked for, ascending.
    respond : callable
        Turns the reduced model into the response (f, ...), the scattering matrix say.
    tolerance : float
        Largest change of the response, by what was added last, that ends the sweep.
    shifts : tuple of float
        Where to factorise first; by default at two places of the band.
    moving : (m,) bool array, optional
        Columns whose derivatives are taken along: the propagating modes.  What an evanescent mode
        excites hardly changes over a band: it has one, which shows what is missed without.
    census : bool
        Count the resonances of the closed part in the band, and add snapshots where the model
        lacks one: a field that the ports hardly drive can be missed by what they answer.
        Complex matrices allow no count.
    watched : callable, optional
        See `Pencil`: the model before the last keeps it.

    Returns
    -------
    Sweep

    Raises
    ------
    LinearSolveError
    """
    part = reached_part(stiffness, mass, columns)
    if part is not None:
        (stiffness, mass, columns), whole = part
        seen = None if watched is None else lambda kept: watched(whole(kept))
        rest = (squared, respond, tolerance, shifts, moving, census, seen)
        found = sweep(stiffness, mass, columns, *rest)
        return replace(found, model=replace(found.model, basis=whole(found.model.basis)))
    solver = SymmetricSolver(stiffness, mass)
    low, high = widened(float(squared[0]), float(squared[-1]))
    count = Census(solver, low, high)
    waiting = list(shifts) or [low + place * (high - low) for place in _PLACES]
    projection = Projection.empty(len(columns), columns.shape[1])
    scale = np.sqrt(np.abs(mass.diagonal()))
    census = census and not solver.complex
    told = not solver.complex and (moving is None or bool(moving.any()))
    used: list[float] = []
    firsts: list[Array] = []
    before: Any = None
    response: ComplexArray | None = None
    change = np.full(len(squared), np.inf)
    while True:
        shift = waiting.pop(0) if waiting else between(used, low, high, squared, change)
        few = solver.complex and len(used) >= _OF_ALL
        taken = snapshot(solver, columns, shift, moving, decaying=told, only_moving=few)
        block = new_directions(projection.basis, taken, scale)
        projection = projection.extended(solver, columns, block)
        used.append(shift)
        count.note(shift)
        if told:
            without_last = taken[:, : -columns.shape[1]]
            firsts.append(coordinates(projection.basis, without_last, scale))
        if len(waiting) > (0 if told else 1):
            continue
        if told:
            before = projection.within(spanned(firsts)).model().bare
            response = respond(before)
        model: Any = projection.model()
        latest = respond(model)
        # where round-off leaves a snapshot no direction of its own, no change says nothing
        spent = not told and not block.shape[1] and projection.basis.shape[1] < len(columns)
        if response is not None and not spent:
            change = np.abs(latest - response).reshape(len(squared), -1).max(axis=1)
        response = latest
        done = not waiting and (spent or change.max() <= tolerance)
        if done and census:
            poles = model.poles
            waiting = count.missing(_standing(poles, before.poles, high - low) if told else poles)
            done = not waiting
        if done or len(used) >= MOST_SNAPSHOTS:
            settled = np.where(np.isfinite(change), change, 0.0)
            return Sweep(model, response, settled, tuple(used), before, tuple(used))
        before = (model if watched is None else model.watching(watched)).bare


def widened(low: float, high: float) -> tuple[float, float]:
    """Range to sample: a single frequency is approached from both sides."""
    margin = max(0.0, 1e-3 * high - 0.5 * (high - low))
    return low - margin, high + margin


@dataclass(frozen=True, eq=False)
class Projection:
    """Basis (n, b) of the snapshots, and K, M (b, b) and port columns (b, m) in it."""

    basis: Array
    stiffness: Any
    mass: Any
    columns: Array

    @classmethod
    def empty(cls, unknowns: int, ports: int) -> Projection:
        """No snapshot yet."""
        return cls(
            np.zeros((unknowns, 0)), np.zeros((0, 0)), np.zeros((0, 0)), np.zeros((0, ports))
        )

    def extended(self, solver: SymmetricSolver, columns: Array, block: Array) -> Projection:
        """With a block of directions more; the solver holds K and M."""
        basis = np.concatenate([self.basis, block], axis=1)
        b = self.basis.shape[1]

        def grown(small: Any, moved: Any) -> Any:
            edge = basis.T @ moved
            return np.block([[small, edge[:b]], [edge[:b].T, edge[b:]]])

        return Projection(
            basis,
            grown(self.stiffness, solver.times_stiffness(block)),
            grown(self.mass, solver.times_mass(block)),
            np.concatenate([self.columns, block.T @ columns]),
        )

    def within(self, span: Array) -> Projection:
        """On part of the basis: combinations (b, s) of it, without their fields."""
        return Projection(
            np.zeros((0, span.shape[1])),
            span.T @ self.stiffness @ span,
            span.T @ self.mass @ span,
            span.T @ self.columns,
        )

    def model(self) -> ReducedModel | LossyModel:
        """Diagonalise the projected pencil, or bring it to its Schur form where it is complex."""
        if np.iscomplexobj(self.stiffness) or np.iscomplexobj(self.mass):
            return LossyModel.of(self.stiffness, self.mass, self.columns, self.basis)
        size, turn = np.linalg.eigh(0.5 * (self.mass + self.mass.T))
        kept = size > 1e-13 * size[-1]
        turn = turn[:, kept] / np.sqrt(size[kept])
        k = turn.T @ self.stiffness @ turn
        poles, vectors = np.linalg.eigh(0.5 * (k + k.T))
        vectors = turn @ vectors
        return ReducedModel(poles, vectors.T @ self.columns, self.basis, vectors)


def _standing(poles: Array, before: Array, width: float) -> Array:
    """Poles that stand where they do with less as well: others are no resonance yet."""
    moved = np.abs(poles[:, None] - before).min(axis=1)
    return np.asarray(poles[moved < _STANDS * width])


def between(used: list[float], low: float, high: float, squared: Array, change: Array) -> float:
    """The requested q at which the response changed most, away from the shifts already used."""
    gap = np.abs(squared[:, None] - np.array(used)).min(axis=1)
    far = gap > 0.02 * (high - low)
    weight = np.where(far, change, -1.0) if np.isfinite(change).all() and far.any() else gap
    return float(squared[int(np.argmax(weight))])
