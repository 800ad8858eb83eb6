"""First-kind Nedelec elements on tetrahedra, of order 1 to 6, as scikit-fem elements.

scikit-fem 12.0 has the lowest order only. The space of order p is

    R_p = P_{p-1}^3 + x cross (homogeneous polynomials of degree p - 1)^3

and its degrees of freedom are tangential moments against orthonormal polynomials, of degree
p - 1 on edges, p - 2 on faces and p - 3 inside. The shape functions are the dual basis, found by
inverting the matrix of moments. Edges and faces are parametrised from the lowest to the highest
vertex number, so that with sorted cells no signs are needed between neighbours.

References
----------
J. C. Nedelec, Mixed finite elements in R^3, Numer. Math. 35 (1980) 315-341,
doi 10.1007/BF01396415, section 1.2.
"""

from functools import lru_cache
from typing import Any

import numpy as np
from skfem.element.element_hcurl import ElementHcurl
from skfem.refdom import RefTet

from solver.elements.conical_rules import gauss_jacobi, tetrahedron_rule, triangle_rule

HIGHEST_ORDER = 6
_BARYCENTRE = np.full((3, 1), 0.25)


def _exponents(degree: int, dimension: int) -> np.ndarray:
    """Return the exponents of all monomials up to a degree, (dimension, number)."""
    grid = np.indices((degree + 1,) * dimension).reshape(dimension, -1)
    return grid[:, grid.sum(axis=0) <= degree]


def _monomials(X: np.ndarray, exponents: np.ndarray) -> np.ndarray:
    """Return the monomials (number, ...) at the points X (dimension, ...)."""
    powers = np.ones((exponents.max(initial=0) + 1, *X.shape))
    for n in range(1, len(powers)):
        powers[n] = powers[n - 1] * X
    return np.prod([powers[exponents[d], d] for d in range(len(X))], axis=0)


def _monomial_gradients(X: np.ndarray, exponents: np.ndarray) -> np.ndarray:
    """Return the gradients (number, dimension, ...) of the monomials at X."""
    gradients = []
    for d in range(len(X)):
        lowered = exponents.copy()
        lowered[d] = np.maximum(lowered[d] - 1, 0)
        factor = exponents[d].reshape((-1,) + (1,) * (X.ndim - 1))
        gradients.append(factor * _monomials(X, lowered))
    return np.stack(gradients, axis=1)


def _orthonormal(degree: int, points: np.ndarray, weights: np.ndarray) -> np.ndarray:
    """Return polynomials (number, n_points), orthonormal under a quadrature rule."""
    if degree < 0:
        return np.zeros((0, weights.size))
    centred = points - points @ weights[:, None] / weights.sum()
    table = _monomials(centred, _exponents(degree, len(points)))
    q, _ = np.linalg.qr((table * np.sqrt(weights)).T)
    return q.T / np.sqrt(weights)


def _moments(order: int) -> tuple[np.ndarray, np.ndarray]:
    """Return all moments as sums over points: points (3, n) and weights (N, 3, n).

    The moment of a field u is the sum of ``weights[i] * u`` over components and points.
    """
    corners = RefTet.p
    points: list[np.ndarray] = []
    rows: list[tuple[int, np.ndarray]] = []

    def add(X: np.ndarray, tangents: np.ndarray, tests: np.ndarray) -> None:
        start = sum(x.shape[1] for x in points)
        points.append(X)
        for tangent in tangents:
            rows.extend((start, np.outer(tangent, test)) for test in tests)

    s, w = gauss_jacobi(order + 1)
    for a, b in RefTet.edges:
        tangent = corners[:, b] - corners[:, a]
        X = corners[:, [a]] + np.outer(tangent, s)
        add(X, tangent[None], w * _orthonormal(order - 1, s[None], w))
    st, w = triangle_rule(order + 1)
    for a, b, c in RefTet.facets:
        tangents = np.stack([corners[:, b] - corners[:, a], corners[:, c] - corners[:, a]])
        X = corners[:, [a]] + tangents.T @ st
        add(X, tangents, w * _orthonormal(order - 2, st, w))
    X, w = tetrahedron_rule(order + 1)
    add(X, np.eye(3), w * _orthonormal(order - 3, X, w))

    stacked = np.concatenate(points, axis=1)
    weights = np.zeros((len(rows), 3, stacked.shape[1]))
    for row, (start, block) in zip(weights, rows, strict=True):
        row[:, start : start + block.shape[1]] = block
    return stacked, weights


