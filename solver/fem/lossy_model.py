"""The reduced model of a part filled with a material that loses power.

K and M are complex and symmetric there, so that the poles are complex and no set of orthogonal
modes diagonalises the small problem for certain.  Its Schur form always exists and is found
without loss of digits: ``M^-1 K = Q T Q^H`` with T upper triangular (G. H. Golub and C. F. Van
Loan, "Matrix Computations", 4th ed., 2013, section 7.1.3), and solving with ``T - q`` at many q
is back substitution.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np
from scipy.linalg import schur

from geometries.arrays import Array, ComplexArray

#: Closer than this to a pole, relative, the answer would only hold round-off.
_NEAREST = 1e-9


@dataclass(frozen=True, eq=False)
class LossyModel:
    """The projected problem in its Schur form.

    Parameters
    ----------
    triangle : (r, r) complex array
        T; its diagonal holds the complex q at which the part, closed by magnetic walls, resonates.
    seen : (m, r) complex array
        ``B^T Q``: what each port sees of each Schur vector.
    driven : (r, m) complex array
        ``Q^H M^-1 B``: how each port drives it.
    basis : (n, r) array
        Span of the snapshots, real, in the unknowns of the mesh.
    vectors : (r, r) complex array
        Q, in that basis.
    watched : (w, r) complex array or None
        What `Pencil.watched` makes of each Schur vector.
    small : two (r, r) complex arrays and an (r, m) array, or None
        K, M and B in the basis.
    """

    triangle: ComplexArray
    seen: ComplexArray
    driven: ComplexArray
    basis: Array
    vectors: ComplexArray
    watched: ComplexArray | None = None
    small: tuple[ComplexArray, ComplexArray, Array] | None = None

    @classmethod
    def of(
        cls, stiffness: ComplexArray, mass: ComplexArray, columns: Array, basis: Array
    ) -> LossyModel:
        """Bring a projected pencil (r, r) with its port columns (r, m) to this form.

        The basis is orthonormal by the size of the diagonal of M, so that M is well-conditioned.
        """
        small = np.linalg.solve(mass, np.concatenate([stiffness, columns], axis=1))
        r = len(mass)
        triangle, vectors = schur(small[:, :r].astype(complex), output="complex")
        driven = vectors.conj().T @ small[:, r:]
        pencil = (stiffness, mass, columns)
        return cls(triangle, columns.T @ vectors, driven, basis, vectors, None, pencil)

    @property
    def poles(self) -> ComplexArray:
        """Complex values of q at which the closed part resonates, (r,)."""
        return np.asarray(self.triangle.diagonal())

    def impedance(self, q: Array | ComplexArray) -> ComplexArray:
        """Z(q) = B^T (K - q M)^-1 B, (len(q), m, m)."""
        right = np.broadcast_to(self.driven, (len(q), *self.driven.shape))
        return np.asarray(self.seen @ self._solved(q, right))

    def amplitudes(self, q: Array, fluxes: ComplexArray) -> ComplexArray:
        """Amplitudes (n, r, c) of the Schur vectors for fluxes (n, m, c) through the columns."""
        return self._solved(q, self.driven @ fluxes)

    def resonant(self, low: float, high: float) -> tuple[ComplexArray, ComplexArray]:
        """Poles (j,) with a real part between two q, and the amplitudes (r, j) of their fields."""
        poles, vectors = np.linalg.eig(self.triangle)
        inside = (poles.real > low) & (poles.real < high)
        return poles[inside], vectors[:, inside]

    @property
    def bare(self) -> LossyModel:
        """The same model without its basis: all that `impedance` needs."""
        none = np.zeros((0, 0), dtype=complex)
        return replace(self, basis=none.real, vectors=none, small=None)

    def fields(self, combinations: Array) -> Array:
        """Unknowns (n, w) of the mesh for combinations (r, w) of the basis."""
        return np.asarray(self.basis @ combinations)

    @property
    def projected(self) -> tuple[ComplexArray, ComplexArray, Array]:
        """K, M (r, r) and B (r, m) in the basis."""
        assert self.small is not None
        return self.small

    def watching(self, watched: Callable[[Array], ComplexArray]) -> LossyModel:
        """The same model with what is watched of its vectors."""
        return replace(self, watched=watched(self.basis) @ self.vectors)

    def seen_of(self, q: Array, right: ComplexArray) -> ComplexArray:
        """What is watched, (n, w), for port excitations ``B right``, (n, m), at q (n,)."""
        assert self.watched is not None
        driven = np.einsum("rm,nm->nr", self.driven, right)[:, :, None]
        return np.asarray(self._solved(q, driven)[:, :, 0] @ self.watched.T)

    def field(self, q: float, right: ComplexArray) -> ComplexArray:
        """Unknowns of the mesh for the port excitation ``B right``."""
        weights = self._solved(np.array([q]), (self.driven @ right)[None, :, None])[0, :, 0]
        return np.asarray(self.basis @ (self.vectors @ weights))

    def _solved(self, q: Array | ComplexArray, right: ComplexArray) -> ComplexArray:
        """``(T - q)^-1 right`` for right sides (len(q), r, m)."""
        x = np.array(right.swapaxes(0, 1), dtype=complex, order="C")
        flat = x.reshape(len(x), -1)
        least = _NEAREST * np.abs(q)
        for i in reversed(range(len(x))):
            distance = self.triangle[i, i] - q
            distance = np.where(np.abs(distance) < least, least, distance)
            flat[i] -= self.triangle[i, i + 1 :] @ flat[i + 1 :]
            x[i] /= distance[:, None]
        return x.swapaxes(0, 1)
