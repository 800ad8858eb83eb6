"""Assembly of the scalar Helmholtz equation in the plane of a part.

Weak form: find u with ``(A grad u, grad v) - q (c u, v) = <du/dn, v>`` for every v,
where A and c come from the chart and q is the squared wavenumber in the plane.  Where the
mesh is filled with materials, A is divided by the permeability and c multiplied by the
permittivity: u is then the electric field across an H-plane part.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from functools import lru_cache
from typing import Any

import numpy as np
from numpy.typing import NDArray
from scipy.sparse import coo_matrix, csr_matrix

from geometries.arrays import Array, Numbers
from geometries.plane_meshes.plane_mesh import PlaneMesh, PlanePort
from solver.elements.conical_rules import gauss_jacobi, square_rule, triangle_rule
from solver.elements.scalar_elements import ElementQuadHierarchical, ElementTriHierarchical

Modes = Callable[[PlanePort, Array], Array]

#: An entry below this, over the geometric mean of the two diagonal entries, is round-off.
_ROUND_OFF = 1e-14


@dataclass(frozen=True, eq=False)
class PlaneSystem:
    """Matrices of one mesh, of one field or of more, unknowns ordered by degree.

    Parameters
    ----------
    stiffness, mass : (n, n) csr_matrix
        Upper triangles, with the same pattern.
    columns : (n, m) array
        Integrals of each port mode against each function.
    sizes : dict
        Number of unknowns of each degree's space; the first ones are its unknowns.
    local : (nb, cells) array
        Unknown of each local function, -1 where the wall fixes it to 0.
    element : skfem element
    plane_mesh : PlaneMesh
    """

    stiffness: csr_matrix
    mass: csr_matrix
    columns: Array
    sizes: dict[int, int]
    local: Numbers
    element: Any
    plane_mesh: PlaneMesh

    def at_degree(self, degree: int) -> tuple[csr_matrix, csr_matrix, Array]:
        """Stiffness, mass and port columns of the space of a lower or equal degree."""
        n = self.sizes[degree]
        if n == self.columns.shape[0]:
            return self.stiffness, self.mass, self.columns
        return self.stiffness[:n, :n], self.mass[:n, :n], self.columns[:n]


def assemble(
    plane_mesh: PlaneMesh,
    degree: int,
    modes: Modes,
    *,
    fixed_wall: bool,
    fixed: str = "wall",
) -> PlaneSystem:
    """Assemble stiffness, mass and port columns.

    Parameters
    ----------
    plane_mesh : PlaneMesh
    degree : int
        Polynomial degree of the functions.
    modes : callable
        ``modes(port, t)`` gives the mode functions (m_port, ...) [m^-1/2] of a port at
        transverse coordinates t [m]; rows of both ports are stacked into the columns.
    fixed_wall : bool
        True where u vanishes on the wall (u is the electric field), False where its
        normal derivative does (u is the magnetic field).
    fixed : str
        Boundary that `fixed_wall` speaks of; the others are free.

    Returns
    -------
    PlaneSystem
    """
    from skfem.assembly.dofs import Dofs

    mesh = plane_mesh.mesh
    quads = mesh.t.shape[0] == 4
    element = (ElementQuadHierarchical if quads else ElementTriHierarchical)(degree)
    dofs = Dofs(mesh, element)
    number, sizes = order_by_degree(mesh, dofs, element, fixed if fixed_wall else None)
    local = number[dofs.element_dofs]
    stiffness, mass = _volume(plane_mesh, element, local, max(sizes.values()))
    columns = _columns(plane_mesh, element, local, max(sizes.values()), modes)
    return PlaneSystem(stiffness, mass, columns, sizes, local, element, plane_mesh)


def order_by_degree(
    mesh: Any, dofs: Any, element: Any, fixed: str | None
) -> tuple[Numbers, dict[int, int]]:
    """New number of each scikit-fem unknown (-1 if fixed), and how many each degree has."""
    degree = np.zeros(dofs.N, dtype=np.int64)
    degree[dofs.element_dofs] = element.degrees()[:, None]
    if fixed is not None:
        degree[dofs.get_facet_dofs(mesh.boundaries[fixed]).flatten()] = element.p + 1
    order = np.argsort(degree, kind="stable")
    free = int((degree <= element.p).sum())
    number = np.full(dofs.N, -1)
    number[order[:free]] = np.arange(free)
    return number, {p: int((degree <= p).sum()) for p in range(1, element.p + 1)}


@lru_cache(maxsize=8)
def _reference(quads: bool, degree: int) -> tuple[Array, Array, Array, Numbers, Numbers]:
    """Quadrature and products of functions on the reference cell.

    Returns points (2, nq), stiffness products (3 nq, pairs), mass products (nq, pairs),
    and the two local numbers of each pair.
    """
    if quads:
        points, weights = square_rule(degree + 2)
        element: Any = ElementQuadHierarchical(degree)
    else:
        points, weights = triangle_rule(degree + 1)
        element = ElementTriHierarchical(degree)
    values, slopes = zip(
        *(element.lbasis(points, i) for i in range(len(element.degrees()))), strict=True
    )
    value, (dx, dy) = np.array(values), np.moveaxis(np.array(slopes), 1, 0)
    i, j = (index.astype(np.int64) for index in np.triu_indices(len(value)))
    products = [dx[i] * dx[j], dx[i] * dy[j] + dy[i] * dx[j], dy[i] * dy[j]]
    stiffness = np.concatenate([(p * weights).T for p in products])
    return points, stiffness, (value[i] * value[j] * weights).T, i, j


def _volume(
    plane_mesh: PlaneMesh, element: Any, local: Numbers, size: int
) -> tuple[csr_matrix, csr_matrix]:
    mesh = plane_mesh.mesh
    quads = mesh.t.shape[0] == 4
    points, stiff_ref, mass_ref, i, j = _reference(quads, element.p)
    mapping = mesh._mapping()
    tensor, weight = plane_mesh.chart.weights(mapping.F(points))
    inverse, det = mapping.invDF(points), np.abs(mapping.detDF(points))
    pulled = _pull_back(tensor, inverse) * det
    density = weight * det
    if plane_mesh.filling is not None:
        pulled = pulled / plane_mesh.filling.permeability[:, None]
        density = density * plane_mesh.filling.permittivity[:, None]
    if not quads:  # affine cells in the metal's own coordinates: constant on each cell
        rows = stiff_ref.reshape(3, -1, stiff_ref.shape[1]).sum(axis=1)
        stiffness = pulled[:, :, 0].T @ rows
        mass = np.outer(density[:, 0], mass_ref.sum(axis=0))
    else:
        stiffness = np.concatenate(list(pulled), axis=1) @ stiff_ref
        mass = density @ mass_ref
    a, b = local[i].T, local[j].T
    keep = more_than_round_off(stiffness, i, j) | more_than_round_off(mass, i, j)
    keep &= (a >= 0) & (b >= 0)
    place = (np.minimum(a, b)[keep], np.maximum(a, b)[keep])
    return tuple(
        coo_matrix((values[keep], place), shape=(size, size)).tocsr()
        for values in (stiffness, mass)
    )


def more_than_round_off(values: Array, i: Numbers, j: Numbers) -> NDArray[np.bool_]:
    """Which entries (cells, pairs) orthogonality of the functions has not made zero."""
    size = np.sqrt(np.abs(values[:, i == j]))
    return np.asarray(np.abs(values) > _ROUND_OFF * size[:, i] * size[:, j])


def _pull_back(tensor: Array, inverse: Array) -> Array:
    """Tensor J^-1 A J^-T in reference coordinates, entries 11, 12, 22."""
    a11, a12, a22 = tensor
    (p, q), (r, s) = inverse
    return np.stack(
        [
            p * p * a11 + 2 * p * q * a12 + q * q * a22,
            p * r * a11 + (p * s + q * r) * a12 + q * s * a22,
            r * r * a11 + 2 * r * s * a12 + s * s * a22,
        ]
    )


def _columns(plane_mesh: PlaneMesh, element: Any, local: Numbers, size: int, modes: Modes) -> Array:
    mesh = plane_mesh.mesh
    s, traces = _traces(mesh.t.shape[0] == 4, element.p)
    blocks = [np.zeros((size, 0))]
    for port in plane_mesh.ports:
        facets = mesh.boundaries[port.name]
        cells = mesh.f2t[0, facets]
        sides = np.argmax(mesh.t2f[:, cells] == facets, axis=0)
        first, last = np.array(mesh.refdom.facets)[sides].T
        start, end = (mesh.p[:, mesh.t[corner, cells]] for corner in (first, last))
        points = start[:, :, None] + (end - start)[:, :, None] * s
        values = modes(port, port.coordinate(points))
        length = np.linalg.norm(end - start, axis=0)
        integrals = np.einsum("mfq,fiq,f->fim", values, traces[sides], length, optimize=True)
        rows = local[:, cells].T
        block = np.zeros((size, len(values)))
        np.add.at(block, rows[rows >= 0], integrals[rows >= 0])
        blocks.append(block)
    return np.concatenate(blocks, axis=1)


@lru_cache(maxsize=8)
def _traces(quads: bool, degree: int) -> tuple[Array, Array]:
    """Points (nq,) from 0 to 1 along each side of the reference cell, and weighted functions.

    The functions (sides, nb, nq) are values at those points times the weights of the rule.
    """
    s, w = gauss_jacobi(degree + 12)
    element: Any = (ElementQuadHierarchical if quads else ElementTriHierarchical)(degree)
    traces = []
    for first, last in np.array(element.refdom.facets):
        start, end = element.refdom.p[:, [first]], element.refdom.p[:, [last]]
        points = start + (end - start) * s
        functions = range(len(element.degrees()))
        traces.append(np.array([element.lbasis(points, i)[0] * w for i in functions]))
    return s, np.array(traces)
