"""Assembly of the curl-curl equation for a part that is uniform along x, in its plane.

With half a wave across, E = (cos(kx x) u, sin(kx x) e) and, for every test field (v, f),

    (curl e / mu, curl f) + ((grad u - kx e) / mu, grad v - kx f) - k^2 (eps e, f) - k^2 (eps u, v)

is the flux through the ports.  Where materials change in the plane, u and e are coupled by
their interfaces: no scalar equation for one of the components along x is exact there.
"""

from __future__ import annotations

from collections.abc import Callable
from functools import lru_cache
from typing import Any

import numpy as np
from numpy.typing import NDArray
from scipy.sparse import coo_matrix, csr_matrix

from geometries.arrays import Array, ComplexArray, Numbers
from geometries.plane_meshes.plane_mesh import Filling, PlaneMesh, PlanePort
from solver.elements.conical_rules import gauss_jacobi, triangle_rule
from solver.elements.plane_edges import ElementTriField, field_tables
from solver.fem.scalar_field import PlaneSystem, order_by_degree

#: Gives u and the component of e along the port, (2, m, ...), of the modes of a port at
#: transverse coordinates (...) [m].
VectorModes = Callable[[PlanePort, Array], Array]

#: An entry below this, over the geometric mean of the two diagonal entries, is round-off.
_ROUND_OFF = 1e-14


def assemble_vector(
    plane_mesh: PlaneMesh, degree: int, across: float, modes: VectorModes
) -> PlaneSystem:
    """Assemble stiffness, mass and port columns.

    Parameters
    ----------
    plane_mesh : PlaneMesh
        Triangles in the metal's own coordinates.
    degree : int
        Of the elements.
    across : float
        Wavenumber kx across the plane [rad/m].
    modes : callable
        See `VectorModes`.

    Returns
    -------
    PlaneSystem
        On the boundary ``wall`` u and the tangential part of e are 0.
    """
    from skfem.assembly.dofs import Dofs

    mesh = plane_mesh.mesh
    element = ElementTriField(degree)
    dofs = Dofs(mesh, element)
    number, sizes = order_by_degree(mesh, dofs, element, "wall")
    local = number[dofs.element_dofs]
    size = max(sizes.values())
    stiffness, mass = _volume(plane_mesh, degree, across, local, size)
    columns = _columns(plane_mesh, degree, local, size, modes)
    return PlaneSystem(stiffness, mass, columns, sizes, local, element, plane_mesh)


@lru_cache(maxsize=16)
def _reference(degree: int) -> tuple[Any, ...]:
    """Products of functions i <= j, integrated over the reference triangle, (..., pairs).

    Those of curls; of grad u with grad v, of grad u with f and e with grad v, of e with f, each by
    the entries 11, 12, 22 of a symmetric tensor; of u with v; and the numbers i and j.
    """
    points, weights = triangle_rule(degree + 1)
    u, du, e, de = field_tables(degree, points)
    i, j = (index.astype(np.int64) for index in np.triu_indices(len(u)))

    def tensor(a: Array, b: Array) -> Array:
        p, q = a[i], b[j]
        mixed = p[:, 0] * q[:, 1] + p[:, 1] * q[:, 0]
        return np.stack([p[:, 0] * q[:, 0], mixed, p[:, 1] * q[:, 1]]) @ weights

    return (
        (de[i] * de[j]) @ weights,
        tensor(du, du),
        tensor(du, e) + tensor(e, du),
        tensor(e, e),
        (u[i] * u[j]) @ weights,
        i,
        j,
    )


def _volume(
    plane_mesh: PlaneMesh, degree: int, across: float, local: Numbers, size: int
) -> tuple[csr_matrix, csr_matrix]:
    curls, slopes, mixed, fields, values, i, j = _reference(degree)
    mapping = plane_mesh.mesh._mapping()
    middle = np.full((2, 1), 1 / 3)
    inverse = mapping.invDF(middle)[..., 0]
    det = np.abs(mapping.detDF(middle))[:, 0]
    metric = np.einsum("aic,bic->abc", inverse, inverse) * det
    tensor = np.stack([metric[0, 0], metric[0, 1], metric[1, 1]])
    filling = plane_mesh.filling or Filling(np.ones(len(det)), np.ones(len(det)))
    turned = slopes - across * mixed + across**2 * fields
    stiffness = _times(np.outer(1 / det, curls) + tensor.T @ turned, 1 / filling.permeability)
    mass = _times(tensor.T @ fields + np.outer(det, values), filling.permittivity)
    a, b = local[i].T, local[j].T
    keep = _more_than_round_off(stiffness, i, j) | _more_than_round_off(mass, i, j)
    keep &= (a >= 0) & (b >= 0)
    place = (np.minimum(a, b)[keep], np.maximum(a, b)[keep])
    return tuple(
        coo_matrix((entries[keep], place), shape=(size, size)).tocsr()
        for entries in (stiffness, mass)
    )


def _times(entries: Array, cells: Array | ComplexArray) -> Any:
    return entries * cells[:, None]


def _more_than_round_off(values: Any, i: Numbers, j: Numbers) -> NDArray[np.bool_]:
    """Which entries (cells, pairs) orthogonality of the functions has not made zero."""
    size = np.sqrt(np.abs(values[:, i == j]))
    return np.asarray(np.abs(values) > _ROUND_OFF * size[:, i] * size[:, j])


def _columns(
    plane_mesh: PlaneMesh, degree: int, local: Numbers, size: int, modes: VectorModes
) -> Array:
    mesh = plane_mesh.mesh
    s, u, e = _traces(degree)
    blocks = [np.zeros((size, 0))]
    for port in plane_mesh.ports:
        facets = mesh.boundaries[port.name]
        cells = mesh.f2t[0, facets]
        sides = np.argmax(mesh.t2f[:, cells] == facets, axis=0)
        first, last = np.array(mesh.refdom.facets)[sides].T
        start, end = (mesh.p[:, mesh.t[corner, cells]] for corner in (first, last))
        points = start[:, :, None] + (end - start)[:, :, None] * s
        mode_u, mode_e = modes(port, port.coordinate(points))
        length = np.linalg.norm(end - start, axis=0)
        along = np.sign(port.direction @ (end - start))  # tangential e is counted from 0 to 1
        integrals = np.einsum("mfq,fiq,f->fim", mode_u, u[sides], length, optimize=True)
        integrals += np.einsum("mfq,fiq,f->fim", mode_e, e[sides], along, optimize=True)
        rows = local[:, cells].T
        block = np.zeros((size, len(mode_u)))
        np.add.at(block, rows[rows >= 0], integrals[rows >= 0])
        blocks.append(block)
    return np.concatenate(blocks, axis=1)


@lru_cache(maxsize=8)
def _traces(degree: int) -> tuple[Array, Array, Array]:
    """Points (nq,) along each side, and u and tangential e (sides, nb, nq) times the weights."""
    s, w = gauss_jacobi(degree + 12)
    corners = np.array([[0.0, 1.0, 0.0], [0.0, 0.0, 1.0]])
    u, e = [], []
    for first, last in ElementTriField.refdom.facets:
        start, end = corners[:, [first]], corners[:, [last]]
        values, _, fields, _ = field_tables(degree, start + (end - start) * s)
        u.append(values * w)
        e.append(np.einsum("iaq,a->iq", fields, (end - start)[:, 0]) * w)
    return s, np.array(u), np.array(e)
