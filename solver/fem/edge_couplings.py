"""Which shape functions of hexahedra couple, and how strongly.

The shape functions are products of orthogonal polynomials. With the metrics of a cell expanded in
Legendre polynomials too, most integrals over products of three polynomials vanish: a straight
cell's metrics are constant, a twisted one's quadratic across. Only pairs of functions that some
term of the expansion joins are looked at, and of those the ones that round-off alone joins are cut.
The integrals are those of Gauss's quadrature with as many points as the metrics are given at.
"""

from collections.abc import Iterator
from dataclasses import dataclass
from functools import lru_cache
from itertools import product

import numpy as np

from solver.elements.conical_rules import gauss_jacobi
from solver.elements.edge_hexahedra import (
    curl_sign,
    legendre_functions,
    lobatto_functions,
    lobatto_slopes,
    other_axes,
)

#: A matrix entry below this, over the geometric mean of the two diagonal entries, is round-off:
#: quadrature leaves up to 1e-14 at order 8, and couplings that small add up to nothing.
ROUND_OFF = 3e-14
#: The same for the terms of a metric, and for integrals of products of three polynomials.
_NO_TERM = 1e-14


@dataclass(frozen=True)
class Couplings:
    """Entries of the cell matrices of curl-curl and mass.

    Parameters
    ----------
    cell, row, column : (n,) array of int
        Cell, and the two shape functions, row <= column.
    curl, mass : (n,) array
        Entries of the two matrices.
    """

    cell: np.ndarray
    row: np.ndarray
    column: np.ndarray
    curl: np.ndarray
    mass: np.ndarray


@dataclass(frozen=True)
class _Term:
    """A metric's coefficients (n_cells, k, l, m) and what they multiply along each axis."""

    coefficients: np.ndarray
    tables: tuple[np.ndarray, ...]

    def integrals(self, pairs: list[np.ndarray]) -> np.ndarray:
        """Integrals (n_cells, n) over the products of pairs of functions along each axis."""
        first, second, third = (t[:, p] for t, p in zip(self.tables, pairs, strict=True))
        cells, k, m = self.coefficients.shape[:3]
        summed = self.coefficients @ third
        summed = second.T @ summed.reshape(cells * k, m, -1)
        return (first.T @ summed.reshape(cells, k, -1)).reshape(cells, -1)


@dataclass(frozen=True)
class _Block:
    """Couplings (n_cells, n) between two components of the functions (n,) listed."""

    rows: np.ndarray
    columns: np.ndarray
    curl: np.ndarray
    mass: np.ndarray


def couplings(
    order: int, curl_metric: np.ndarray, mass_metric: np.ndarray, points: int, skip: np.ndarray
) -> Iterator[Couplings]:
    """Yield the entries of cell matrices that are more than round-off.

    Parameters
    ----------
    order : int
        Order of the hexahedra.
    curl_metric, mass_metric : (3, 3, n_cells, points**3) array
        Symmetric metrics at the points of ``cube_rule(points)``, without the weights.
    points : int
        Quadrature points in each direction.
    skip : (n_cells, size) array of bool
        Shape functions that are left out.

    Yields
    ------
    Couplings
    """
    expanded = [_expanded(metric, points) for metric in (curl_metric, mass_metric)]
    blocks = []
    for a, b in ((0, 0), (1, 1), (2, 2), (0, 1), (0, 2), (1, 2)):
        terms = _terms(order, points, a, b, *expanded)
        if any(terms):
            blocks.append(_block(order, a, b, *terms))
    bounds = _bounds(blocks[:3], skip)
    for block in blocks:
        yield _sieved(block, *bounds)


def _sieved(block: _Block, curl_bound: np.ndarray, mass_bound: np.ndarray) -> Couplings:
    """Return the entries of a block, upper triangle, above the bounds (n_cells, size)."""
    above = np.flatnonzero(block.rows <= block.columns)
    i, j, curl, mass = (
        part[..., above] for part in (block.rows, block.columns, block.curl, block.mass)
    )
    # most entries lie below the least bound of their cell: a first sieve
    likely = np.abs(curl) > curl_bound.min(axis=1)[:, None] ** 2
    likely |= np.abs(mass) > mass_bound.min(axis=1)[:, None] ** 2
    flat = np.flatnonzero(likely)
    cell, at = np.divmod(flat, len(above))
    i, j, curl, mass = i[at], j[at], curl.ravel()[flat], mass.ravel()[flat]
    first, second = (cell * curl_bound.shape[1] + n for n in (i, j))
    kept = np.abs(curl) > curl_bound.ravel()[first] * curl_bound.ravel()[second]
    kept |= np.abs(mass) > mass_bound.ravel()[first] * mass_bound.ravel()[second]
    return Couplings(cell[kept], i[kept], j[kept], curl[kept], mass[kept])


