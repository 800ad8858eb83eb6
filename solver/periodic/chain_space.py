"""Edge elements of a row of equal pieces: the cell and the end that it is made of, condensed."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from functools import cached_property

import numpy as np

from geometries.arrays import Array, ComplexArray, Numbers
from geometries.cells.chain_mesh import ChainMesh
from geometries.cells.space_ports import SpaceMesh
from solver.fem.edge_assembly import port_columns
from solver.fem.edge_pencil import edge_pencil
from solver.fem.edge_space import EdgeSpace, edge_space
from solver.fem.field_samples import wall_current_matrix
from solver.fem.level_problem import Pencil
from solver.periodic.bloch_waves import PeriodicPiece
from solver.periodic.condensed_piece import (
    CUT_TOLERANCE,
    INSIDE_TOLERANCE,
    CondensedPiece,
    CutFields,
    condensed,
    cut_fields,
)
from solver.periodic.piece_chain import PieceChain

#: What is left out besides, to see what was left out: sizes above this many times the tolerance
#: stay.
_COARSER = 10.0
PortFields = Callable[[Array], Array]


@dataclass(frozen=True, eq=False)
class CellSpace:
    """Edge elements of one order on a cell, and the cell condensed.

    Parameters
    ----------
    space : EdgeSpace
    piece : CondensedPiece
    cut : CutFields
    wanted : (c,) array
        Integrals of the first port mode over the fields of a cut.
    """

    space: EdgeSpace
    piece: CondensedPiece
    cut: CutFields
    wanted: Array

    @property
    def period(self) -> PeriodicPiece:
        """The cell, as one period of an endless row."""
        return PeriodicPiece(self.piece, self.wanted)


@dataclass(frozen=True, eq=False)
class CutCell:
    """Edge elements of one order on a cell, and the fields on its cuts.

    Parameters
    ----------
    space : EdgeSpace
    pencil : Pencil
    ends : list of two int arrays
        Unknowns on the first and the second cut.
    cut : CutFields
    wanted : (c,) array
        The first port mode in the fields of the cut.
    """

    space: EdgeSpace
    pencil: Pencil
    ends: list[Numbers]
    cut: CutFields
    wanted: Array

    def condensed(self, shifts: Sequence[float]) -> CellSpace:
        """Condense the cell; `shifts` as those of `cut_cell`."""
        piece = condensed(self.pencil, self.ends, self.cut, shifts)
        return CellSpace(self.space, piece, self.cut, self.wanted)


def cut_cell(cell: SpaceMesh, order: int, first: PortFields, shifts: Sequence[float]) -> CutCell:
    """Find the fields on the cuts of a cell.

    Parameters
    ----------
    cell : SpaceMesh
        Between its two cuts.
    order : int
        Of the elements.
    first : callable
        The first port mode on the first cut; see `port_columns`.
    shifts : sequence of float
        Values of q in the band.

    Returns
    -------
    CutCell
    """
    space = edge_space(cell.mesh, order)
    ends = [_on(space, name) for name in ("port1", "port2")]
    pencil = Pencil(
        *edge_pencil(space, permittivity=cell.permittivity), np.zeros((len(space.free_dofs), 0))
    )
    cut = cut_fields(pencil, ends[0], ends[1], shifts)
    wanted = port_columns(space, "port1", first)[space.free_dofs][ends[0], 0]
    return CutCell(space, pencil, ends, cut, wanted @ cut.fields)


@dataclass(frozen=True, eq=False)
class ChainSpace:
    """Edge elements of one order on a row.

    Parameters
    ----------
    end : EdgeSpace
    cell : CellSpace
    chain : PieceChain
    """

    end: EdgeSpace
    cell: CellSpace
    chain: PieceChain

    @property
    def unknowns(self) -> int:
        """Unknowns of the elements of the cell and the end."""
        return len(self.end.free_dofs) + len(self.cell.space.free_dofs)

    @property
    def coarser(self) -> Pencil:
        """The row with fewer fields on the cuts and inside."""
        cut = self.cell.cut
        # a charge on the cut that finds no gradient would ring: those all stay
        kept = np.flatnonzero(cut.still | (cut.sizes > _COARSER * CUT_TOLERANCE))
        return self.chain.coarser(kept, _COARSER * INSIDE_TOLERANCE).pencil()

    def unknowns_of(self, amplitudes: ComplexArray) -> Iterator[tuple[EdgeSpace, ComplexArray]]:
        """Space and unknowns, walls included, of each piece for amplitudes (n, ...) of the row."""
        for piece, place in self.chain.pieces:
            space = self.cell.space if piece is self.chain.cell else self.end
            unknowns = np.zeros((space.n_dofs, *amplitudes.shape[1:]), dtype=amplitudes.dtype)
            unknowns[space.free_dofs] = piece.fields @ amplitudes[place]
            yield space, unknowns

    @cached_property
    def _walls(self) -> tuple[Array, Array]:
        both = []
        for space, piece in ((self.end, self.chain.end), (self.cell.space, self.chain.cell)):
            fields = np.zeros((space.n_dofs, piece.fields.shape[1]))
            fields[space.free_dofs] = piece.fields
            both.append(wall_current_matrix(space, fields))
        return both[0], both[1]

    def wall_currents(self, amplitudes: Array) -> Array:
        """As `wall_current_matrix`, of fields given by amplitudes (n, r) of the row."""
        return self.chain.summed(*self._walls, amplitudes)


def chain_space(
    mesh: ChainMesh,
    order: int,
    fields: PortFields,
    cell: CutCell,
    shifts: Sequence[float],
    moving: Sequence[int],
) -> ChainSpace:
    """Condense the ends of a row beside its cell, and join it.

    Parameters
    ----------
    mesh : ChainMesh
    order : int
        Of the elements.
    fields : callable
        Modes at the port of the end; see `port_columns`.
    cell : CutCell
        Of the same order.
    shifts : sequence of float
        Values of q in the band.
    moving : sequence of int
        Modes that propagate.

    Returns
    -------
    ChainSpace
    """
    with ThreadPoolExecutor(1) as beside:
        started = beside.submit(cell.condensed, shifts)
        end, piece = _end(mesh, order, fields, cell.cut, shifts, moving)
        whole = started.result()
    return ChainSpace(end, whole, PieceChain(piece, whole.piece, mesh.count))


def _end(
    mesh: ChainMesh,
    order: int,
    fields: PortFields,
    cut: CutFields,
    shifts: Sequence[float],
    moving: Sequence[int],
) -> tuple[EdgeSpace, CondensedPiece]:
    end = edge_space(mesh.end.mesh, order)
    # the squares of the modes' fields integrate to one over the whole port
    columns = np.sqrt(mesh.end.images) * port_columns(end, "port1", fields)[end.free_dofs]
    pencil = Pencil(*edge_pencil(end, permittivity=mesh.end.permittivity), columns)
    return end, condensed(pencil, [_on(end, "port2")], cut, shifts, moving)


def _on(space: EdgeSpace, name: str) -> Numbers:
    """Places of a boundary's unknowns among the free ones, ascending."""
    place = np.full(space.n_dofs, -1)
    place[space.free_dofs] = np.arange(len(space.free_dofs))
    on = place[space.facet_dofs(space.mesh.boundaries[name])]
    return np.asarray(on[on >= 0])
