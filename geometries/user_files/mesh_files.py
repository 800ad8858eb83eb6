"""Tetrahedra and named facets from mesh files: gmsh's own by gmsh, all others by meshio."""

from __future__ import annotations

import contextlib
import io
from pathlib import Path
from typing import Any

import numpy as np

from geometries.arrays import Numbers
from geometries.cells.tetrahedral_cells import TetrahedralCells
from geometries.errors import MeshingError
from geometries.user_files.gmsh_files import GMSH_SUFFIXES, read_gmsh_file, refuse_cells

_TETS = ("tetra", "tetra10")
_FACETS = ("triangle", "triangle6")
_OTHER_SOLIDS = ("hexahedron", "wedge", "pyramid", "tetra", "polyhedron")
#: More different numbers than this on the facets are no groups.
_MOST_GROUPS = 1000


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
        Its groups are the physical groups of a file of gmsh (see `read_gmsh_file`), and else the
        named sets of facets, and for every field of whole numbers on the facets one group a
        number.

    Raises
    ------
    MeshingError
        If this is not a mesh, or has no tetrahedra.
    """
    if path.suffix.lower() in GMSH_SUFFIXES:
        return _distinct(read_gmsh_file(path), metres)
    mesh = _read(path)
    kinds = {block.type for block in mesh.cells}
    found = [kind for kind in _TETS if kind in kinds]
    if len(found) != 1 or any(k.startswith(_OTHER_SOLIDS) for k in kinds - set(_TETS)):
        raise refuse_cells(kinds)
    tets = np.concatenate([b.data for b in mesh.cells if b.type == found[0]]).T.astype(np.int64)
    if found[0] == "tetra10":  # meshio lists the last two middles as VTK does, gmsh the other way
        tets = tets[[0, 1, 2, 3, 4, 5, 6, 7, 9, 8]]
    points = np.asarray(mesh.points, dtype=float).T
    if points.shape[0] != 3:
        raise MeshingError("the mesh is flat: its nodes have two coordinates, not three")
    if tets.min() < 0 or tets.max() >= points.shape[1]:
        raise MeshingError("an element names a node that the file does not have")
    return _distinct(TetrahedralCells(points, tets, _groups(mesh)), metres)


def _distinct(cells: TetrahedralCells, metres: float) -> TetrahedralCells:
    """Cells in metres, each once: a format repeats those that are in several groups."""
    groups = {name: _once(facets) for name, facets in cells.groups.items()}
    return TetrahedralCells(cells.points * metres, _once(cells.tets), groups)


def _once(nodes: Numbers) -> Numbers:
    corners = np.sort(nodes[:4], axis=0)
    _, first = np.unique(corners, axis=1, return_index=True)
    return nodes[:, np.sort(first)]


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
            f"not a mesh that can be read{text}; use .msh, .med, .unv, .vtu, .vtk or another "
            "format that meshio reads, or STEP"
        ) from error


def _groups(mesh: Any) -> dict[str, Numbers]:
    """Corners (3, k) of the facets of every named group."""
    blocks = [i for i, block in enumerate(mesh.cells) if block.type in _FACETS]
    facets = {i: np.asarray(mesh.cells[i].data)[:, :3].T.astype(np.int64) for i in blocks}
    parts: dict[str, list[Numbers]] = {}
    for name, chosen in mesh.cell_sets.items():
        for i in blocks:
            members = np.asarray([] if chosen[i] is None else chosen[i], dtype=np.int64)
            if members.size and members.max() < facets[i].shape[1]:
                parts.setdefault(name, []).append(facets[i][:, members])
    names = _names(mesh)
    fields = dict(mesh.cell_data)
    if "gmsh:physical" in fields:  # the numbers of surfaces and of groups are not to be mixed
        fields.pop("gmsh:geometrical", None)
    for key, values in fields.items():
        numbered: dict[str, list[Numbers]] = {}
        for i, tags in _whole_numbers(values, blocks).items():
            for tag in np.unique(tags):
                name = names.get(int(tag), str(tag)) if key == "gmsh:physical" else str(tag)
                numbered.setdefault(name, []).append(facets[i][:, tags == tag])
        parts = numbered | parts  # a name met first keeps its facets
    return {name: np.concatenate(part, axis=1) for name, part in parts.items()}


def _names(mesh: Any) -> dict[int, str]:
    """Names of gmsh's numbered groups of surfaces, where another format has kept them."""
    pairs = {name: np.asarray(value).ravel() for name, value in mesh.field_data.items()}
    pairs = {n: v for n, v in pairs.items() if v.size == 2 and np.issubdtype(v.dtype, np.integer)}
    return {int(value[0]): name for name, value in pairs.items() if value[1] == 2}


def _whole_numbers(values: Any, blocks: list[int]) -> dict[int, Numbers]:
    """Whole numbers on the facets of some blocks, if there are not too many different ones."""
    found = {}
    for i in blocks:
        tags = np.asarray(values[i])
        if tags.ndim != 1 or tags.dtype.kind not in "iuf" or not (np.abs(tags) < 2**53).all():
            continue
        if np.array_equal(tags, np.round(tags)):
            found[i] = tags.astype(np.int64)
    different = len(np.unique(np.concatenate([*found.values(), np.empty(0, np.int64)])))
    return found if different <= _MOST_GROUPS else {}
