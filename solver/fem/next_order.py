"""What the next order would change of an answer, without solving it.

In nested spaces the functions of order p + 1 are those of order p and new ones.  The field of
order p leaves a residual in the new ones; the block of the matrix that couples them with each
other turns it into the first change of the answer.  What is left out is how the new functions act
back on the old ones, so the change comes out too small at times, by up to one half where answers
have begun to settle.  The new block costs far less to factorise than the whole matrix, whose
factors fill up between new and old functions.

References
----------
R. E. Bank, "Hierarchical bases and the finite element method", Acta Numerica 5 (1996), section 5
(from memory): estimates from the residual in the hierarchical complement.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray
from scipy.sparse import csr_matrix

from geometries.arrays import Array, ComplexArray, Numbers
from solver.fem.block_pattern import reached_unknowns
from solver.fem.linear_solve import SymmetricSolver
from solver.fem.lossy_model import LossyModel
from solver.fem.reduced_model import ReducedModel

#: Fluxes (n, m, c) through the port columns, for c waves that enter, at impedances (n, m, m) and
#: q (n,).
Fluxes = Callable[[Any, Array], ComplexArray]

#: Frequencies of the band at which residuals are looked at.
SAMPLES = 6
#: Resonances of the closed part so far beyond the band, over its width, count as in it.
BESIDE = 0.1
#: Frequencies of the band at which its fields are looked at, and what of unit vectors is no part.
_NEEDED_AT, _NOT_NEEDED = 24, 1e-8
#: Part of a residual, each of unit size, that may be left out.
_LEFT_OUT = 1e-2


@dataclass(frozen=True, eq=False)
class ToldChange:
    """The residual of a reduced model's fields in a larger space, and what it brings.

    Parameters
    ----------
    model : ReducedModel or LossyModel
        The model, without its basis.
    from_ports : (r, m) array
        Residuals of the port columns, in r directions.
    from_stiffness, from_mass : (r, k) array
        Residuals of K and M times the model's modes, or its Schur vectors.
    compliance : (3, r, r) array
        What residuals bring, at `centre`, and its first two derivatives by q, the last halved.
    centre : float
        A value of q.
    """

    model: ReducedModel | LossyModel
    from_ports: Any
    from_stiffness: Any
    from_mass: Any
    compliance: Any
    centre: float

    def change(self, squared: Array, fluxes: ComplexArray) -> ComplexArray:
        """First change of the scattering matrix, (n, c, c), at q (n,).

        Parameters
        ----------
        squared : (n,) array
        fluxes : (n, m, c) complex array
            Through the port columns, for c waves that enter; see `open_fluxes`.
        """
        amplitudes = self.model.amplitudes(squared, fluxes)
        return np.asarray(self.brought(squared, fluxes, amplitudes) / 2j)

    def brought(
        self, squared: Array, fluxes: ComplexArray, amplitudes: ComplexArray
    ) -> ComplexArray:
        """What the residual of modes with amplitudes (n, k, c) brings, (n, c, c)."""
        q = squared[:, None, None]
        residual = (
            self.from_ports @ fluxes
            - self.from_stiffness @ amplitudes
            + q * (self.from_mass @ amplitudes)
        )
        off = q - self.centre
        brought = self.compliance[0] + off * (self.compliance[1] + off * self.compliance[2])
        return np.asarray(residual.swapaxes(1, 2) @ brought @ residual)


@dataclass(frozen=True, eq=False)
class NextOrder(ToldChange):
    """What the next order would change, whose quadrature serves curved cells better.

    Parameters
    ----------
    model, from_ports, from_stiffness, from_mass, compliance, centre
        See `ToldChange`.
    among_ports : (k, m) array
    among_stiffness, among_mass : (k, k) array
        By how much the next order's quadrature changes the port columns, K and M in the modes.
    """

    among_ports: Any
    among_stiffness: Any
    among_mass: Any

    def change(self, squared: Array, fluxes: ComplexArray) -> ComplexArray:
        """As `ToldChange.change`."""
        amplitudes = self.model.amplitudes(squared, fluxes)
        new = self.brought(squared, fluxes, amplitudes)
        # the integrals of curved cells change with their quadrature, old functions with old ones
        both = (self.among_ports @ fluxes).swapaxes(1, 2) @ amplitudes
        turned = amplitudes.swapaxes(1, 2)
        within = turned @ self.among_stiffness @ amplitudes
        within -= squared[:, None, None] * (turned @ self.among_mass @ amplitudes)
        return np.asarray((new + both + both.swapaxes(1, 2) - within) / 2j)


class NewFunctions:
    """The new functions of the next order, and their block of the matrix, factorised.

    It needs no answer of the order before, so that it can be made while that is looked for.

    Parameters
    ----------
    places : (n,) array of int
        Places of the unknowns among those of the next order.
    pencil : csr_matrix, csr_matrix, (N, m) array
        Upper triangles of K and M and the port columns of the next order.
    squared : (f,) array
        Values of q of the band, ascending.

    Raises
    ------
    LinearSolveError, ProblemSizeError
    """

    def __init__(
        self, places: Numbers, pencil: tuple[csr_matrix, csr_matrix, Array], squared: Array
    ) -> None:
        self.places, self.pencil, self.squared = places, pencil, squared
        stiffness, mass, columns = pencil
        new = np.zeros(len(columns), dtype=bool)
        new[reached_unknowns(stiffness, mass, columns)] = True
        new[places] = False
        self.rows = np.flatnonzero(new)
        block = (csr_matrix(matrix[self.rows][:, self.rows]) for matrix in (stiffness, mass))
        self._solver = SymmetricSolver(*block)
        # residuals of small cells would drown in those of large ones
        self.scale = np.sqrt(np.abs(stiffness.diagonal()[self.rows]))[:, None]
        self.centre = float(0.5 * (squared[0] + squared[-1]))
        if len(self.rows):
            self._solver.factorise(self.centre)

    def compliance(self, right: Any) -> Any:
        """Answers of the block to right-hand sides (n, r), and their derivatives, (3, r, r)."""
        return compliance_of(self._solver, right)


def compliance_of(solver: SymmetricSolver, right: Any) -> Any:
    """Answers of what a solver has factorised to right-hand sides (n, r), (3, r, r).

    With their first two derivatives by q, the last halved.

    Raises
    ------
    LinearSolveError
    """
    if not right.size:
        return np.zeros((3, right.shape[1], right.shape[1]))
    first = solver.solve(right)
    moved = solver.times_mass(first)
    return np.array([right.T @ first, first.T @ moved, moved.T @ solver.solve(moved)])


def next_order(
    model: ReducedModel | LossyModel, new: NewFunctions, fluxes: Fluxes, moving: NDArray[np.bool_]
) -> NextOrder:
    """Look at the residual of a reduced model in the space of the next order.

    Parameters
    ----------
    model : ReducedModel or LossyModel
        With its basis; the latter where K or M is complex.
    new : NewFunctions
    fluxes : callable
    moving : (m,) bool array
        Waves whose answers count somewhere in the band; of others no change is told.

    Returns
    -------
    NextOrder

    Raises
    ------
    LinearSolveError
    """
    (stiffness, mass, columns), rows, squared = new.pencil, new.rows, new.squared
    needed, part = _needed(model, fluxes, squared, moving)
    fields = np.zeros((len(columns), needed.shape[1]))
    fields[new.places] = model.fields(needed)
    whole = SymmetricSolver(stiffness, mass)
    by_stiffness, by_mass = whole.times_stiffness(fields), whole.times_mass(fields)
    own_stiffness, own_mass, own_columns = model.projected
    among_ports = fields.T @ columns - needed.T @ own_columns
    among_stiffness = fields.T @ by_stiffness - needed.T @ own_stiffness @ needed
    among_mass = fields.T @ by_mass - needed.T @ own_mass @ needed
    parts = np.concatenate([columns[rows], by_stiffness[rows], by_mass[rows]], axis=1)
    parts /= new.scale
    products = parts.conj().T @ parts
    chosen = _combined(products, _residuals(model, part, fluxes, squared, moving))
    ports = columns.shape[1]
    left = np.split(chosen.conj().T @ products, [ports, ports + len(part)], axis=1)
    return NextOrder(
        model.bare,
        left[0],
        left[1] @ part,
        left[2] @ part,
        new.compliance((parts @ chosen) * new.scale),
        new.centre,
        part.T @ among_ports,
        part.T @ among_stiffness @ part,
        part.T @ among_mass @ part,
    )


def _needed(
    model: ReducedModel | LossyModel, fluxes: Fluxes, squared: Array, moving: NDArray[np.bool_]
) -> tuple[Array, Any]:
    """Combinations (k, w) of a model's modes that its answers need, and each mode's part (w, k).

    Of a lossy model they are real combinations of its basis, whose Schur vectors are complex.
    Fewer than the modes by a third or more, and all that follows goes by their number.
    """
    some = np.unique(np.linspace(0, len(squared) - 1, _NEEDED_AT).astype(int))
    amplitudes = _amplitudes(model, fluxes, squared[some], moving)[1]
    turn = model.vectors if isinstance(model, LossyModel) else np.eye(amplitudes.shape[1])
    amplitudes = turn @ amplitudes
    size = np.ones((len(turn), 1))
    if isinstance(model, ReducedModel):
        size = np.sqrt(1.0 + np.abs(model.poles) / abs(squared[-1]))[:, None]
    beside = np.eye(len(size))[:, _beside(model, squared)]
    vectors = size * np.concatenate([*amplitudes.real, *amplitudes.imag, beside], axis=1)
    length = np.linalg.norm(vectors, axis=0)
    left, values, _ = np.linalg.svd(vectors[:, length > 0] / length[length > 0])
    kept = left[:, : int((values > _NOT_NEEDED).sum())]
    return kept / size, (kept * size).T @ turn


def _beside(model: ReducedModel | LossyModel, squared: Array) -> NDArray[np.bool_]:
    """Which resonances of the closed part lie in the band or near.

    Of a part that loses power none: damped, they are seen in what the waves drive.
    """
    if isinstance(model, LossyModel):
        return np.zeros(len(model.poles), dtype=bool)
    beside = BESIDE * (squared[-1] - squared[0])
    return np.asarray((model.poles > squared[0] - beside) & (model.poles < squared[-1] + beside))


def _amplitudes(
    model: ReducedModel | LossyModel, fluxes: Fluxes, sampled: Array, moving: NDArray[np.bool_]
) -> tuple[ComplexArray, ComplexArray]:
    """Fluxes (n, m, c) of the waves that move, at q (n,), and the modes' amplitudes (n, k, c)."""
    driven = fluxes(model.impedance(sampled), sampled)[:, :, moving]
    return driven, model.amplitudes(sampled, driven)


