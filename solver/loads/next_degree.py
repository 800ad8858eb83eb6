"""What the next degree would change of an answer in a plane, without solving it.

As `solver.fem.next_order`, for nested spaces of flat cells, filled evenly, whose matrices may be
complex.  In a plane a factorisation hardly fills up: all old functions but those of the lowest
degrees are solved along with the new ones, and the change comes out within a few percent of that
to the whole next space.  Those lowest ones are what could make the rest resonate near the band.
"""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import NDArray
from scipy.sparse import csr_matrix

from geometries.arrays import Array, ComplexArray, Numbers
from solver.fem.block_pattern import reached_unknowns
from solver.fem.linear_solve import SymmetricSolver
from solver.fem.lossy_model import LossyModel
from solver.fem.next_order import BESIDE, SAMPLES, Fluxes, ToldChange, compliance_of, spanning
from solver.fem.reduced_model import ReducedModel

#: Real numbers, or complex ones where K or M is complex.
Values = NDArray[Any]
#: Upper triangles of K and M and the port columns (n, m).
Matrices = tuple[csr_matrix, csr_matrix, Array]


def next_degree(
    model: ReducedModel | LossyModel,
    lowest: int,
    pencil: Matrices,
    fluxes: Fluxes,
    squared: Array,
    moving: NDArray[np.bool_],
) -> ToldChange:
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
    ToldChange

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
    directions = spanning(residuals / scale)
    tests = directions.conj() / scale
    of_stiffness, of_mass = _times(pencil, tests, rows, np.arange(old))
    solver, centre = SymmetricSolver(*block), float(0.5 * (squared[0] + squared[-1]))
    if directions.size:
        solver.factorise(centre)
    return ToldChange(
        model.bare,
        tests.T @ columns[rows],
        of_stiffness.T @ basis,
        of_mass.T @ basis,
        compliance_of(solver, directions * scale),
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


def _sampled(
    model: ReducedModel | LossyModel, fluxes: Fluxes, squared: Array, moving: NDArray[np.bool_]
) -> tuple[ComplexArray, ComplexArray, ComplexArray]:
    """Amplitudes (k, s) and fluxes (m, s) of fields over the band, and the q (s,) of each.

    Those that waves drive, and those of resonances in the band or near.
    """
    at = np.linspace(squared[0], squared[-1], SAMPLES)
    driven = fluxes(model.impedance(at), at)[:, :, moving]
    amplitudes = model.amplitudes(at, driven)
    beside = BESIDE * (squared[-1] - squared[0])
    poles, resonant = model.resonant(squared[0] - beside, squared[-1] + beside)
    waves, none = driven.shape[2], np.zeros((driven.shape[1], len(poles)))
    return (
        np.concatenate([*amplitudes, resonant], axis=1),
        np.concatenate([*driven, none], axis=1),
        np.concatenate([np.repeat(at, waves), poles]).astype(complex),
    )
