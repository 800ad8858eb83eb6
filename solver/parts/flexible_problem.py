"""A flexible guide as the search over levels asks for it: meshes, pieces and spaces of its row."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from typing import Any

import numpy as np

from geometries.arrays import Array
from geometries.cells.chain_mesh import ChainMesh
from geometries.cells.space_ports import FEED, SpaceMesh
from geometries.shapes.flexibles import Flexible
from geometries.space_meshes.flexible_blocks import (
    Stretch,
    flexible_blocks,
    flexible_ports,
    grouped,
)
from solver.fem.level_problem import Pencil
from solver.parts.space_parts import symmetry_of
from solver.parts.space_solver import SpaceProblem, vector_fields
from solver.periodic.chain_space import CellSpace, ChainSpace, CutCell, chain_space, cut_cell
from solver.waves.guide_modes import SPEED_OF_LIGHT

ORDERS: Mapping[int, Sequence[int]] = {0: (5, 6, 7, 8), 1: (6, 7)}
#: Where the convolutions begin the walls' curvature jumps, and no cells are graded towards it.
RATIOS: Mapping[int, float] = {0: 0.3, 1: 0.3}
#: Length of a cell times the wavenumber up to which one solve serves a band, and which each more
#: adds.
_ONE_SOLVE, _PER_SOLVE = 3.0, 10.0


class FlexibleProblem(SpaceProblem):
    """A flexible guide, as the search over levels asks for it.

    Parameters
    ----------
    part : Flexible
    frequency : (n,) array
        Ascending [Hz].
    s_error : float
    whole : bool
        Solve all convolutions in one mesh, as a single one has to be; otherwise as a row of
        condensed pieces.
    """

    def __init__(
        self, part: Flexible, frequency: Array, s_error: float, whole: bool = False
    ) -> None:
        self.part, self.whole = part, whole or part.count == 1
        self.pieces = grouped(part)
        self._wavelength = SPEED_OF_LIGHT / float(frequency[-1])
        self._feed = FEED * part.guide.broad_width
        super().__init__(self._make_mesh, frequency, s_error, ORDERS, RATIOS, symmetry_of(part), 4)
        self._rows: dict[tuple[int, int], ChainSpace] = {}
        self._shifts = _shifts(self.squared, self.pieces.cell * part.pitch)

    def _make_mesh(self, refinement: int) -> SpaceMesh:
        feeds = (self._feed, self._feed)
        whole = Stretch(0, self.part.count, feeds)
        if self.whole:
            return self._blocks(whole, refinement)
        end = self._blocks(Stretch(0, self.pieces.end, (self._feed, 0.0)), refinement)
        cell = self._blocks(Stretch(0, self.pieces.cell), refinement)
        row = ChainMesh(end, cell, self.pieces.count)
        described = end.description | {
            "cells_of_end": end.description["cells"],
            "cells": cell.description["cells"],
            "convolutions_of_end": self.pieces.end,
            "convolutions_of_cell": self.pieces.cell,
        }
        return SpaceMesh(row, flexible_ports(self.part, whole), described, images=end.images)

    def _blocks(self, stretch: Stretch, refinement: int) -> SpaceMesh:
        return flexible_blocks(
            self.part, stretch, wavelength=self._wavelength, refinement=refinement
        )

    def cell(self, refinement: int, order: int) -> CellSpace:
        """Condense the cell of the row."""
        mesh = self._blocks(Stretch(0, self.pieces.cell), refinement)
        return self._cell(mesh, order).condensed(self._shifts)

    def _cell(self, mesh: SpaceMesh, order: int) -> CutCell:
        first = vector_fields(mesh.ports[0], self.modes[0][:1])
        return cut_cell(mesh, order, first, self._shifts)

    def row(self, mesh: SpaceMesh, order: int) -> ChainSpace:
        """Condense all pieces of the row; kept, since losses and stopbands ask for it again."""
        key = (id(mesh), order)
        if key not in self._rows:
            modes = self.modes[0]
            fields = vector_fields(mesh.ports[0], modes)
            cell = self._cell(mesh.mesh.cell, order)
            moving = [int(i) for i in np.flatnonzero(self.moving[: len(modes)])]
            self._rows[key] = chain_space(mesh.mesh, order, fields, cell, self._shifts, moving)
        return self._rows[key]

    def take_rows(self, other: FlexibleProblem) -> None:
        """Take over what the same part has condensed for other frequencies of the band."""
        self._rows |= other._rows

    def spaces(self, mesh: SpaceMesh, orders: Sequence[int]) -> Iterator[tuple[Any, Pencil]]:
        """Assemble, or condense and join, the spaces of ascending orders."""
        if self.whole:
            yield from super().spaces(mesh, orders)
            return
        for order in orders:
            space = self.row(mesh, order)
            yield space, space.chain.pencil()


def _shifts(squared: Array, length: float) -> list[float]:
    """Values of q in a band at which a piece of some length [m] is solved."""
    low, high = float(squared[0]), float(squared[-1])
    turn = float(np.sqrt(high)) * length
    count = 1 if turn < _ONE_SOLVE and high < 3 * low else 2 + int(turn / _PER_SOLVE)
    return [low + (n + 0.5) / count * (high - low) for n in range(count)]
