"""Quadrature rules on the reference cells, exact to any degree asked for.

The rules on the triangle and the tetrahedron are conical products of Gauss-Jacobi rules: all
weights are positive and all points lie inside, at every degree.

References
----------
A. H. Stroud, Approximate Calculation of Multiple Integrals, Prentice-Hall 1971, section 2.4.
"""

from functools import lru_cache

import numpy as np
from scipy.special import roots_jacobi


@lru_cache(maxsize=64)
def gauss_jacobi(points: int, exponent: int = 0) -> tuple[np.ndarray, np.ndarray]:
    """Nodes and weights on (0, 1) for the weight ``(1 - x)**exponent``.

    Parameters
    ----------
    points : int
        Number of nodes; exact for polynomials of degree ``2*points - 1``.
    exponent : int
        Power of ``1 - x`` in the weight.

    Returns
    -------
    (points,) array, (points,) array
        Nodes in (0, 1) and positive weights.
    """
    nodes, weights = roots_jacobi(points, exponent, 0)
    return (1.0 + nodes) / 2.0, weights / 2.0 ** (exponent + 1)


def _product(*rules: tuple[np.ndarray, np.ndarray]) -> tuple[np.ndarray, np.ndarray]:
    """Return the product of one-dimensional rules, the last coordinate varying fastest."""
    nodes = np.meshgrid(*(rule[0] for rule in rules), indexing="ij")
    weights = np.meshgrid(*(rule[1] for rule in rules), indexing="ij")
    return np.stack([x.ravel() for x in nodes]), np.prod([w.ravel() for w in weights], axis=0)


@lru_cache(maxsize=64)
def tetrahedron_rule(points: int) -> tuple[np.ndarray, np.ndarray]:
    """Points (3, points**3) and weights on the reference tetrahedron, exact to 2*points - 1."""
    (r, s, t), weights = _product(
        gauss_jacobi(points, 2), gauss_jacobi(points, 1), gauss_jacobi(points)
    )
    return np.stack([r, s * (1.0 - r), t * (1.0 - r) * (1.0 - s)]), weights


@lru_cache(maxsize=64)
def triangle_rule(points: int) -> tuple[np.ndarray, np.ndarray]:
    """Points (2, points**2) and weights on the reference triangle, exact to 2*points - 1."""
    (r, s), weights = _product(gauss_jacobi(points, 1), gauss_jacobi(points))
    return np.stack([r, s * (1.0 - r)]), weights


@lru_cache(maxsize=64)
def square_rule(points: int) -> tuple[np.ndarray, np.ndarray]:
    """Points (2, points**2) and weights on the unit square, exact to 2*points - 1 each way."""
    return _product(gauss_jacobi(points), gauss_jacobi(points))


@lru_cache(maxsize=64)
def cube_rule(points: int) -> tuple[np.ndarray, np.ndarray]:
    """Points (3, points**3) and weights on the unit cube, exact to 2*points - 1 each way."""
    return _product(gauss_jacobi(points), gauss_jacobi(points), gauss_jacobi(points))
