"""Integrals of the tangential magnetic field over the electric walls of a part."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from geometries.arrays import Array
from solver.fem.edge_space import EdgeSpace, cofactor_matrices

#: Numbers of eight bytes in flight.
_BATCH = 8_000_000


def wall_current_matrix(
    space: EdgeSpace, fields: Array, facets: NDArray[np.integer] | None = None
) -> Array:
    """Integrals of (n x curl u_r) . (n x curl u_s) over walls.

    Parameters
    ----------
    space : EdgeSpace
    fields : (n_dofs, r) array
        Unknowns of the electric fields u, walls included.
    facets : (f,) array of int, optional
        By default the metal of the space.

    Returns
    -------
    (r, r) array
        Symmetric. The curl of a field that has no tangential part on a wall is tangential
        there, so its square is the whole square.
    """
    facets = space.metal_facets if facets is None else facets
    all_cells, faces = space.facet_cells(facets)
    st, weights = space.face_rule(space.order + 2)
    count = fields.shape[1]
    total = np.zeros((count, count))
    for face in np.unique(faces):
        X, tangents = space.face_points(face, st)
        table = space.element.curls(X).reshape(space.element.size, -1)
        cells = all_cells[faces == face]
        step = max(1, _BATCH // (count * max(table.shape)))
        for first in range(0, len(cells), step):
            here = cells[first : first + step]
            _, jacobians = space.located(X, here)
            first_side, second_side = (
                np.einsum("iacq,a->icq", jacobians, tangents[:, n]) for n in (0, 1)
            )
            area = np.linalg.norm(np.cross(first_side, second_side, axis=0), axis=0) * weights
            determinants = np.einsum(
                "icq,icq->cq", jacobians[:, 0], cofactor_matrices(jacobians)[:, 0]
            )
            local = space.coefficients(fields, here).transpose(0, 2, 1)
            reference = (local @ table).reshape(len(here), count, 3, -1)
            scale = jacobians * (np.sqrt(area) / determinants)
            curls = np.einsum("iacq,craq->rciq", scale, reference, optimize=True)
            rows = curls.reshape(count, -1)
            total += rows @ rows.T
    return total
