"""Tetrahedra and named facets from mesh files of any format that meshio reads."""

from __future__ import annotations

import contextlib
import io
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from geometries.errors import MeshingError
from geometries.tetrahedral_cells import TetrahedralCells

Numbers = NDArray[np.int64]

_TETS = ("tetra", "tetra10")
_FACETS = ("triangle", "triangle6")


def read_mesh_file(path: Path, metres: float) -> TetrahedralCells:
    """Read a mesh file.

    Parameters
    ----------
    path : Path
    metres : float
        Length of the file's unit [m].

    Returns
    -------
    TetrahedralCells
        Its groups are the named sets of facets, and for every field of whole numbers on the
        facets one group a number.

    Raises
    ------
    MeshingError
        If this is not a mesh, or has no tetrahedra.
    """
    mesh = _read(path)
    kinds = {block.type for block in mesh.cells}
    found = [kind for kind in _TETS if kind in kinds]
    if not found:
        there = ", ".join(sorted(kinds)) or "no cells"
        raise MeshingError(
            f"the mesh has no tetrahedra ({there}); mesh the inside of the guide, not its surface"
        )
    if len(found) > 1 or kinds & {"hexahedron", "wedge", "pyramid"}:
        raise MeshingError(
            f"the mesh mixes cells ({', '.join(sorted(kinds))}); use tetrahedra of one order"
        )
    tets = np.concatenate([b.data for b in mesh.cells if b.type == found[0]]).T.astype(np.int64)
    if found[0] == "tetra10":  # meshio lists the last two middles as VTK does, gmsh the other way
        tets = tets[[0, 1, 2, 3, 4, 5, 6, 7, 9, 8]]
    points = np.asarray(mesh.points, dtype=float).T
    if points.shape[0] != 3:
        raise MeshingError("the mesh is flat: its nodes have two coordinates, not three")
    if tets.min() < 0 or tets.max() >= points.shape[1]:
        raise MeshingError("an element names a node that the file does not have")
    return TetrahedralCells(points * metres, tets, _groups(mesh))


def _read(path: Path) -> Any:
    import meshio

    said = io.StringIO()
    try:
        with contextlib.redirect_stdout(said), contextlib.redirect_stderr(said):
            return meshio.read(path)
    except (Exception, SystemExit) as error:
        # meshio's readers fail with whatever a broken file makes them trip over, and meshio 5.3
        # ends the process (SystemExit) where no reader fits; nothing else is called here.
        text = "" if isinstance(error, SystemExit) else f" ({type(error).__name__})"
        raise MeshingError(
            f"not a mesh that can be read{text}; use .msh, .vtu, .vtk, .med or another format "
            "that meshio reads, or STEP"
        ) from error


def _groups(mesh: Any) -> dict[str, Numbers]:
    """Corners (3, k) of the facets of every named group."""
    blocks = [i for i, block in enumerate(mesh.cells) if block.type in _FACETS]
    facets = {i: np.asarray(mesh.cells[i].data)[:, :3].T.astype(np.int64) for i in blocks}
    parts: dict[str, list[Numbers]] = {}
    for name, chosen in mesh.cell_sets.items():
        for i in blocks:
            if chosen[i] is not None and len(chosen[i]):
                parts.setdefault(name, []).append(facets[i][:, np.asarray(chosen[i], dtype=int)])
    names = {int(value[0]): name for name, value in mesh.field_data.items() if int(value[1]) == 2}
    for values in mesh.cell_data.values():
        numbered: dict[str, list[Numbers]] = {}
        for i in blocks:
            tags = np.asarray(values[i])
            if tags.ndim != 1 or not np.array_equal(tags, np.round(tags)):
                continue
            for tag in np.unique(tags).astype(int):
                name = names.get(int(tag), str(tag))
                numbered.setdefault(name, []).append(facets[i][:, tags == tag])
        parts = numbered | parts  # a name met first keeps its facets
    return {name: np.concatenate(part, axis=1) for name, part in parts.items()}
