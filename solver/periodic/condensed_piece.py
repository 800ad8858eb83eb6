"""A piece of a part, condensed onto few fields on its cut planes and few inside.

The whole piece is a Galerkin projection: its unknowns are the amplitudes of chosen tangential
fields on each cut plane, continued into the piece, and of fields inside that vanish on the cuts.
What is joined from such pieces is therefore a subspace of the elements of the whole, its error of
second order in what was left out.

The fields on a cut are those that a source one piece away can still excite there: what random
sources at one end of the piece leave at its other end, magnetic walls behind both. By the mirror
symmetry of two equal pieces about the cut between them this is every field there.

A field that is continued into the pieces on both sides of a cut leaves a charge on it. In the
elements of the whole the gradients of potentials take it up, the null space of the curl; without
them it rings, as a sharp resonance that the part does not have. So the gradients on a cut are kept
apart from the other fields, and continued as gradients.

References
----------
A. Buhr, K. Smetana, "Randomized local model order reduction", SIAM J. Sci. Comput. 40 (2018)
A2120-A2151, doi 10.1137/17M1138480: random sources, and why their fields' singular values fall so
fast. R. R. Craig, M. C. C. Bampton, "Coupling of substructures for dynamic analyses", AIAA
Journal 6 (1968) 1313-1319: continued cut fields and inner ones. (Both from memory.)
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.sparse import csr_matrix, triu

from geometries.arrays import Array, Numbers
from solver.fem.level_problem import Pencil
from solver.fem.linear_solve import SymmetricSolver

#: Random sources that are added at once, and the start of them that makes every run the same.
_SOURCES, _SEED = 32, 20260
#: Size of the least field on a cut, and inside, that is kept, over the largest.
CUT_TOLERANCE, INSIDE_TOLERANCE = 3e-5, 1e-8
#: The same for the gradients on a cut: whatever charge the other fields bring has to find one.
STILL_TOLERANCE = 1e-6
#: Derivatives by q of the continued fields, all of them and of the first few.
_SLOW, _MOMENTS = 8, 3
#: Part of a q in the band at which fields are those at rest, negative so that nothing resonates
#: (much less of it drowns the gradients in round-off), and solves more that leave gradients alone.
_STILL, _PURER = -1e-3, 2


@dataclass(frozen=True, eq=False)
class CutFields:
    """Tangential fields on a cut plane.

    Parameters
    ----------
    fields : (t, c) array
        In the unknowns of the plane, gradients last, the largest of each first.
    sizes : (c,) array
        How large a source one piece away makes them, over the largest [-].
    still : (c,) bool array
        Those that are gradients of a potential.
    """

    fields: Array
    sizes: Array
    still: NDArray[np.bool_]


@dataclass(frozen=True, eq=False)
class CondensedPiece:
    """Matrices of a piece over the fields of its cuts, one cut after the other, and those inside.

    Parameters
    ----------
    stiffness, mass : (r, r) array
    columns : (r, m) array
        Of the ports that the piece has.
    fields : (n, r) array
        In the unknowns of the piece.
    cuts : int
        Number of its cuts.
    on_cut : int
        Fields on each.
    inside : (r - cuts on_cut,) array
        Sizes of the fields inside, over those of the continued ones [-].
    """

    stiffness: Array
    mass: Array
    columns: Array
    fields: Array
    cuts: int
    on_cut: int
    inside: Array


def cut_fields(
    pencil: Pencil, first: Numbers, second: Numbers, shifts: Sequence[float]
) -> CutFields:
    """Fields that sources on one end of a piece leave on the other.

    Parameters
    ----------
    pencil : Pencil
        Of the piece with open ends; its columns do not matter.
    first, second : (t,) array of int
        Unknowns on the two ends, in the same order.
    shifts : sequence of float
        Values of q in the band.

    Returns
    -------
    CutFields
    """
    passing = _Passing(pencil, first, second, shifts[0])
    still, sizes = _ranked(passing.left(_STILL * shifts[0], STILL_TOLERANCE), STILL_TOLERANCE)
    moving = np.hstack([passing.left(shift, CUT_TOLERANCE) for shift in shifts])
    # mixed with others a gradient would be none, and its charge on the cut would ring
    moving -= still @ (still.T @ moving)
    others, more = _ranked(moving, CUT_TOLERANCE)
    both = np.concatenate([more, sizes])
    return CutFields(
        np.hstack([others, still]) / passing.seen, both, np.arange(len(both)) >= len(more)
    )


class _Passing:
    """What random sources on one end of a piece leave on the other."""

    def __init__(self, pencil: Pencil, first: Numbers, second: Numbers, shift: float) -> None:
        self._random = np.random.default_rng(_SEED)
        self._solver, scale = SymmetricSolver(pencil.stiffness, pencil.mass), _scale(pencil, shift)
        self._mass, self._unknowns, self._ends = pencil.mass, len(scale), (first, second)
        self._source = np.sqrt(pencil.mass.diagonal()[first])[:, None]
        self.seen = scale[second][:, None]

    def left(self, shift: float, least: float) -> Array:
        """Fields (t, s) on the second end at one q, scaled, over the largest, down to a size."""
        first, second = self._ends
        self._solver.factorise(shift)
        there = np.zeros((len(second), 0))
        while there.shape[1] < len(first):
            count = min(_SOURCES, len(first) - there.shape[1])
            sources = np.zeros((self._unknowns, count))
            sources[first] = self._source * self._random.normal(size=(len(first), count))
            answers = self._solver.solve(sources)
            for _ in range(_PURER if shift < 0 else 0):
                answers = shift * self._solver.solve(SymmetricSolver.product(self._mass, answers))
            there = np.hstack([there, answers[second] * self.seen])
            sizes = np.linalg.svd(there, compute_uv=False)
            if sizes[-1] < least * sizes[0]:
                break
        return np.asarray(there / sizes[0])


def _ranked(block: Array, least: float) -> tuple[Array, Array]:
    """Orthonormal directions of a block above a size, and their sizes."""
    fields, sizes, _ = np.linalg.svd(block, full_matrices=False)
    kept = sizes > least
    return fields[:, kept], sizes[kept]


def condensed(
    pencil: Pencil,
    ends: Sequence[Numbers],
    cut: CutFields,
    shifts: Sequence[float],
    moving: Sequence[int] = (),
) -> CondensedPiece:
    """Condense a piece.

    Parameters
    ----------
    pencil : Pencil
    ends : sequence of (t,) int arrays
        Unknowns on each cut.
    cut : CutFields
    shifts : sequence of float
        Values of q at which the piece is solved.
    moving : sequence of int
        Port columns whose derivatives by q are taken along.

    Returns
    -------
    CondensedPiece
    """
    piece = _Piece(pencil, ends, cut, shifts[0])
    continued, found = piece.solved(shifts[0], moving)
    largest = float(np.linalg.norm(continued * piece.scale[:, None], axis=0).max())
    for shift in shifts[1:]:
        there, more = piece.solved(shift, moving)
        found += [there - continued, *more]
    found.append(piece.still(_STILL * shifts[0]) - continued[:, piece.at_rest])
    # what a port drives has a size of its own: here it counts as much as the continued fields
    block = np.hstack(found) * piece.scale[:, None]
    block /= np.maximum(np.linalg.norm(block, axis=0) / largest, 1.0)
    inside, sizes, _ = np.linalg.svd(block, full_matrices=False)
    kept = sizes > INSIDE_TOLERANCE * largest
    lifted = piece.lifts.shape[1]
    fields = np.zeros((len(pencil.columns), lifted + int(kept.sum())))
    fields[:, :lifted] = piece.lifts
    fields[piece.free, :lifted] = continued
    fields[piece.free, lifted:] = inside[:, kept] / piece.scale[:, None]
    k, m = (fields.T @ (matrix @ fields) for matrix in piece.whole)
    return CondensedPiece(
        0.5 * (k + k.T),
        0.5 * (m + m.T),
        fields.T @ pencil.columns,
        fields,
        len(ends),
        cut.fields.shape[1],
        sizes[kept] / largest,
    )


class _Piece:
    """A piece whose cuts carry given fields, as a problem for what is inside."""

    def __init__(
        self, pencil: Pencil, ends: Sequence[Numbers], cut: CutFields, shift: float
    ) -> None:
        count = cut.fields.shape[1]
        unknowns = len(pencil.columns)
        self.free = np.setdiff1d(np.arange(unknowns), np.concatenate(ends))
        self.whole = _symmetric(pencil)
        inner = [triu(matrix[self.free][:, self.free]).tocsr() for matrix in self.whole]
        self._mass, self._solver = inner[1], SymmetricSolver(*inner)
        self.scale, self._columns = _scale(pencil, shift)[self.free], pencil.columns[self.free]
        self.lifts = np.zeros((unknowns, len(ends) * count))
        for number, end in enumerate(ends):
            self.lifts[end, number * count : (number + 1) * count] = cut.fields
        first = range(min(_SLOW, count))
        self.at_rest = np.flatnonzero(np.tile(cut.still, len(ends)))
        self._slow = [n * count + i for n in range(len(ends)) for i in first]

    def solved(self, shift: float, moving: Sequence[int]) -> tuple[Array, list[Array]]:
        """Continue the cuts' fields inside at one q, and find what comes with them.

        Returns
        -------
        (f, c) array, list of (f, ...) arrays
            The continued fields; their derivatives by q, what the ports drive, and its.
        """
        mass, right = self.whole[1], self._factorised(shift, self.lifts)
        both = self._solver.solve(np.hstack([right, self._columns]))
        continued, driven = both[:, : right.shape[1]], both[:, right.shape[1] :]
        there = self.lifts.copy()
        there[self.free] += continued
        change = shift * self._solver.solve((mass @ there)[self.free])
        found = [change, *self._derivatives(change[:, self._slow], shift, _MOMENTS - 1)]
        if driven.shape[1]:
            found += [driven, *self._derivatives(driven[:, list(moving)], shift, _MOMENTS)]
        return continued, found

    def still(self, shift: float) -> Array:
        """Continue the gradients on the cuts inside (f, s) as the gradients of potentials."""
        return np.asarray(self._solver.solve(self._factorised(shift, self.lifts[:, self.at_rest])))

    def _factorised(self, shift: float, lifts: Array) -> Array:
        """Right-hand sides (f, c) of fields on the cuts, with the matrix factorised."""
        stiffness, mass = self.whole
        self._solver.factorise(shift)
        return np.asarray(-(stiffness @ lifts - shift * (mass @ lifts))[self.free])

    def _derivatives(self, latest: Array, shift: float, count: int) -> list[Array]:
        """Successive derivatives by q of fields inside, times powers of q."""
        found: list[Array] = []
        for _ in range(count if latest.shape[1] else 0):
            latest = shift * self._solver.solve(SymmetricSolver.product(self._mass, latest))
            found.append(latest)
        return found


def _scale(pencil: Pencil, shift: float) -> Array:
    """Size of each unknown in the energy of both fields."""
    return np.sqrt(pencil.stiffness.diagonal() / shift + pencil.mass.diagonal())


def _symmetric(pencil: Pencil) -> tuple[csr_matrix, csr_matrix]:
    """K and M, both triangles of one pattern."""
    # as one complex matrix, so that a sum that is zero in one of them is not dropped
    upper = csr_matrix(
        (
            pencil.stiffness.data + 1j * pencil.mass.data,
            pencil.stiffness.indices,
            pencil.stiffness.indptr,
        ),
        shape=pencil.stiffness.shape,
    )
    both = (upper + triu(upper, k=1).T).tocsr()
    both.sort_indices()
    return tuple(
        csr_matrix((data.copy(), both.indices.copy(), both.indptr.copy()), shape=both.shape)
        for data in (both.data.real, both.data.imag)
    )
