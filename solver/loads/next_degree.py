"""What the next degree would change of an answer in a plane, without solving it.

As `solver.fem.next_order`, for nested spaces of flat cells, filled evenly, whose matrices may be
complex.  In a plane a factorisation hardly fills up: all old functions but those of the lowest
degrees are solved along with the new ones, and the change comes out within a few percent of that
to the whole next space.  Those lowest ones are what could make the rest resonate near the band.
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

#: Real numbers, or complex ones where K or M is complex.
Values = NDArray[Any]
#: Upper triangles of K and M and the port columns (n, m).
Matrices = tuple[csr_matrix, csr_matrix, Array]
#: Fluxes (n, m, c) through the port columns, for c waves that enter, at impedances (n, m, m) and
#: q (n,).
Fluxes = Callable[[Any, Array], ComplexArray]

#: Frequencies of the band at which residuals are looked at.
_SAMPLES = 6
#: Resonances of the closed part so far beyond the band, over its width, count as in it.
_BESIDE = 0.1
#: Part of a residual, each of unit size, that may be left out.
_LEFT_OUT = 1e-2


@dataclass(frozen=True, eq=False)
class NextDegree:
    """The residual of a reduced model's fields in the next degree, and what it brings.

    Parameters
    ----------
    model : ReducedModel or LossyModel
        The model, without its basis.  All arrays below are complex where it is a `LossyModel`.
    from_ports : (r, m) array
        Residuals of the port columns, in r directions.
    from_stiffness, from_mass : (r, k) array
        Residuals of K and M times the model's modes.
    compliance : (3, r, r) array
        What residuals bring, at `centre`, and its first two derivatives by q, the last halved.
    centre : float
        A value of q.
    """

    model: ReducedModel | LossyModel
    from_ports: Values
    from_stiffness: Values
    from_mass: Values
    compliance: Values
    centre: float

    def change(self, squared: Array, fluxes: ComplexArray) -> ComplexArray:
        """First change of the scattering matrix, (n, c, c), at q (n,); see `NextOrder.change`."""
        amplitudes = self.model.amplitudes(squared, fluxes)
        q = squared[:, None, None]
        residual = (
            self.from_ports @ fluxes
            - self.from_stiffness @ amplitudes
            + q * (self.from_mass @ amplitudes)
        )
        off = q - self.centre
        brought = self.compliance[0] + off * (self.compliance[1] + off * self.compliance[2])
        return np.asarray(residual.swapaxes(1, 2) @ brought @ residual / 2j)


def next_degree(
    model: ReducedModel | LossyModel,
    lowest: int,
    pencil: Matrices,
    fluxes: Fluxes,
    squared: Array,
    moving: NDArray[np.bool_],
) -> NextDegree:
    """Look at the residual of a reduced model in the space of the next degree.

    Parameters
    ----------
    model : ReducedModel or LossyModel
        With its basis, of the first unknowns of the next degree; the latter where K or M is
        complex.
    lowest : int
        How many of them, the first, do not act back on new ones.
    pencil : csr_matrix, csr_matrix, (n, m) array
        Of the next degree; see `Matrices`.
    fluxes : callable
    squared : (f,) array
        Values of q of the band, ascending.
    moving : (m,) bool array
        Waves whose answers count somewhere in the band.

    Returns
    -------
    NextDegree

    Raises
    ------
    LinearSolveError, ProblemSizeError
    """
    stiffness, mass, columns = pencil
    old = len(model.basis)
    reached = reached_unknowns(stiffness, mass, columns)
    rows = reached[reached >= lowest]
    basis = model.basis @ model.vectors
    block = (_among(stiffness, rows), _among(mass, rows))
    # residuals of small cells would drown in those of large ones
    scale = np.sqrt(np.abs(block[0].diagonal()))[:, None]
    amplitudes, driven, at = _sampled(model, fluxes, squared, moving)
    by_stiffness, by_mass = _times(pencil, basis @ amplitudes, np.arange(old), rows)
    residuals = columns[rows] @ driven - by_stiffness + by_mass * at
    # what is left in old functions is not of this space but of the sweep
    residuals[rows < old] = 0.0
    if not np.iscomplexobj(basis):  # the directions are as real as the matrices
        residuals = np.concatenate([residuals.real, residuals.imag], axis=1)
    directions = _spanning(residuals / scale)
    tests = directions.conj() / scale
    of_stiffness, of_mass = _times(pencil, tests, rows, np.arange(old))
    centre = float(0.5 * (squared[0] + squared[-1]))
    return NextDegree(
        model.bare,
        tests.T @ columns[rows],
        of_stiffness.T @ basis,
        of_mass.T @ basis,
        _compliance(*block, directions * scale, centre),
        centre,
    )


def _times(pencil: Matrices, values: Values, at: Numbers, to: Numbers) -> tuple[Values, Values]:
    """K and M times values at some unknowns, read at others."""
    padded = np.zeros((len(pencil[2]), values.shape[1]), dtype=values.dtype)
    padded[at] = values
    return _product(pencil[0], padded)[to], _product(pencil[1], padded)[to]


def _among(matrix: csr_matrix, rows: Numbers) -> csr_matrix:
    """Rows and columns of a matrix of some ascending numbers."""
    if len(rows) and rows[-1] - rows[0] + 1 == len(rows):  # several times faster
        rows = slice(rows[0], rows[-1] + 1)  # type: ignore[assignment]
    return csr_matrix(matrix[rows, :][:, rows])


def _product(matrix: csr_matrix, x: Values) -> Values:
    """Product of a symmetric matrix, given by its upper triangle, with x; either may be complex."""
    product = SymmetricSolver.product
    if np.iscomplexobj(x) and not np.iscomplexobj(matrix.data):
        return np.asarray(product(matrix, x.real) + 1j * product(matrix, x.imag))
    return np.asarray(product(matrix, x))


def _compliance(stiffness: csr_matrix, mass: csr_matrix, right: Values, centre: float) -> Values:
    """Answers of the block to right-hand sides (n, r), and their derivatives, (3, r, r)."""
    if not right.size:
        return np.zeros((3, right.shape[1], right.shape[1]))
    solver = SymmetricSolver(stiffness, mass)
    solver.factorise(centre)
    first = solver.solve(right)
    moved = SymmetricSolver.product(mass, first)
    return np.array([right.T @ first, first.T @ moved, moved.T @ solver.solve(moved)])


def _sampled(
    model: ReducedModel | LossyModel, fluxes: Fluxes, squared: Array, moving: NDArray[np.bool_]
) -> tuple[ComplexArray, ComplexArray, ComplexArray]:
    """Amplitudes (k, s) and fluxes (m, s) of fields over the band, and the q (s,) of each.

    Those that waves drive, and those of resonances in the band or near.
    """
    at = np.linspace(squared[0], squared[-1], _SAMPLES)
    driven = fluxes(model.impedance(at), at)[:, :, moving]
    amplitudes = model.amplitudes(at, driven)
    beside = _BESIDE * (squared[-1] - squared[0])
    poles, resonant = model.resonant(squared[0] - beside, squared[-1] + beside)
    waves, none = driven.shape[2], np.zeros((driven.shape[1], len(poles)))
    return (
        np.concatenate([*amplitudes, resonant], axis=1),
        np.concatenate([*driven, none], axis=1),
        np.concatenate([np.repeat(at, waves), poles]).astype(complex),
    )


def _spanning(vectors: Values) -> Values:
    """Orthonormal directions (n, r) that span vectors (n, v), each of which counts alike.

    A change goes as the square of a residual, so that what is round-off in the vectors' products is
    round-off in the answer too.
    """
    size = np.linalg.norm(vectors, axis=0)
    kept = vectors[:, size > 0] / size[size > 0]
    squares, turn = np.linalg.eigh(kept.conj().T @ kept)
    there = squares > _LEFT_OUT**2
    return np.asarray(kept @ (turn[:, there] / np.sqrt(squares[there])))
