"""Equal condensed pieces in a row between two equal ends."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from scipy.sparse import coo_matrix, csr_matrix

from geometries.arrays import Array, Numbers
from solver.fem.level_problem import Pencil
from solver.periodic.condensed_piece import CondensedPiece


@dataclass(frozen=True, eq=False)
class PieceChain:
    """An end, equal cells, and the end's mirror image, joined at their cuts.

    Parameters
    ----------
    end : CondensedPiece
        With one cut, and with the columns of its port.
    cell : CondensedPiece
        With two cuts.
    count : int
        Number of cells; 0 if the two ends meet.

    Notes
    -----
    The mirror image of an end has the same matrices: what is tangential to the mirror is the same
    on both sides of it.
    """

    end: CondensedPiece
    cell: CondensedPiece
    count: int

    @property
    def pieces(self) -> tuple[tuple[CondensedPiece, Numbers], ...]:
        """Each piece from port 1 on, with the place of its amplitudes among those of the chain."""
        cut, inside = self.end.on_cut, len(self.cell.inside)
        cuts = [np.arange(n * cut, (n + 1) * cut) for n in range(self.count + 1)]
        at = (self.count + 1) * cut
        ends = []
        for joint in (cuts[0], cuts[-1]):
            ends.append((self.end, np.concatenate([joint, at + np.arange(len(self.end.inside))])))
            at += len(self.end.inside)
        cells = []
        for n in range(self.count):
            own = at + n * inside + np.arange(inside)
            cells.append((self.cell, np.concatenate([cuts[n], cuts[n + 1], own])))
        return ends[0], *cells, ends[1]

    @property
    def unknowns(self) -> int:
        """Number of amplitudes."""
        inside = self.count * len(self.cell.inside) + 2 * len(self.end.inside)
        return (self.count + 1) * self.end.on_cut + inside

    def pencil(self) -> Pencil:
        """K, M and port columns of the chain, those of port 1 first."""
        pieces, modes = self.pieces, self.end.columns.shape[1]
        rows, columns, values = [], [], []
        for piece, place in pieces:
            i, j = np.triu_indices(len(place))
            first, second = place[i], place[j]
            rows.append(np.minimum(first, second))
            columns.append(np.maximum(first, second))
            values.append(piece.stiffness[i, j] + 1j * piece.mass[i, j])
        places = (np.concatenate(rows), np.concatenate(columns))
        both = coo_matrix((np.concatenate(values), places), shape=[self.unknowns] * 2).tocsr()
        both.sort_indices()
        ports = np.zeros((self.unknowns, 2 * modes))
        ports[pieces[0][1], :modes] = self.end.columns
        ports[pieces[-1][1], modes:] = self.end.columns
        k, m = (
            csr_matrix((data.copy(), both.indices, both.indptr), shape=both.shape)
            for data in (both.data.real, both.data.imag)
        )
        return Pencil(k, m, ports)

    def summed(self, of_end: Array, of_cell: Array, amplitudes: Array) -> Array:
        """Sum over the pieces of a quadratic form given for each, in fields of the chain.

        Parameters
        ----------
        of_end, of_cell : (r, r) array
            Symmetric, over the fields of a piece.
        amplitudes : (unknowns, f) array

        Returns
        -------
        (f, f) array
        """
        total = np.zeros([amplitudes.shape[1]] * 2)
        for piece, place in self.pieces:
            here = amplitudes[place]
            total += here.T @ ((of_cell if piece is self.cell else of_end) @ here)
        return total

    def coarser(self, cut: Numbers, inside: float) -> PieceChain:
        """The same with some of the fields on the cuts (c,), and the larger ones inside."""
        return replace(
            self, end=_coarser(self.end, cut, inside), cell=_coarser(self.cell, cut, inside)
        )


def _coarser(piece: CondensedPiece, cut: Numbers, inside: float) -> CondensedPiece:
    cuts = [n * piece.on_cut + cut for n in range(piece.cuts)]
    own = piece.cuts * piece.on_cut + np.flatnonzero(piece.inside > inside)
    kept = np.concatenate([*cuts, own])
    return CondensedPiece(
        piece.stiffness[np.ix_(kept, kept)],
        piece.mass[np.ix_(kept, kept)],
        piece.columns[kept],
        piece.fields[:, kept],
        piece.cuts,
        len(cut),
        piece.inside[piece.inside > inside],
    )
