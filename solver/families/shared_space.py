"""Take the snapshots that many parts share, in one space, and project onto them."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.sparse import csr_matrix

from geometries.arrays import Array, Numbers
from solver.families.affine_pencil import AffinePencil
from solver.families.shared_ahead import SharedAhead
from solver.families.shared_basis import SharedLevel, small_matrix
from solver.fem.census import Census
from solver.fem.linear_solve import SymmetricSolver
from solver.fem.next_order import SAMPLES, Fluxes, spanning
from solver.fem.reduced_model import Projection, ReducedModel, distance_to_poles
from solver.fem.snapshots import new_directions, snapshot

#: Times that what is no gradient is damped in a vector of both.
_APART = 3


@dataclass(frozen=True, eq=False)
class Member:
    """One of the parts that share a basis.

    Parameters
    ----------
    lengths : (n,) array
        Over the reference.
    scale : (m,) array
        What the port columns at the reference are multiplied by.
    load : (m,) array
        About how large the admittances of the waves are [rad/m].
    fluxes : callable
        See `NestedSpaces.fluxes`.
    """

    lengths: Array
    scale: Array
    load: Array
    fluxes: Fluxes


class SharedSpace:
    """One space of many parts, and the snapshots taken in it so far.

    Parameters
    ----------
    pencil : AffinePencil
    moving : (m,) bool array
        See `sweep`.

    Attributes
    ----------
    factorisations : int
    """

    def __init__(self, pencil: AffinePencil, moving: NDArray[np.bool_]) -> None:
        self._pencil, self._moving = pencil, moving
        middle = pencil.at(np.ones((len(pencil.summands) - 1) // 2))
        self._solver = SymmetricSolver(*middle)
        self._size = np.sqrt(np.abs(middle[1].diagonal()))
        self._first: list[Array] = []
        self._last: list[Array] = []
        self.factorisations = 0

    def take(self, member: Member, q: float) -> None:
        """Take a snapshot of a part at a value of q.

        Raises
        ------
        LinearSolveError, ProblemSizeError
        """
        self._go_to(member.lengths)
        columns = self._pencil.columns * member.scale
        block = snapshot(self._solver, columns, q, self._moving)
        last = int(self._moving.sum())
        self._first.append(block[:, :-last])
        self._last.append(block[:, -last:])
        self.factorisations += 1

    def forget_last(self) -> None:
        """Drop the snapshot that was taken last."""
        self._first.pop()
        self._last.pop()

    def missing(self, lengths: Array, band: tuple[float, float], poles: Array) -> list[float]:
        """Return a q near which a part has a resonance that a model with these poles lacks."""
        self._go_to(lengths)
        self.factorisations += 2
        return Census(self._solver, *band).missing(poles)

    def basis(self) -> tuple[Array, int]:
        """Span (n, b) of the snapshots, and how many of it need no snapshot's last moment."""
        basis = np.zeros((len(self._size), 0))
        for block in self._first:
            basis = self._with(basis, block)
        inner = basis.shape[1]
        for block in self._last:
            basis = self._with(basis, block)
        return basis, inner

    def level_alone(self) -> SharedLevel:
        """Project onto the snapshots; what the next order changes is not told."""
        basis, inner = self.basis()
        stiffness, mass = _projected(self._pencil, basis, basis)
        return SharedLevel(
            stiffness, mass, basis.T @ self._pencil.columns, inner, len(self._size), None
        )

    def level(
        self, following: AffinePencil, places: Numbers, members: Sequence[Member], squared: Array
    ) -> SharedLevel:
        """Project onto the snapshots and onto what the next order adds.

        Parameters
        ----------
        following : AffinePencil
            That of the next order, whose quadrature serves both.
        places : (n,) array of int
            Places of the unknowns among those of the next order.
        members : sequence of Member
            Parts whose residuals are looked at.
        squared : (f,) array
            Values of q of the band, ascending.

        Raises
        ------
        LinearSolveError, ProblemSizeError
        """
        basis, inner = self.basis()
        spread = np.zeros((len(following.columns), basis.shape[1]))
        spread[places] = basis
        stiffness, mass = _projected(following, spread, spread)
        columns = spread.T @ following.columns
        right = []
        for member in members:
            k, m = (small_matrix(parts, member.lengths) for parts in (stiffness, mass))
            model = Projection(spread, k, m, columns * member.scale).model()
            assert isinstance(model, ReducedModel)
            right.append(_residuals(model, following, member, squared, self._moving))
        centre = 0.5 * float(squared[0] + squared[-1])
        new = self._answers(following, places, members, right, centre)
        across, own = _projected(following, new, spread), _projected(following, new, new)
        ahead = SharedAhead(*across, *own, new.T @ following.columns)
        return SharedLevel(stiffness, mass, columns, inner, len(self._size), ahead)

    def _answers(
        self,
        following: AffinePencil,
        places: Numbers,
        members: Sequence[Member],
        right: Sequence[Array],
        centre: float,
    ) -> Array:
        """Span (N, w) of what the new functions alone answer to residuals (N, v) of parts.

        Some of the new functions are gradients, whatever the part. Gradients and the rest are
        spanned one by one: a vector of both would resonate somewhere in between.
        """
        rows = np.setdiff1d(np.arange(len(following.columns)), places)
        solver: SymmetricSolver | None = None
        size, found = np.ones(len(rows)), []
        for member, residuals in zip(members, right, strict=True):
            stiffness, mass = (
                csr_matrix(matrix[rows][:, rows]) for matrix in following.at(member.lengths)
            )
            if solver is None:
                solver, size = SymmetricSolver(stiffness, mass), np.sqrt(stiffness.diagonal())
            solver.take(stiffness.data, mass.data)
            solver.factorise(centre)
            self.factorisations += 1
            answer = solver.solve(spanning(residuals[rows] / size[:, None]) * size[:, None])
            # K turns gradients into nothing; of the rest q M is but a small part of K
            gradients = answer
            for _ in range(_APART):
                gradients = -centre * solver.solve(_times(mass, gradients))
            found.append((gradients * size[:, None], (answer - gradients) * size[:, None]))
        kept = [spanning(np.concatenate(group, axis=1)) for group in zip(*found, strict=True)]
        new = np.zeros((len(following.columns), sum(each.shape[1] for each in kept)))
        new[rows] = np.concatenate(kept, axis=1) / size[:, None]
        return new

    def _go_to(self, lengths: Array) -> None:
        stiffness, mass = self._pencil.at(lengths)
        self._solver.take(stiffness.data, mass.data)

    def _with(self, basis: Array, block: Array) -> Array:
        return np.concatenate([basis, new_directions(basis, block, self._size)], axis=1)


