"""Assembly of the curl-curl equation for fields of azimuthal order 1, in the half-plane.

With E = (e sin phi, (w/r) cos phi) and e = (r/R) u + grad w (`solver.elements.harmonic_quads`),

    (r c, c') + (r u/R, u'/R) - k^2 (r e, e') - k^2 (w/r, w'),   c = (r/R) curl u + grad(r/R) x u

is the flux through the ports, pi taken out. The chart may map into complex coordinates, in which a
layer absorbs what leaves: all of it holds there as it stands.
Source: R. F. Harrington, "Time-Harmonic Electromagnetic Fields", 1961, section 5.1, for the curl
in cylindrical coordinates.
"""

from __future__ import annotations

from collections.abc import Callable
from functools import lru_cache
from typing import Any

import numpy as np
from scipy.sparse import coo_matrix, csr_matrix

from geometries.arrays import Array, Numbers
from geometries.plane_meshes.plane_mesh import PlaneMesh, PlanePort
from solver.elements.conical_rules import gauss_jacobi, square_rule
from solver.elements.harmonic_quads import ElementQuadHarmonic, harmonic_tables
from solver.fem.scalar_field import PlaneSystem, more_than_round_off

#: Gives E along z, along r and about the axis, (3, m, ...) [1/m], of the waves at a port, at places
#: (2, ...) of the half-plane [m]; their squares have unit integrals over r dl.
HarmonicModes = Callable[[PlanePort, Array], Array]

#: Cells that are integrated at a time.
_AT_A_TIME = 16


def assemble_harmonic(
    plane_mesh: PlaneMesh, degree: int, reference: float, modes: HarmonicModes
) -> PlaneSystem:
    """Assemble stiffness, mass and port columns.

    Parameters
    ----------
    plane_mesh : PlaneMesh
        Quadrilaterals on a chart of the half-plane.
    degree : int
        Of the elements.
    reference : float
        The radius R [m].
    modes : callable
        See `HarmonicModes`.

    Returns
    -------
    PlaneSystem
        On the boundary ``wall`` w and the tangential part of u are 0, on ``axis`` w is.
    """
    from skfem.assembly.dofs import Dofs

    mesh, element = plane_mesh.mesh, ElementQuadHarmonic(degree)
    dofs = Dofs(mesh, element)
    number, sizes = _order_by_degree(mesh, dofs, element)
    local = number[dofs.element_dofs]
    size = max(sizes.values())
    stiffness, mass = _volume(plane_mesh, degree, reference, local, size)
    columns = _columns(plane_mesh, degree, reference, local, size, modes)
    return PlaneSystem(stiffness, mass, columns, sizes, local, element, plane_mesh)


def _order_by_degree(
    mesh: Any, dofs: Any, element: ElementQuadHarmonic
) -> tuple[Numbers, dict[int, int]]:
    """New number of each scikit-fem unknown (-1 if fixed), and how many each degree has."""
    degree = np.zeros(dofs.N, dtype=np.int64)
    degree[dofs.element_dofs] = element.degrees()[:, None]
    edges = np.zeros(dofs.N, dtype=bool)
    edges[dofs.element_dofs[element.of_edges()]] = True
    for name in ("wall", "axis"):
        here = dofs.get_facet_dofs(mesh.boundaries[name]).flatten()
        degree[here[~edges[here]] if name == "axis" else here] = element.p + 1
    order = np.argsort(degree, kind="stable")
    free = int((degree <= element.p).sum())
    number = np.full(dofs.N, -1)
    number[order[:free]] = np.arange(free)
    return number, {p: int((degree <= p).sum()) for p in range(1, element.p + 1)}


@lru_cache(maxsize=4)
def _tables(degree: int) -> tuple[Array, Array, tuple[Array, Array, Array, Array]]:
    """Quadrature and functions of the reference cell; functions last."""
    points, weights = square_rule(degree + 2)
    w, dw, u, du = harmonic_tables(degree, points)
    return points, weights, (w.T, np.moveaxis(dw, 0, -1), np.moveaxis(u, 0, -1), du.T)


def _volume(
    plane_mesh: PlaneMesh, degree: int, reference: float, local: Numbers, size: int
) -> tuple[csr_matrix, csr_matrix]:
    points, weights, tables = _tables(degree)
    mapping = plane_mesh.mesh._mapping()
    places, inner = mapping.F(points), mapping.DF(points)
    chart: Any = plane_mesh.chart
    slopes = np.einsum("ia...,ab...->ib...", chart.slopes(places), inner)
    radius = chart.coordinates(places)[1]
    i, j = np.triu_indices(len(local))
    found: tuple[list[Array], list[Array]] = ([], [])
    for start in range(0, radius.shape[0], _AT_A_TIME):
        here = slice(start, start + _AT_A_TIME)
        both = _cell_matrices(radius[here], slopes[:, :, here], weights, reference, tables)
        for entries, matrices in zip(found, both, strict=True):
            entries.append(matrices[:, i, j])
    stiffness, mass = (np.concatenate(entries) for entries in found)
    a, b = local[i].T, local[j].T
    keep = more_than_round_off(stiffness, i, j) | more_than_round_off(mass, i, j)
    keep &= (a >= 0) & (b >= 0)
    place = (np.minimum(a, b)[keep], np.maximum(a, b)[keep])
    return tuple(
        coo_matrix((entries[keep], place), shape=(size, size)).tocsr()
        for entries in (stiffness, mass)
    )


