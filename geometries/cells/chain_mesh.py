"""Meshes of a part that is a row of equal pieces between two ends that mirror each other."""

from __future__ import annotations

from dataclasses import dataclass

from geometries.cells.space_ports import SpaceMesh


@dataclass(frozen=True, eq=False)
class ChainMesh:
    """The two meshes that the row is made of.

    Parameters
    ----------
    end : SpaceMesh
        From the part's ``port1``, its feed included, to the first cut, its ``port2``.
    cell : SpaceMesh
        Between two cuts, ``port1`` and ``port2``; its own mirror image.
    count : int
        Cells between the two ends.
    """

    end: SpaceMesh
    cell: SpaceMesh
    count: int
