"""Elements for fields in a part that is uniform along x, between walls at x = 0 and x = a.

A field with half a wave across is (cos(kx x) u, sin(kx x) e): u along x, e in the plane.  Its curl
is (sin(kx x) curl e, cos(kx x) R (grad u - kx e)) with R a right-angle turn.  So u is continuous,
e has continuous tangential components, and gradients of u are among the e: edge elements of the
first kind beside scalar ones of the same degree.
"""

from __future__ import annotations

import numpy as np
from skfem.element.element_h1 import ElementH1
from skfem.element.element_hcurl import ElementHcurl
from skfem.refdom import RefTri

from geometries.arrays import Array, Numbers
from solver.elements.scalar_elements import (
    EDGE_GRADIENTS,
    EDGES,
    ElementTriHierarchical,
    along,
    products_with_slopes,
)


class ElementTriEdges(ElementHcurl):
    """Edge elements of the first kind, of degree p, on a triangle whose vertices are sorted.

    With the Whitney functions ``W_ij = l_i grad l_j - l_j grad l_i``: edge functions
    ``W_ij P_k(l_j - l_i)`` for k < p, and interior functions ``l_2 W_01 q`` and ``l_1 W_02 q``
    with q = ``P_m(l_1 - l_0) P_n(2 l_2 - 1)``, m + n <= p - 2.  They span the space of
    J. C. Nedelec, "Mixed finite elements in R3", Numer. Math. 35 (1980), in two dimensions:
    3 p + p (p - 1) functions, and those of degree p - 1 are among them.

    Parameters
    ----------
    degree : int
        At least 1.
    """

    facet_dofs = 1
    refdom = RefTri

    def __init__(self, degree: int) -> None:
        self.p = self.maxdeg = degree
        self.facet_dofs = degree
        self.interior_dofs = degree * (degree - 1)
        self.dofnames = ["u^t"] * (self.facet_dofs + self.interior_dofs)
        self.doflocs = np.full((3 * self.facet_dofs + self.interior_dofs, 2), np.nan)
        self._interior = [
            (m, k - m, bubble) for k in range(degree - 1) for m in range(k + 1) for bubble in (0, 1)
        ]

    def degrees(self) -> Numbers:
        """Lowest degree of a space that holds each local function, (nb,)."""
        edges = [k + 1 for _ in EDGES for k in range(self.p)]
        return np.array([*edges, *(2 + m + n for m, n, _ in self._interior)])

    def orient(self, mapping: object, i: int, tind: Numbers | None = None) -> Array:
        """Sorted vertices make every sign 1."""
        cells = mapping.mesh.t.shape[1] if tind is None else len(tind)  # type: ignore[attr-defined]
        return np.ones(cells)

    def lbasis(self, X: Array, i: int) -> tuple[Array, Array]:
        """Value (2, ...) and curl (...) of local function i at reference points X (2, ...)."""
        bary = np.stack([1.0 - X[0] - X[1], X[0], X[1]])
        slope = EDGE_GRADIENTS.reshape(3, 2, *[1] * (X.ndim - 1))
        if i < 3 * self.p:
            edge, k = divmod(i, self.p)
            a, b = EDGES[edge]
            factor, dfactor = along(bary[b] - bary[a], slope[b] - slope[a], k)
        else:
            m, n, bubble = self._interior[i - 3 * self.p]
            (a, b), c = ((0, 1), 2) if bubble == 0 else ((0, 2), 1)
            f, df = along(bary[1] - bary[0], slope[1] - slope[0], m)
            g, dg = along(2 * bary[2] - 1, 2 * slope[2], n)
            factor, dfactor = products_with_slopes(
                [np.broadcast_to(x, X.shape[1:]) for x in (bary[c], f, g)],
                [np.broadcast_to(x, X.shape) for x in (slope[c], df, dg)],
            )
        whitney = bary[a] * slope[b] - bary[b] * slope[a]
        turned = 2 * (slope[a][0] * slope[b][1] - slope[a][1] * slope[b][0])
        curl = factor * turned + dfactor[0] * whitney[1] - dfactor[1] * whitney[0]
        return whitney * factor, curl


class ElementTriField(ElementH1):
    """Both fields of a cell in one numbering: u of `ElementTriHierarchical`, e of edges.

    On each side the functions of u come first, inside the cell too.

    Parameters
    ----------
    degree : int
        Of both, at least 1.
    """

    nodal_dofs = 1
    refdom = RefTri

    def __init__(self, degree: int) -> None:
        self.p = self.maxdeg = degree
        self.scalar, self.edges = ElementTriHierarchical(degree), ElementTriEdges(degree)
        self.facet_dofs = self.scalar.facet_dofs + degree
        self.interior_dofs = self.scalar.interior_dofs + self.edges.interior_dofs
        count = 3 + 3 * self.facet_dofs + self.interior_dofs
        self.dofnames = ["u"] * (1 + self.facet_dofs + self.interior_dofs)
        self.doflocs = np.full((count, 2), np.nan)

    @property
    def places(self) -> tuple[Numbers, Numbers]:
        """Local numbers of the functions of u, and of those of e, each in its own order."""
        p, s = self.p, self.scalar.facet_dofs
        starts = 3 + self.facet_dofs * np.arange(3)
        inside = 3 + 3 * self.facet_dofs
        inner = self.scalar.interior_dofs
        u = [np.arange(3), *(start + np.arange(s) for start in starts), inside + np.arange(inner)]
        e = [start + s + np.arange(p) for start in starts]
        e.append(inside + inner + np.arange(self.edges.interior_dofs))
        return np.concatenate(u), np.concatenate(e)

    def degrees(self) -> Numbers:
        """Lowest degree of a space that holds each local function, (nb,)."""
        found = np.empty(len(self.doflocs), dtype=np.int64)
        u, e = self.places
        found[u], found[e] = self.scalar.degrees(), self.edges.degrees()
        return found


def field_tables(degree: int, points: Array) -> tuple[Array, Array, Array, Array]:
    """Every local function of `ElementTriField` at points of the reference triangle.

    Parameters
    ----------
    degree : int
    points : (2, q) array

    Returns
    -------
    (nb, q), (nb, 2, q), (nb, 2, q), (nb, q) array
        u, its gradient, e and its curl; functions of the other field are 0.
    """
    element = ElementTriField(degree)
    size, q = len(element.doflocs), points.shape[1]
    u, du, e, de = (np.zeros((size, *s, q)) for s in ((), (2,), (2,), ()))
    for number, place in enumerate(element.places[0]):
        u[place], du[place] = element.scalar.lbasis(points, number)
    for number, place in enumerate(element.places[1]):
        e[place], de[place] = element.edges.lbasis(points, number)
    return u, du, e, de