def _cell_matrices(
    radius: Any,
    slopes: Any,
    weights: Array,
    reference: float,
    tables: tuple[Array, Array, Array, Array],
) -> tuple[Any, Any]:
    """Stiffness and mass (cells, nb, nb) of some cells; radius is (cells, q)."""
    w, dw, u, du = tables
    (zx, zy), (rx, ry) = slopes
    det = zx * ry - zy * rx
    # J^-1 J^-T, entries 11, 12, 22, times det
    metric = (zy**2 + ry**2) / det, -(zx * zy + rx * ry) / det, (zx**2 + rx**2) / det
    ratio = (radius / reference)[..., None]
    # r over R by the reference cell's coordinates, crossed with u
    crossed = (rx[..., None] * u[1] - ry[..., None] * u[0]) / reference
    curl = ratio * du + crossed
    field = [ratio * part + slope for part, slope in zip(u, dw, strict=True)]
    stiffness = _products(curl, radius / det * weights, curl)
    plain = [np.broadcast_to(part, field[0].shape) for part in u]
    stiffness = stiffness + _metric_products(plain, metric, radius * weights / reference**2)
    mass = _metric_products(field, metric, radius * weights)
    upright = np.broadcast_to(w, field[0].shape)
    return stiffness, mass + _products(upright, det / radius * weights, upright)


def _products(left: Any, weight: Any, right: Any) -> Any:
    return left.swapaxes(-1, -2) @ (weight[..., None] * right)


def _metric_products(field: list[Any], metric: tuple[Any, ...], weight: Any) -> Any:
    x, y = field
    m11, m12, m22 = (entry * weight for entry in metric)
    mixed = _products(x, m12, y)
    return _products(x, m11, x) + mixed + mixed.swapaxes(-1, -2) + _products(y, m22, y)


def _columns(
    plane_mesh: PlaneMesh,
    degree: int,
    reference: float,
    local: Numbers,
    size: int,
    modes: HarmonicModes,
) -> Array:
    mesh = plane_mesh.mesh
    chart: Any = plane_mesh.chart
    s, weights, sides_w, sides_dw, sides_u = _traces(degree)
    blocks = [np.zeros((size, 0))]
    for port in plane_mesh.ports:
        facets = mesh.boundaries[port.name]
        cells = mesh.f2t[0, facets]
        sides = np.argmax(mesh.t2f[:, cells] == facets, axis=0)
        first, last = np.array(_SIDES)[sides].T
        start, end = (mesh.p[:, mesh.t[corner, cells]] for corner in (first, last))
        points = start[:, :, None] + (end - start)[:, :, None] * s
        place = np.real(chart.position(points))
        along = np.einsum("iafq,af->ifq", np.real(chart.slopes(points)), end - start)
        length = np.linalg.norm(along, axis=0)
        wave = modes(port, place)
        tangential = np.einsum("amfq,afq->mfq", wave[:2], along) * place[1] / length
        rate = place[1] / reference
        integrals = np.einsum(
            "mfq,fq,fiq->fim", tangential, rate * weights, sides_u[sides], optimize=True
        )
        integrals += np.einsum(
            "mfq,q,fiq->fim", tangential, weights, sides_dw[sides], optimize=True
        )
        integrals += np.einsum(
            "mfq,fq,fiq->fim", wave[2], length * weights, sides_w[sides], optimize=True
        )
        rows = local[:, cells].T
        block = np.zeros((size, wave.shape[1]))
        np.add.at(block, rows[rows >= 0], integrals[rows >= 0])
        blocks.append(block)
    return np.concatenate(blocks, axis=1)


#: Corners between which each side runs with its ascending coordinate.
_SIDES = ((0, 1), (1, 2), (3, 2), (0, 3))


@lru_cache(maxsize=8)
def _traces(degree: int) -> tuple[Array, Array, Array, Array, Array]:
    """Points and weights (nq,) along each side, and there w, its slope and u along the side."""
    s, weights = gauss_jacobi(degree + 12)
    corners = np.array([[0.0, 1.0, 1.0, 0.0], [0.0, 0.0, 1.0, 1.0]])
    found: tuple[list[Array], ...] = ([], [], [])
    for first, last in _SIDES:
        start, along = corners[:, [first]], corners[:, [last]] - corners[:, [first]]
        values, slopes, edges, _ = harmonic_tables(degree, start + along * s)
        found[0].append(values)
        found[1].append(np.einsum("iaq,a->iq", slopes, along[:, 0]))
        found[2].append(np.einsum("iaq,a->iq", edges, along[:, 0]))
    w, dw, u = (np.array(part) for part in found)
    return s, weights, w, dw, u
