"""Matrices of many parts as sums of few fixed ones: lengths that stretch, and their inverses.

Where parts differ in lengths along which cells stretch as one, K and M are
``A + sum_i (B_i x_i + C_i / x_i)`` with x_i the i-th length over a reference: along a stretched
edge a cell's metric goes as the length or as its inverse.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from scipy.sparse import csr_matrix

from geometries.arrays import Array, Numbers

Pair = tuple[csr_matrix, csr_matrix]

#: Lengths at which stretched cells are assembled, over the reference.
STRETCHED = (1.5, 1.0 / 1.5)


@dataclass(frozen=True, eq=False)
class AffinePencil:
    """K, M and port columns of parts that differ in stretched lengths.

    Parameters
    ----------
    summands : tuple of (csr_matrix, csr_matrix)
        Upper triangles (n, n) of K and M: the fixed ones, then those times and over each length.
    pattern : csr_matrix
        Holds the places of all of them.
    places : tuple of (e,) array of int
        Where in the pattern's data each summand stands.
    columns : (n, m) array
        Port columns at the reference.
    """

    summands: tuple[Pair, ...]
    pattern: csr_matrix
    places: tuple[Numbers, ...]
    columns: Array

    def at(self, lengths: Array) -> Pair:
        """Upper triangles of K and M, of one pattern, at lengths (n,) over the reference."""
        first, both = self.pattern, []
        for number in range(2):
            data = np.zeros(len(first.indices))
            for weight, place, pair in zip(
                weights_of(lengths), self.places, self.summands, strict=True
            ):
                data[place] += weight * pair[number].data
            both.append(csr_matrix((data, first.indices, first.indptr), shape=first.shape))
        return both[0], both[1]


def weights_of(lengths: Array) -> Array:
    """Weights (1 + 2 n,) of the summands of an `AffinePencil` at lengths (n,)."""
    return np.concatenate([[1.0], np.stack([lengths, 1.0 / lengths], axis=1).ravel()])


def affine_pencil(
    fixed: Pair, stretched: Sequence[tuple[Pair, Pair]], columns: Array
) -> AffinePencil:
    """Make the summands from assemblies of the cells that stretch with each length.

    Parameters
    ----------
    fixed : (csr_matrix, csr_matrix)
        K and M of the cells that do not stretch.
    stretched : sequence of two pairs
        For each length K and M of its cells, at the two lengths of `STRETCHED`.
    columns : (n, m) array
        Port columns at the reference.

    Returns
    -------
    AffinePencil
    """
    weights = np.linalg.inv(np.array([[x, 1.0 / x] for x in STRETCHED]))
    summands = [fixed]
    for ends in stretched:
        pattern, places = _joined([matrix for pair in ends for matrix in pair])
        data = np.zeros((2, 2, len(pattern.indices)))
        for (end, number), place in zip(np.ndindex(2, 2), places, strict=True):
            data[end, number, place] = ends[end][number].data
        for share in np.tensordot(weights, data, axes=1):
            stiffness, mass = (
                csr_matrix((values, pattern.indices, pattern.indptr), shape=pattern.shape)
                for values in share
            )
            summands.append((stiffness, mass))
    pattern, places = _joined([stiffness for stiffness, _ in summands])
    return AffinePencil(tuple(summands), pattern, tuple(places), columns)


def _joined(matrices: Sequence[csr_matrix]) -> tuple[csr_matrix, list[Numbers]]:
    """A pattern that holds all matrices, and the place in it of each one's data."""
    n = matrices[0].shape[0]
    keys = [
        np.repeat(np.arange(n, dtype=np.int64), np.diff(matrix.indptr)) * n + matrix.indices
        for matrix in matrices
    ]
    every = np.unique(np.concatenate(keys))
    rows, columns = np.divmod(every, n)
    indptr = np.searchsorted(rows, np.arange(n + 1))
    pattern = csr_matrix((np.ones(len(every)), columns, indptr), shape=(n, n))
    return pattern, [np.searchsorted(every, key) for key in keys]
