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

import numpy as np
from numpy.typing import NDArray
from scipy.sparse import csr_matrix

from geometries.arrays import Array, ComplexArray, Numbers
from solver.fem.linear_solve import SymmetricSolver
from solver.fem.reduced_model import ReducedModel, distance_to_poles, reached_unknowns

#: Fluxes (n, m, c) through the port columns, for c waves that enter, at impedances (n, m, m) and
#: q (n,).
Fluxes = Callable[[Array, Array], ComplexArray]

#: Frequencies of the band at which residuals are looked at.
_SAMPLES = 6
#: Resonances of the closed part so far beyond the band, over its width, count as in it.
_BESIDE = 0.1
#: Part of a residual, each of unit size, that may be left out.
_LEFT_OUT = 1e-2


@dataclass(frozen=True, eq=False)
class NextOrder:
    """The residual of a reduced model's fields in the next order, and what it brings.

    Parameters
    ----------
    poles : (k,) array
        As `ReducedModel.poles`.
    columns : (k, m) array
        As `ReducedModel.columns`.
    from_ports : (r, m) array
        Residuals of the port columns, in r directions.
    from_stiffness, from_mass : (r, k) array
        Residuals of K and M times the model's modes.
    among_ports : (k, m) array
    among_stiffness, among_mass : (k, k) array
        By how much the next order's quadrature changes the port columns, K and M in those modes.
    compliance : (3, r, r) array
        What residuals bring, at `centre`, and its first two derivatives by q, the last halved.
    centre : float
        A value of q.
    """

    poles: Array
    columns: Array
    from_ports: Array
    from_stiffness: Array
    from_mass: Array
    among_ports: Array
    among_stiffness: Array
    among_mass: Array
    compliance: Array
    centre: float

    def change(self, squared: Array, fluxes: ComplexArray) -> ComplexArray:
        """First change of the scattering matrix, (n, c, c), at q (n,).

        Parameters
        ----------
        squared : (n,) array
        fluxes : (n, m, c) complex array
            Through the port columns, for c waves that enter; see `open_fluxes`.
        """
        distance = distance_to_poles(self.poles, squared)
        amplitudes = (self.columns @ fluxes) / distance[:, :, None]
        q = squared[:, None, None]
        residual = (
            self.from_ports @ fluxes
            - self.from_stiffness @ amplitudes
            + q * (self.from_mass @ amplitudes)
        )
        off = q - self.centre
        brought = self.compliance[0] + off * (self.compliance[1] + off * self.compliance[2])
        # the integrals of curved cells change with their quadrature, old functions with old ones
        both = (self.among_ports @ fluxes).swapaxes(1, 2) @ amplitudes
        turned = amplitudes.swapaxes(1, 2)
        within = turned @ self.among_stiffness @ amplitudes
        within -= q * (turned @ self.among_mass @ amplitudes)
        new = residual.swapaxes(1, 2) @ brought @ residual
        return np.asarray((new + both + both.swapaxes(1, 2) - within) / 2j)


def next_order(
    model: ReducedModel,
    places: Numbers,
    pencil: tuple[csr_matrix, csr_matrix, Array],
    fluxes: Fluxes,
    squared: Array,
    moving: NDArray[np.bool_],
) -> NextOrder:
    """Look at the residual of a reduced model in the space of the next order.

    Parameters
    ----------
    model : ReducedModel
        With its basis.
    places : (n,) array of int
        Places of the unknowns among those of the next order.
    pencil : csr_matrix, csr_matrix, (N, m) array
        Upper triangles of K and M and the port columns of the next order.
    fluxes : callable
    squared : (f,) array
        Values of q of the band, ascending.
    moving : (m,) bool array
        Waves whose answers count somewhere in the band.

    Returns
    -------
    NextOrder

    Raises
    ------
    LinearSolveError, ProblemSizeError
    """
    stiffness, mass, columns = pencil
    new = np.zeros(len(columns), dtype=bool)
    new[reached_unknowns(stiffness, mass, columns)] = True
    new[places] = False
    rows = np.flatnonzero(new)
    modes = np.zeros((len(columns), len(model.poles)))
    modes[places] = model.basis @ model.vectors
    by_stiffness, by_mass = (SymmetricSolver.product(matrix, modes) for matrix in (stiffness, mass))
    parts = (columns[rows], by_stiffness[rows], by_mass[rows])
    among = (
        modes.T @ columns - model.columns,
        modes.T @ by_stiffness - np.diag(model.poles),
        modes.T @ by_mass - np.eye(len(model.poles)),
    )
    centre = float(0.5 * (squared[0] + squared[-1]))
    block = (csr_matrix(stiffness[rows][:, rows]), csr_matrix(mass[rows][:, rows]))
    # residuals of small cells would drown in those of large ones
    scale = np.sqrt(block[0].diagonal())[:, None]
    directions = _spanning(_residuals(model, parts, fluxes, squared, moving) / scale)
    return NextOrder(
        model.poles,
        model.columns,
        *((directions / scale).T @ part for part in parts),  # type: ignore[call-arg]
        *among,
        _compliance(*block, directions * scale, centre),
        centre,
    )


def _compliance(stiffness: csr_matrix, mass: csr_matrix, right: Array, centre: float) -> Array:
    """Answers of the block to right-hand sides (n, r), and their derivatives, (3, r, r)."""
    if not right.size:
        return np.zeros((3, right.shape[1], right.shape[1]))
    solver = SymmetricSolver(stiffness, mass)
    solver.factorise(centre)
    first = solver.solve(right)
    moved = SymmetricSolver.product(mass, first)
    return np.array([right.T @ first, first.T @ moved, moved.T @ solver.solve(moved)])


def _residuals(
    model: ReducedModel,
    parts: tuple[Array, Array, Array],
    fluxes: Fluxes,
    squared: Array,
    moving: NDArray[np.bool_],
) -> Array:
    """Residuals over the band: of fields that waves drive, and of resonances in it or near."""
    ports, by_stiffness, by_mass = parts
    sampled = np.linspace(squared[0], squared[-1], _SAMPLES)
    driven = fluxes(model.impedance(sampled), sampled)[:, :, moving]
    blocks = []
    distances = distance_to_poles(model.poles, sampled)
    for q, flux, distance in zip(sampled, driven, distances, strict=True):
        amplitudes = (model.columns @ flux) / distance[:, None]
        left = ports @ flux - by_stiffness @ amplitudes + q * (by_mass @ amplitudes)
        blocks += [left.real, left.imag]
    beside = _BESIDE * (squared[-1] - squared[0])
    inside = (model.poles > squared[0] - beside) & (model.poles < squared[-1] + beside)
    blocks.append(by_stiffness[:, inside] - model.poles[inside] * by_mass[:, inside])
    return np.concatenate(blocks, axis=1)


def _spanning(vectors: Array) -> Array:
    """Orthonormal directions (n, r) that span vectors (n, v), each of which counts alike."""
    size = np.linalg.norm(vectors, axis=0)
    if not size.any():
        return np.zeros((len(vectors), 0))
    kept = vectors[:, size > 0] / size[size > 0]
    left, values, _ = np.linalg.svd(kept, full_matrices=False)
    return np.asarray(left[:, values > _LEFT_OUT])