def _nedelec_space(order: int) -> np.ndarray:
    """Return an orthonormal basis (N, 3, n_monomials) of R_p in centred monomials."""
    exponents = _exponents(order, 3)
    X, w = tetrahedron_rule(order + 1)
    table = _monomials(X - _BARYCENTRE, exponents) * np.sqrt(w)
    degree = exponents.sum(axis=0)
    low = np.einsum("ij,mq->imjq", np.eye(3), table[degree < order])
    top = table[degree == order - 1]
    crossed = np.cross((X - _BARYCENTRE)[None, None], np.eye(3)[:, None, :, None], axis=2)
    crossed = crossed * top[None, :, None, :]
    spanning = np.concatenate([low.reshape(-1, 3 * w.size), crossed.reshape(-1, 3 * w.size)])
    size = order * (order + 2) * (order + 3) // 2
    _, values, rows = np.linalg.svd(spanning, full_matrices=False)
    if not values[size - 1] > 1e-8 * values[0] > 1e3 * values[size:].max(initial=0.0):
        raise ArithmeticError(f"the spanning set of R_{order} has an unclear rank")
    functions = rows[:size].reshape(size, 3, w.size)
    inverse = np.linalg.pinv(table)
    return functions @ inverse


@lru_cache(maxsize=HIGHEST_ORDER)
def _dual_basis(order: int) -> np.ndarray:
    """Return the shape functions (N, 3, n_monomials), dual to the moments."""
    space = _nedelec_space(order)
    X, weights = _moments(order)
    values = space @ _monomials(X - _BARYCENTRE, _exponents(order, 3))
    matrix = np.tensordot(weights, values, axes=([1, 2], [1, 2]))
    return np.tensordot(np.linalg.inv(matrix).T, space, axes=1)


class ElementTetNedelec(ElementHcurl):
    """First-kind Nedelec tetrahedron of any order from 1 to 6.

    Parameters
    ----------
    order : int
        Order p: tangential components are polynomials of degree p - 1 on the edges.

    Raises
    ------
    ValueError
        If the order is not between 1 and 6, or, in use, if a cell's vertices are not sorted.

    Notes
    -----
    The local order is that of scikit-fem: six edges, four faces, the inside; on a face all
    moments along its first tangent come before those along its second.
    """

    refdom = RefTet

    def __init__(self, order: int) -> None:
        if not 1 <= order <= HIGHEST_ORDER:
            raise ValueError(f"order is {order}; it must be from 1 to {HIGHEST_ORDER}")
        self.order = order
        self.maxdeg = order
        self.edge_dofs = order
        self.facet_dofs = order * (order - 1)
        self.interior_dofs = order * (order - 1) * (order - 2) // 2
        self.dofnames = ["u^t"] * (self.edge_dofs + self.facet_dofs + self.interior_dofs)
        middles = [np.mean(RefTet.p[:, ends], axis=1) for ends in (*RefTet.edges, *RefTet.facets)]
        counts = [self.edge_dofs] * 6 + [self.facet_dofs] * 4 + [self.interior_dofs]
        self.doflocs = np.repeat([*middles, _BARYCENTRE.ravel()], counts, axis=0)

    @property
    def size(self) -> int:
        """Number of shape functions of one cell."""
        return len(self.doflocs)

    def values(self, X: np.ndarray) -> np.ndarray:
        """Shape functions (size, 3, n) at reference points X (3, n)."""
        table = _monomials(X - _BARYCENTRE, _exponents(self.order, 3))
        return _dual_basis(self.order) @ table

    def curls(self, X: np.ndarray) -> np.ndarray:
        """Curls (size, 3, n) of the shape functions at reference points X (3, n)."""
        gradients = _monomial_gradients(X - _BARYCENTRE, _exponents(self.order, 3))
        slopes = np.tensordot(_dual_basis(self.order), gradients, axes=1)  # (size, 3, d, n)
        pairs = ((2, 1), (0, 2), (1, 0))
        return np.stack([slopes[:, a, b] - slopes[:, b, a] for a, b in pairs], axis=1)

    def lbasis(self, X: np.ndarray, i: int) -> tuple[np.ndarray, np.ndarray]:
        """Shape function i and its curl at X (3, ...), as scikit-fem asks for them."""
        if i >= self.size:
            self._index_error()
        flat = X.reshape(3, -1)
        return self.values(flat)[i].reshape(X.shape), self.curls(flat)[i].reshape(X.shape)

    def orient(self, mapping: Any, i: int, tind: Any = None) -> Any:
        """Return ones: with sorted cells neighbours agree on every edge and face."""
        require_sorted(mapping.mesh.t)
        ones = np.ones(mapping.mesh.t.shape[1], dtype=np.int32)
        return ones if tind is None else ones[tind]


def require_sorted(t: np.ndarray) -> None:
    """Check that the vertex numbers of every cell ascend.

    Parameters
    ----------
    t : (4, n_cells) array of int
        Vertices of the tetrahedra.

    Raises
    ------
    ValueError
        If a column of t does not ascend.
    """
    if np.any(np.diff(t, axis=0) <= 0):
        raise ValueError(
            "the vertices of a tetrahedron are not in ascending order; sort the columns of mesh.t"
        )