def _times(upper: csr_matrix, x: Array) -> Array:
    return np.asarray(SymmetricSolver.product(upper, x))


def _projected(pencil: AffinePencil, left: Array, right: Array) -> tuple[Array, Array]:
    """Summands of K and M between two spans (n, a) and (n, b), (t, a, b) each."""
    stiffness, mass = (
        np.array([_times(pair[number], left).T @ right for pair in pencil.summands])
        for number in (0, 1)
    )
    return stiffness, mass


def _residuals(
    model: ReducedModel,
    following: AffinePencil,
    member: Member,
    squared: Array,
    moving: NDArray[np.bool_],
) -> Array:
    """Residuals (N, v) of fields that waves drive over the band, real and imaginary parts."""
    (stiffness, mass), columns = following.at(member.lengths), following.columns
    sampled = np.linspace(squared[0], squared[-1], SAMPLES)
    driven = member.fluxes(model.impedance(sampled), sampled)[:, :, moving]
    distances = distance_to_poles(model.poles, sampled)
    blocks = []
    for q, flux, distance in zip(sampled, driven, distances, strict=True):
        amplitudes = (model.columns @ flux) / distance[:, None]
        parts = np.concatenate([amplitudes.real, amplitudes.imag], axis=1)
        field = model.basis @ (model.vectors @ parts)
        entering = columns @ (
            member.scale[:, None] * np.concatenate([flux.real, flux.imag], axis=1)
        )
        blocks.append(entering - _times(stiffness, field) + q * _times(mass, field))
    return np.concatenate(blocks, axis=1)
