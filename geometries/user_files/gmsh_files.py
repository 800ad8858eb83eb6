"""Tetrahedra and named facets from files that gmsh itself writes, read by gmsh.

Only gmsh knows all versions of its format, and to which physical groups each surface belongs.
"""

from __future__ import annotations

from pathlib import Path
from types import ModuleType
from typing import Any

import numpy as np
from numpy.typing import NDArray

from geometries.arrays import Numbers
from geometries.cells.gmsh_session import gmsh_session
from geometries.cells.tetrahedral_cells import TetrahedralCells
from geometries.errors import MeshingError

#: Name endings of the formats that gmsh reads with its groups.
GMSH_SUFFIXES = (".msh", ".med", ".mesh", ".unv")
#: What the first lines of the text formats hold: gmsh would run any other text as a script.
_MARKS = {".msh": b"$MeshFormat", ".mesh": b"MeshVersionFormatted", ".unv": b"    -1"}
#: gmsh's numbers of tetrahedra and triangles of first and second order, with their nodes.
_TETS = {4: 4, 11: 10}
_TRIANGLES = {2: 3, 9: 6}


def read_gmsh_file(path: Path) -> TetrahedralCells:
    """Read a mesh file by gmsh.

    Parameters
    ----------
    path : Path

    Returns
    -------
    TetrahedralCells
        In the file's unit.  Its groups are the physical groups of surfaces by their names, or by
        their numbers where they have none; in a file without any, the surfaces by their numbers.

    Raises
    ------
    MeshingError
        If this is not a mesh, or has other cells than tetrahedra of first or second order.
    """
    mark = _MARKS.get(path.suffix.lower())
    with path.open("rb") as file:
        if mark is not None and mark not in file.read(10_000):
            raise MeshingError(f"not a mesh that can be read: it does not hold {mark.decode()}")
    with gmsh_session("part") as gmsh:
        try:
            gmsh.merge(str(path))
        except Exception as error:  # gmsh raises bare Exception objects
            said = str(error).replace(str(path), path.name).splitlines() or [""]
            raise MeshingError(f"not a mesh that can be read (gmsh says: {said[0]})") from error
        return _cells(gmsh)


def refuse_cells(kinds: set[str]) -> MeshingError:
    """Error that says which cells a file has, and what to use instead."""
    there = ", ".join(sorted(kinds)) or "no cells"
    solid = {k for k in kinds if k.lower().startswith(("hexa", "wedge", "prism", "pyramid", "tet"))}
    if solid:
        return MeshingError(
            f"the mesh has cells of other kinds than can be solved ({there}); use tetrahedra of "
            "first or of second order only"
        )
    return MeshingError(
        f"the mesh has no tetrahedra ({there}); mesh the inside of the guide too, and with gmsh "
        "put the volume in a physical group or set Mesh.SaveAll = 1"
    )


def _cells(gmsh: ModuleType) -> TetrahedralCells:
    kinds, _, nodes = gmsh.model.mesh.getElements(3)
    if len(kinds) != 1 or int(kinds[0]) not in _TETS:
        every = [int(kind) for kind in (kinds if len(kinds) else gmsh.model.mesh.getElements()[0])]
        raise refuse_cells({gmsh.model.mesh.getElementProperties(kind)[0] for kind in every})
    tags, coordinates, _ = gmsh.model.mesh.getNodes()
    number = np.full(int(tags.max()) + 1, -1, dtype=np.int64)
    number[tags.astype(np.int64)] = np.arange(len(tags))
    tets = _numbered(number, nodes[0], _TETS[int(kinds[0])])
    groups = {name: _facets(gmsh, number, tags) for name, tags in _surfaces(gmsh).items()}
    return TetrahedralCells(coordinates.reshape(-1, 3).T, tets, groups)


def _surfaces(gmsh: ModuleType) -> dict[str, list[int]]:
    """Surfaces of each group; groups of the same name are one."""
    groups: dict[str, list[int]] = {}
    for dimension, group in gmsh.model.getPhysicalGroups(2):
        name = gmsh.model.getPhysicalName(dimension, group).strip() or str(group)
        members = gmsh.model.getEntitiesForPhysicalGroup(dimension, group)
        groups.setdefault(name, []).extend(int(tag) for tag in members)
    if groups:
        return {name: sorted(set(tags)) for name, tags in groups.items()}
    return {str(tag): [tag] for _, tag in gmsh.model.getEntities(2)}


def _facets(gmsh: ModuleType, number: Numbers, surfaces: list[int]) -> Numbers:
    """Corners (3, k) of the triangles on some surfaces."""
    parts = [np.empty((3, 0), dtype=np.int64)]
    for tag in surfaces:
        kinds, _, nodes = gmsh.model.mesh.getElements(2, tag)
        for kind, found in zip(kinds, nodes, strict=True):
            if int(kind) in _TRIANGLES:
                parts.append(_numbered(number, found, _TRIANGLES[int(kind)])[:3])
    return np.concatenate(parts, axis=1)


def _numbered(number: Numbers, tags: NDArray[Any], size: int) -> Numbers:
    """Nodes (size, m) of elements, by their place among the points."""
    tags = tags.astype(np.int64)
    if tags.max(initial=0) >= len(number) or (number[tags] < 0).any():
        raise MeshingError("an element names a node that the file does not have")
    return np.asarray(number[tags].reshape(-1, size).T)
