"""What tetrahedra have to satisfy before a field is solved on them; one clear line otherwise."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from geometries.cells.hexahedral_mesh import distinct_points
from geometries.cells.tetrahedral_cells import FACETS, MIDDLES, Array, Numbers, TetrahedralCells
from geometries.errors import MeshingError

#: Volume of a cell over the cube of its longest edge, below which it is flat.
_FLATTEST = 1e-5


def check_cells(cells: TetrahedralCells) -> None:
    """Refuse inverted, flat or folded cells, cells that overlap, loose nodes and loose parts.

    Raises
    ------
    MeshingError
    """
    _check_shapes(cells)
    used = np.unique(cells.tets[:4])
    points, _ = distinct_points(cells.points[:, used])
    if points.shape[1] < len(used):
        raise MeshingError(
            f"{len(used) - points.shape[1]} nodes lie on other nodes, so that cells which touch "
            "are not joined; merge the nodes that coincide, "
            "or in gmsh fuse the volumes before meshing"
        )
    _check_joined(cells)


def check_walls(cells: TetrahedralCells, ports: tuple[str, ...], walls: tuple[str, ...]) -> None:
    """Refuse a boundary that is in none of the named groups, and walls inside the part.

    Raises
    ------
    MeshingError
    """
    for name in walls:
        if name not in cells.groups:
            raise MeshingError(f"there is no wall {name!r}; {known_groups(cells)}")
    boundary = cells.boundary()
    for name in walls:
        inside = ~np.isin(_keys(np.sort(cells.groups[name], axis=0), cells), _keys(boundary, cells))
        if inside.any():
            raise MeshingError(
                f"{inside.sum()} facets of the wall {name!r} are inside the part, not on its "
                "boundary, the first at "
                f"{_place(cells, cells.groups[name][:, inside])}; take shared faces out of the "
                "wall, and give a thin sheet of metal its thickness"
            )
    named = np.sort(np.concatenate([cells.groups[n] for n in (*ports, *walls)], axis=1), axis=0)
    bare = ~np.isin(_keys(boundary, cells), _keys(named, cells))
    if bare.any():
        raise MeshingError(
            f"the wall is open: {bare.sum()} of {len(bare)} boundary facets are in none of the "
            f"ports and walls, the first at {_place(cells, boundary[:, bare])}; add them to a wall"
        )


def check_ports(cells: TetrahedralCells, ports: tuple[str, ...]) -> None:
    """Refuse ports that the file does not have, that hold nothing or that share facets.

    Raises
    ------
    MeshingError
    """
    for name in ports:
        if name not in cells.groups:
            raise MeshingError(f"there is no port {name!r}; {known_groups(cells)}")
        if not cells.groups[name].size:
            raise MeshingError(
                f"the port {name!r} holds no triangles; save the port's surface as triangles"
            )
    first, second = (_keys(np.sort(cells.groups[name], axis=0), cells) for name in ports)
    shared = np.isin(first, second).sum()
    if shared:
        raise MeshingError(
            f"the ports {ports[0]!r} and {ports[1]!r} share {shared} facets; give each port its "
            "own group"
        )


def known_groups(cells: TetrahedralCells) -> str:
    """Say which groups a file has."""
    if not cells.groups:
        return (
            "the file names no boundary groups; write a format that keeps them, such as .msh, or "
            "give the facets whole numbers"
        )
    numbers = all(name.lstrip("-").isdigit() for name in cells.groups)
    names = ", ".join(sorted(cells.groups, key=int if numbers else str))
    shown = names if len(names) < 200 else names[:197] + "..."
    if not numbers:
        return f"the file's groups are: {shown}"
    return (
        "the file's groups have no names, only these numbers, which serve as names: "
        f"{shown} (gmsh drops names from format 2.2 with Mesh.SaveAll = 1)"
    )


def _place(cells: TetrahedralCells, facets: Numbers) -> str:
    centre = cells.points[:, facets[:, 0]].mean(axis=1) * 1e3
    return f"({', '.join(f'{x:.4g}' for x in centre)}) mm"


def _keys(facets: Numbers, cells: TetrahedralCells) -> Numbers:
    n = cells.points.shape[1]
    return np.asarray(np.array([n * n, n, 1], dtype=np.int64) @ facets)


def _check_shapes(cells: TetrahedralCells) -> None:
    if not np.isfinite(cells.points[:, np.unique(cells.tets)]).all():
        raise MeshingError("a node has coordinates that are not finite numbers")
    corners = cells.points[:, cells.tets[:4]]
    volumes = _determinants(corners[:, 1:] - corners[:, :1]) / 6
    edges = [np.linalg.norm(corners[:, i] - corners[:, j], axis=0) for i, j in MIDDLES]
    cube = np.max(edges, axis=0) ** 3
    flat = np.flatnonzero(np.abs(volumes) <= _FLATTEST * cube)
    if flat.size:
        raise MeshingError(
            f"element {flat[0]} is degenerate: it has no volume ({flat.size} such elements); "
            "mesh again or remove it"
        )
    # some programs number the nodes the other way round, but then in every element
    sign = np.sign(np.median(np.sign(volumes))) or 1.0
    wrong = volumes * sign < 0
    if cells.curved:
        wrong |= _folded(cells, sign)
    if wrong.any():
        raise MeshingError(
            f"element {np.flatnonzero(wrong)[0]} is inverted ({wrong.sum()} such elements of "
            f"{len(wrong)}); its nodes are in the wrong order or lie on the wrong side"
        )


def _determinants(matrices: Array) -> Array:
    """Determinants (c,) of matrices (3, 3, c)."""
    return np.asarray(np.linalg.det(np.moveaxis(matrices, 2, 0)))


def _folded(cells: TetrahedralCells, sign: float) -> NDArray[np.bool_]:
    """Whether the map of a second-order cell changes orientation at one of its nodes."""
    nodes = cells.points[:, cells.tets]
    folded = np.zeros(cells.tets.shape[1], dtype=bool)
    places = np.vstack(
        [np.eye(4), *[0.5 * (np.eye(4)[i] + np.eye(4)[j])[None] for i, j in MIDDLES]]
    )
    to_barycentric = np.array([[-1.0, -1, -1], [1, 0, 0], [0, 1, 0], [0, 0, 1]])
    for place in places:
        slopes = np.zeros((10, 4))
        slopes[:4] = np.diag(4 * place - 1)
        for n, (i, j) in enumerate(MIDDLES, start=4):
            slopes[n, i], slopes[n, j] = 4 * place[j], 4 * place[i]
        jacobian = np.einsum("inc,na->iac", nodes, slopes @ to_barycentric)
        folded |= _determinants(jacobian) * sign <= 0
    return folded


def _check_joined(cells: TetrahedralCells) -> None:
    from scipy.sparse import coo_matrix
    from scipy.sparse.csgraph import connected_components

    count = cells.tets.shape[1]
    facets = np.sort(np.concatenate([cells.tets[list(f)] for f in FACETS], axis=1), axis=0)
    _, number, sharing = np.unique(facets, axis=1, return_inverse=True, return_counts=True)
    if sharing.max() > 2:
        raise MeshingError("three or more elements share one facet: elements overlap; mesh again")
    owners = np.tile(np.arange(count), 4)
    incidence = coo_matrix((np.ones(4 * count), (owners, number.ravel()))).tocsr()
    parts, _ = connected_components(incidence @ incidence.T, directed=False)
    if parts > 1:
        raise MeshingError(
            f"the elements form {parts} separate parts; keep one, or join them facet to facet"
        )
