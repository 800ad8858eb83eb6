"""Elements for fields that vary once about an axis, on quadrilaterals of the half-plane.

A field of azimuthal order 1 is E = (e sin phi, (w/r) cos phi): e in the half-plane, and w, r times
the component about the axis.  Its curl is regular on the axis where e = (r/R) u + grad w, with u in
an edge space and w scalar; gradients of potentials are then those fields with u = 0.  Gradients
within the half-plane alone, grad psi = (r/R) u, have to find their psi among the w, or they would
ring at spurious frequencies, k of about 1/r: so w is of one degree more than u.
"""

from __future__ import annotations

from functools import lru_cache

import numpy as np
from numpy.polynomial import legendre
from skfem.element.element_h1 import ElementH1
from skfem.refdom import RefQuad

from geometries.arrays import Array, Numbers


class ElementQuadHarmonic(ElementH1):
    """Both fields of a cell in one numbering: w of degree p + 1, u of edges of degree p.

    w is spanned by products of the end functions ``1 - x``, ``x`` and the integrated Legendre
    polynomials ``L_j``, j = 2..p + 1; u by an orthonormal Legendre polynomial ``P_k``, k < p, along
    the field times one of those of degree p across it (P. Solin, K. Segeth, I. Dolezel,
    Higher-Order Finite Element Methods, 2004, sections 2.2 and 2.3).  The spaces of degree p - 1
    are among those of degree p.  Neighbours have to agree on the direction of a shared edge, along
    which both coordinates of a cell ascend; on each side the functions of w come first, inside too.

    Parameters
    ----------
    degree : int
        The p of u, at least 1.
    """

    nodal_dofs = 1
    refdom = RefQuad

    def __init__(self, degree: int) -> None:
        self.p = self.maxdeg = degree
        self.facet_dofs = 2 * degree
        self.interior_dofs = degree**2 + 2 * degree * (degree - 1)
        self.dofnames = ["u"] * (1 + self.facet_dofs + self.interior_dofs)
        self.doflocs = np.full((4 + 4 * self.facet_dofs + self.interior_dofs, 2), np.nan)

    def functions(self) -> list[tuple[str, int, int]]:
        """What each local function is: its field, and its numbers along x and y.

        ``"w"`` by two numbers of scalar functions, 0 and 1 those of the ends; ``"x"`` and ``"y"``
        the components of u, by the number of the polynomial along the field and of the function
        across it.
        """
        bubbles, inner, along = range(2, self.p + 2), range(2, self.p + 1), range(self.p)
        found = [("w", 0, 0), ("w", 1, 0), ("w", 1, 1), ("w", 0, 1)]
        # sides at y = 0, x = 1, y = 1, x = 0
        for side, end in (("x", 0), ("y", 1), ("x", 1), ("y", 0)):
            found += [("w", *((j, end) if side == "x" else (end, j))) for j in bubbles]
            found += [(side, *((k, end) if side == "x" else (end, k))) for k in along]
        found += [("w", i, j) for i in bubbles for j in bubbles]
        found += [("x", k, j) for k in along for j in inner]
        return found + [("y", j, k) for j in inner for k in along]

    def degrees(self) -> Numbers:
        """Lowest degree of a space that holds each local function, (nb,)."""
        found = []
        for field, i, j in self.functions():
            if field == "w":
                found.append(max(1, i - 1, j - 1))
            else:
                found.append(max(1, i + (field == "x"), j + (field == "y")))
        return np.array(found)

    def of_edges(self) -> Numbers:
        """Local numbers of the functions of u."""
        return np.flatnonzero([field != "w" for field, _, _ in self.functions()])


def harmonic_tables(degree: int, points: Array) -> tuple[Array, Array, Array, Array]:
    """Every local function of `ElementQuadHarmonic` at points of the unit square.

    Parameters
    ----------
    degree : int
    points : (2, q) array

    Returns
    -------
    (nb, q), (nb, 2, q), (nb, 2, q), (nb, q) array
        w, its gradient, u and its curl; functions of the other field are 0.
    """
    element = ElementQuadHarmonic(degree)
    (lx, dx, px), (ly, dy, py) = (_one_dimensional(degree, x) for x in points)
    size, q = len(element.doflocs), points.shape[1]
    w, dw, u, du = (np.zeros((size, *s, q)) for s in ((), (2,), (2,), ()))
    for n, (field, i, j) in enumerate(element.functions()):
        if field == "w":
            w[n], dw[n] = lx[i] * ly[j], [dx[i] * ly[j], lx[i] * dy[j]]
        elif field == "x":
            u[n, 0], du[n] = px[i] * ly[j], -px[i] * dy[j]
        else:
            u[n, 1], du[n] = lx[i] * py[j], dx[i] * py[j]
    return w, dw, u, du


def _one_dimensional(degree: int, x: Array) -> tuple[Array, Array, Array]:
    """Scalar functions and their slopes (p + 2, q), and orthonormal polynomials (p, q)."""
    series = _series(degree + 1)
    plain = legendre.legval(2 * x - 1, series)
    across = [1 - x, x]
    slopes = [-np.ones_like(x), np.ones_like(x)]
    for j in range(2, degree + 2):
        root = np.sqrt(2 * j - 1)
        across.append((plain[j] - plain[j - 2]) / (2 * root))
        slopes.append(root * plain[j - 1])
    size = np.sqrt(2 * np.arange(degree) + 1)[:, None]
    return np.array(across), np.array(slopes), size * plain[:degree]


@lru_cache(maxsize=32)
def _series(degree: int) -> Array:
    return np.eye(degree + 1)
