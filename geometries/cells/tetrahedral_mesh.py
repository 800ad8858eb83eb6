"""Tetrahedral meshes with named boundaries, straight or with curved edges, from plain arrays."""

from collections.abc import Mapping

import numpy as np
from skfem import MeshTet1, MeshTet2

from geometries.errors import MeshingError

# Where gmsh's ten-node tetrahedron keeps the middles of scikit-fem's edges 01 12 02 03 13 23.
_GMSH_NODES = (0, 1, 2, 3, 4, 5, 6, 7, 9, 8)


def tetrahedral_mesh(
    points: np.ndarray, tets: np.ndarray, boundaries: Mapping[str, np.ndarray]
) -> MeshTet1 | MeshTet2:
    """Build a mesh with sorted cells, as edge elements need them.

    Parameters
    ----------
    points : (3, n) array
        Nodes [m]; nodes of no cell are dropped.
    tets : (4, n_cells) or (10, n_cells) array of int
        Nodes of the cells in the order of gmsh's and VTK's four-node or gmsh's ten-node
        tetrahedra.
    boundaries : mapping of str to (3, n) array of int
        Corner nodes of the facets of each named boundary.

    Returns
    -------
    skfem.MeshTet1 or skfem.MeshTet2

    Raises
    ------
    MeshingError
        If the cells have neither four nor ten nodes, a cell repeats a corner, or a named facet is
        not on the boundary of the cells.
    """
    tets = np.asarray(tets)
    if tets.ndim != 2 or tets.shape[0] not in (4, 10) or tets.shape[1] == 0:
        raise MeshingError(f"tetrahedra of shape {tets.shape}; they must be (4, n) or (10, n)")
    corners, renumbered = np.unique(tets[:4], return_inverse=True)
    t = np.sort(renumbered.reshape(4, -1), axis=0)
    if np.any(np.diff(t, axis=0) == 0):
        raise MeshingError("a tetrahedron has the same corner twice")
    mesh = MeshTet1(np.ascontiguousarray(points[:, corners]), np.ascontiguousarray(t))
    number = np.full(points.shape[1], -1)
    number[corners] = np.arange(len(corners))
    named = {name: _facet_numbers(mesh, number[f], name) for name, f in boundaries.items()}
    if tets.shape[0] == 10:
        mesh = _curved(mesh, points, number, tets[list(_GMSH_NODES)])
    return mesh.with_boundaries(named)


def _facet_numbers(mesh: MeshTet1, triples: np.ndarray, name: str) -> np.ndarray:
    """Return the numbers of boundary facets that are given by their corners."""
    on_boundary = mesh.boundary_facets()
    wanted = np.sort(triples, axis=0)
    n = mesh.p.shape[1]
    weights = np.array([n * n, n, 1], dtype=np.int64)
    keys = weights @ mesh.facets[:, on_boundary]
    order = np.argsort(keys)
    asked = weights @ wanted
    place = np.minimum(np.searchsorted(keys, asked, sorter=order), len(order) - 1)
    found = order[place]
    if np.any(wanted < 0) or np.any(keys[found] != asked):
        raise MeshingError(f"a facet of the boundary {name!r} is not on the surface of the cells")
    return np.unique(on_boundary[found])


def _curved(mesh: MeshTet1, points: np.ndarray, number: np.ndarray, tets: np.ndarray) -> MeshTet2:
    """Return the mesh with its edges bent through the given middle nodes."""
    curved = MeshTet2.from_mesh(mesh)
    ends = np.sort(number[tets[:4]][np.array(mesh.refdom.edges)], axis=1)  # (6, 2, n_cells)
    n = mesh.p.shape[1]
    keys = mesh.edges[0].astype(np.int64) * n + mesh.edges[1]
    order = np.argsort(keys)
    edge = order[np.searchsorted(keys, ends[:, 0].astype(np.int64) * n + ends[:, 1], sorter=order)]
    doflocs = curved.doflocs.copy()
    doflocs[:, curved.dofs.edge_dofs[0, edge]] = points[:, tets[4:]]
    return MeshTet2(doflocs, mesh.t)
