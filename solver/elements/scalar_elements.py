"""Hierarchical scalar elements of any degree on triangles and quadrilaterals.

The functions of degree p - 1 are among those of degree p, so one assembly serves
every lower degree too: that is what the error bar compares.
"""

from __future__ import annotations

from functools import lru_cache

import numpy as np
from numpy.polynomial import legendre
from skfem.element.element_h1 import ElementH1
from skfem.element.element_quad import ElementQuadP
from skfem.refdom import RefTri

from geometries.arrays import Array, Numbers

#: Vertices of each side of a triangle, and gradients of its barycentric coordinates.
EDGES = ((0, 1), (1, 2), (0, 2))
EDGE_GRADIENTS = np.array([[-1.0, -1.0], [1.0, 0.0], [0.0, 1.0]])


@lru_cache(maxsize=64)
def _legendre(degree: int) -> tuple[Array, Array]:
    """Coefficients of the Legendre polynomial of a degree and of its derivative."""
    series = np.eye(degree + 1)[degree]
    return series, legendre.legder(series) if degree else np.zeros(1)


class ElementTriHierarchical(ElementH1):
    """Scalar polynomials of degree p on a triangle whose vertices are sorted.

    Vertex functions, edge functions ``l_i l_j P_k(l_j - l_i)`` and interior functions
    ``l_0 l_1 l_2 P_m(l_1 - l_0) P_n(2 l_2 - 1)`` with Legendre polynomials P: the
    construction of Szabo and Babuska, "Finite Element Analysis", 1991, chapter 6.
    Since vertices are sorted, neighbours agree on the direction of a shared edge and
    no sign is needed.

    Parameters
    ----------
    degree : int
        Polynomial degree p, at least 1.
    """

    nodal_dofs = 1
    refdom = RefTri

    def __init__(self, degree: int) -> None:
        self.p = self.maxdeg = degree
        self.facet_dofs = degree - 1
        self.interior_dofs = (degree - 1) * (degree - 2) // 2
        self.dofnames = ["u"] * (1 + self.facet_dofs + self.interior_dofs)
        self.doflocs = np.full((3 + 3 * self.facet_dofs + self.interior_dofs, 2), np.nan)
        self.doflocs[:3] = [[0.0, 0.0], [1.0, 0.0], [0.0, 1.0]]
        self._interior = [(m, n) for k in range(degree - 2) for m in range(k + 1) for n in [k - m]]

    def degrees(self) -> Numbers:
        """Lowest degree of a space that holds each local function, (nb,)."""
        edges = [k for _ in range(3) for k in range(2, self.p + 1)]
        return np.array([1, 1, 1, *edges, *(3 + m + n for m, n in self._interior)])

    def lbasis(self, X: Array, i: int) -> tuple[Array, Array]:
        """Value and gradient of local function i at reference points X (2, ...)."""
        bary = np.stack([1.0 - X[0] - X[1], X[0], X[1]])
        slope = EDGE_GRADIENTS.reshape(3, 2, *[1] * (X.ndim - 1))
        if i < 3:
            return bary[i], np.broadcast_to(slope[i], X.shape)
        if i < 3 + 3 * self.facet_dofs:
            edge, k = divmod(i - 3, self.facet_dofs)
            a, b = EDGES[edge]
            bubble, dbubble = products_with_slopes([bary[a], bary[b]], [slope[a], slope[b]])
            factor, dfactor = along(bary[b] - bary[a], slope[b] - slope[a], k)
            return bubble * factor, dbubble * factor + bubble * dfactor
        m, n = self._interior[i - 3 - 3 * self.facet_dofs]
        bubble, dbubble = products_with_slopes(list(bary), list(slope))
        f, df = along(bary[1] - bary[0], slope[1] - slope[0], m)
        g, dg = along(2 * bary[2] - 1, 2 * slope[2], n)
        return bubble * f * g, dbubble * f * g + bubble * (df * g + f * dg)


class ElementQuadHierarchical(ElementQuadP):
    """scikit-fem's hierarchical quadrilateral, with the degree of each function.

    Neighbours have to agree on the direction of a shared edge.
    """

    def __init__(self, degree: int) -> None:
        if degree < 3:
            raise ValueError(f"degree is {degree}; the quadrilateral needs at least 3")
        super().__init__(degree)

    def degrees(self) -> Numbers:
        """Lowest degree of a space that holds each local function, (nb,)."""
        one = range(2, self.p + 1)
        edges = [k for _ in range(4) for k in one]
        return np.array([1] * 4 + edges + [max(k, m) for k in one for m in one])


def along(x: Array, slope: Array, degree: int) -> tuple[Array, Array]:
    """Legendre polynomial of x, and its gradient where that of x is `slope`."""
    series, derivative = _legendre(degree)
    return np.asarray(legendre.legval(x, series)), legendre.legval(x, derivative) * slope


def products_with_slopes(factors: list[Array], slopes: list[Array]) -> tuple[Array, Array]:
    """Product of some functions, and its gradient."""
    value = np.prod(factors, axis=0)
    slope = sum(
        slopes[i] * np.prod([f for j, f in enumerate(factors) if j != i], axis=0)
        for i in range(len(factors))
    )
    return value, np.asarray(slope)
