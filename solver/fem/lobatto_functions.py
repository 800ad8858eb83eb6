"""One-dimensional shape functions of high order on (0, 1): Legendre and Lobatto.

References
----------
P. Solin, K. Segeth, I. Dolezel, Higher-Order Finite Element Methods, Chapman & Hall/CRC 2004,
section 1.2.
"""

import numpy as np
from numpy.polynomial import legendre


def legendre_functions(order: int, x: np.ndarray) -> np.ndarray:
    """Orthonormal Legendre polynomials of degree 0 to order - 1.

    Parameters
    ----------
    order : int
        Number of polynomials.
    x : (n,) array
        Points of (0, 1).

    Returns
    -------
    (order, n) array
    """
    scale = np.sqrt(2.0 * np.arange(order) + 1.0)
    return scale[:, None] * legendre.legvander(2.0 * x - 1.0, order - 1).T


def lobatto_functions(order: int, x: np.ndarray) -> np.ndarray:
    """The end functions 1 - x and x, and the integrals of Legendre polynomials up to the order.

    Parameters
    ----------
    order : int
        Highest degree, at least 1.
    x : (n,) array
        Points of (0, 1).

    Returns
    -------
    (order + 1, n) array
        All but the first two vanish at both ends and have orthonormal derivatives.
    """
    table = legendre.legvander(2.0 * x - 1.0, order).T
    j = np.arange(2, order + 1)
    bubbles = (table[j] - table[j - 2]) / (2.0 * np.sqrt(2.0 * j - 1.0))[:, None]
    return np.concatenate([(1.0 - x)[None], x[None], bubbles])


def lobatto_slopes(order: int, x: np.ndarray) -> np.ndarray:
    """Derivatives (order + 1, n) of `lobatto_functions`."""
    ends = np.array([[-1.0], [1.0]]) * np.ones_like(x)
    return np.concatenate([ends, legendre_functions(order, x)[1:]])