def _residuals(
    model: ReducedModel | LossyModel,
    part: Any,
    fluxes: Fluxes,
    squared: Array,
    moving: NDArray[np.bool_],
) -> Any:
    """Residuals over the band: of fields that waves drive, and of resonances in it or near.

    (m + 2 w, v): how much of each port column and of K and M times each combination is in them.
    """
    sampled = np.linspace(squared[0], squared[-1], SAMPLES)
    blocks = []
    for q, flux, one in zip(sampled, *_amplitudes(model, fluxes, sampled, moving), strict=True):
        left = np.concatenate([flux, -part @ one, q * (part @ one)])
        blocks += [left] if isinstance(model, LossyModel) else [left.real, left.imag]
    if isinstance(model, LossyModel):
        return np.concatenate(blocks, axis=1)
    inside = _beside(model, squared)
    none = np.zeros((model.columns.shape[1], int(inside.sum())))
    modes = part[:, inside]
    blocks.append(np.concatenate([none, modes, -model.poles[inside] * modes]))
    return np.concatenate(blocks, axis=1)


def spanning(vectors: Any) -> Any:
    """Orthonormal directions (n, r) that span vectors (n, v), each of which counts alike."""
    products = vectors.conj().T @ vectors
    return np.asarray(vectors @ _combined(products, np.eye(len(products))))


def _combined(products: Any, vectors: Any) -> Any:
    """Orthonormal combinations (p, r) that span vectors (p, v), each of which counts alike.

    Parameters
    ----------
    products : (p, p) array
        Inner products of what is combined. A change goes as the square of a residual, so that
        what is round-off in them is round-off in the answer too.
    vectors : (p, v) array
        How much of each is in a vector.
    """
    squares = np.einsum("pv,pq,qv->v", vectors.conj(), products, vectors, optimize=True).real
    kept = squares > 0
    unit = vectors[:, kept] / np.sqrt(squares[kept])
    values, turn = np.linalg.eigh(unit.conj().T @ products @ unit)
    there = values > _LEFT_OUT**2
    return np.asarray(unit @ (turn[:, there] / np.sqrt(values[there])))