def _expanded(metric: np.ndarray, points: int) -> np.ndarray:
    """Return Legendre coefficients (3, 3, n_cells, points, points, points) of a metric.

    What is round-off beside the diagonal of the metric is set to zero.
    """
    x, weights = gauss_jacobi(points)
    analysis = legendre_functions(points, x) * weights
    nodal = metric.reshape(*metric.shape[:3], points, points, points)
    c = np.einsum("abcxyz,kx->abckyz", nodal, analysis, optimize=True)
    c = np.einsum("abckyz,ly->abcklz", c, analysis, optimize=True) @ analysis.T
    size = np.sqrt(np.abs(np.einsum("aacq->acq", metric)).max(axis=2))
    scale = (size[:, None] * size)[..., None, None, None]
    return np.where(np.abs(c) > _NO_TERM * scale, c, 0.0)


def _terms(
    order: int, points: int, a: int, b: int, curl_metric: np.ndarray, mass_metric: np.ndarray
) -> tuple[list[_Term], list[_Term]]:
    """Return the terms of curl-curl and of mass between the components a and b."""
    kinds = [("P" if e == a else "L") + ("P" if e == b else "L") for e in range(3)]
    curl = []
    for c, g in product(other_axes(a), other_axes(b)):
        sloped = list(kinds)
        d, h = 3 - a - c, 3 - b - g
        sloped[d] = "D" + sloped[d][1]
        sloped[h] = sloped[h][0] + "D"
        curl.append((curl_sign(c, a) * curl_sign(g, b) * curl_metric[c, g], sloped))
    tables = _tables(order, points)
    curl_terms, mass_terms = (
        [_term(c, [tables[kind] for kind in names]) for c, names in listed if c.any()]
        for listed in (curl, [(mass_metric[a, b], kinds)])
    )
    return curl_terms, mass_terms


def _term(coefficients: np.ndarray, tables: list[np.ndarray]) -> _Term:
    """Return a term without the degrees that its expansion lacks."""
    there = np.asarray(coefficients.any(axis=0))
    x, y, z = (np.unique(degrees) for degrees in np.nonzero(there))
    chosen = coefficients[:, x[:, None, None], y[:, None], z]
    return _Term(chosen, tuple(t[k] for t, k in zip(tables, (x, y, z), strict=True)))


def _block(order: int, a: int, b: int, curl: list[_Term], mass: list[_Term]) -> _Block:
    """Return the couplings of the pairs of functions that some term joins along every axis."""
    pairs = []
    rows = columns = np.zeros(1, dtype=int)
    for axis in range(3):
        joined = [(term.tables[axis] != 0).any(axis=0) for term in (*curl, *mass)]
        pairs.append(np.flatnonzero(np.any(joined, axis=0)))
        n, m = (order if axis == component else order + 1 for component in (a, b))
        i, j = np.divmod(pairs[-1], m)
        rows = (rows[:, None] * n + i).ravel()
        columns = (columns[:, None] * m + j).ravel()
    third = order * (order + 1) ** 2
    cells = len((*curl, *mass)[0].coefficients)
    sums = [np.zeros((cells, len(rows))) for _ in range(2)]
    for total, terms in zip(sums, (curl, mass), strict=True):
        for term in terms:
            total += term.integrals(pairs)
    return _Block(rows + a * third, columns + b * third, *sums)


def _bounds(diagonal: list[_Block], skip: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Return for both matrices the roots (n_cells, size) of what is round-off."""
    bounds = np.empty((2, *skip.shape))
    for block in diagonal:
        same = np.flatnonzero(block.rows == block.columns)
        for bound, values in zip(bounds, (block.curl, block.mass), strict=True):
            bound[:, block.rows[same]] = np.sqrt(ROUND_OFF * values[:, same])
    curl, mass = np.where(skip, np.inf, np.maximum(bounds, 1e-150))
    return curl, mass


@lru_cache(maxsize=16)
def _tables(order: int, points: int) -> dict[str, np.ndarray]:
    """Return integrals (points, n_i * n_j) of Legendre polynomials times pairs of functions.

    P runs along the field, L across it, D is the slope of L.
    """
    x, weights = gauss_jacobi(points)
    functions = {
        "P": legendre_functions(order, x),
        "L": lobatto_functions(order, x),
        "D": lobatto_slopes(order, x),
    }
    weighted = legendre_functions(points, x) * weights
    tables = {}
    for first, second in product("PLD", repeat=2):
        f, g = functions[first], functions[second]
        table = np.einsum("kq,iq,jq->kij", weighted, f, g, optimize=True)
        sizes = np.sqrt(np.outer((weights * f**2).sum(axis=1), (weights * g**2).sum(axis=1)))
        table[np.abs(table) <= _NO_TERM * sizes] = 0.0
        tables[first + second] = table.reshape(points, -1)
    return tables
