"""Waves of an endless row of equal pieces: phase and attenuation of a period, stopbands.

With D(q) the matrix of a piece over the fields of its two cuts, what is inside eliminated, a wave
that gains the factor exp(-j theta) from cut to cut has

    (D11 + D22) c + (D12 exp(-j theta) + D21 exp(j theta)) c = 0.

A piece that is its own mirror image has D22 = D11 and D12 = D21 over the same fields, so that
-2 cos(theta) are the eigenvalues of (D11 + D22, D12): real symmetric matrices of few rows. Where
abs(cos(theta)) is 1 the wave stands, with all cuts magnetic or all cuts electric walls, so that no
edge of a stopband can be missed between two frequencies: each is a resonance of the closed piece.
(L. Brillouin, "Wave Propagation in Periodic Structures", 2nd ed., 1953, for such waves, from
memory; the mirror-symmetric form is derived here.)
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from itertools import pairwise

import numpy as np
from scipy.linalg import eig, eigh

from geometries.arrays import Array, ComplexArray
from solver.periodic.condensed_piece import CondensedPiece

#: Two edges closer than this, relative in q, bound no stopband: the wave of a piece of several
#: periods folds there.
_NO_GAP = 1e-7
#: Points at which a stretch between two edges is looked at.
_LOOKS = 9
#: By how much a cosine may be beyond one, and off the real axis, by round-off: beside a resonance
#: of the inside much cancels.
_ROUND_OFF, _OFF_AXIS = 1e-9, 1e-5


@dataclass(frozen=True, eq=False)
class PeriodicPiece:
    """A piece that is its own mirror image, and the wave that is followed through it.

    Parameters
    ----------
    piece : CondensedPiece
        With two cuts.
    wanted : (c,) array
        Integrals of the wanted wave's tangential field over the fields of a cut.
    """

    piece: CondensedPiece
    wanted: Array

    @cached_property
    def _inside(self) -> tuple[Array, Array, Array]:
        """Inner resonances q, and what couples them to the cuts in K and in M."""
        n = self.piece.cuts * self.piece.on_cut
        k, m = self.piece.stiffness, self.piece.mass
        poles, modes = eigh(k[n:, n:], m[n:, n:])
        return poles, k[:n, n:] @ modes, m[:n, n:] @ modes

    def matrix(self, q: float) -> Array:
        """D(q), (2c, 2c)."""
        n = self.piece.cuts * self.piece.on_cut
        poles, stiff, heavy = self._inside
        coupled = stiff - q * heavy
        own = self.piece.stiffness[:n, :n] - q * self.piece.mass[:n, :n]
        return np.asarray(own - (coupled / (poles - q)) @ coupled.T)

    def cosine(self, q: float) -> complex:
        """Cosine of the phase of a period of the followed wave, at one q."""
        c, d = self.piece.on_cut, self.matrix(q)
        own = d[:c, :c] + d[c:, c:]
        across = 0.5 * (d[:c, c:] + d[c:, :c])
        # waves that die out at once have huge cosines: their inverses are well-behaved
        inverse, vectors = eig(-across, own)
        size = np.linalg.norm(vectors, axis=0)
        drawn = np.abs(self.wanted @ vectors) / size
        # nothing that dies out within a period is followed
        alive = np.abs(inverse) > 0.5 / np.cosh(2.0)
        chosen = int(np.argmax(np.where(alive, drawn, 0.0) if alive.any() else np.abs(inverse)))
        return complex(0.5 / inverse[chosen])

    def cosines(self, squared: Array) -> ComplexArray:
        """`cosine` at several q, (n,)."""
        return np.array([self.cosine(float(q)) for q in squared])

    def standing(self, low: float, high: float) -> Array:
        """Every q between two at which a wave of the row stands, ascending."""
        poles = np.concatenate(
            [self._inside[0], eigh(self.piece.stiffness, self.piece.mass, eigvals_only=True)]
        )
        return np.sort(poles[(poles > low) & (poles < high)])

    def stopbands(self, low: float, high: float) -> list[tuple[float, float]]:
        """Stretches (q, q) of an interval in which the followed wave dies out."""
        edges = [low, *self.standing(low, high), high]
        found: list[tuple[float, float]] = []
        for a, b in pairwise(edges):
            if b - a < _NO_GAP * b:
                continue
            looked = self.cosines(a + (b - a) * (np.arange(_LOOKS) + 0.5) / _LOOKS)
            if dies_out(looked).mean() < 0.5:
                continue
            if found and abs(found[-1][1] - a) <= _NO_GAP * b:
                a = found.pop()[0]
            found.append((a, b))
        return found


def dies_out(cosine: ComplexArray) -> np.ndarray:
    """Whether a wave with this cosine of its phase dies out from period to period."""
    beyond = np.abs(cosine.real) > 1 + _ROUND_OFF
    return np.asarray(beyond | (np.abs(cosine.imag) > _OFF_AXIS * np.abs(cosine)))


def phase_of(cosine: ComplexArray, about: Array) -> ComplexArray:
    """Complex phase of a period from its cosine: real where the wave runs.

    Parameters
    ----------
    cosine : (n,) complex array
    about : (n,) array
        Phase that it is known to lie near [rad].

    Returns
    -------
    (n,) complex array
        With the time factor exp(+jwt) a wave that dies out along the row has a negative imaginary
        part [rad].
    """
    principal = np.arccos(cosine.astype(complex))
    turns = 2 * np.pi * np.round((about - principal.real) / (2 * np.pi))
    back = 2 * np.pi * np.round((about + principal.real) / (2 * np.pi))
    ahead, mirrored = turns + principal.real, back - principal.real
    nearer = np.where(np.abs(ahead - about) <= np.abs(mirrored - about), ahead, mirrored)
    return np.asarray(nearer - 1j * np.abs(principal.imag))
