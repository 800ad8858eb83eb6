"""First-kind Nedelec elements on hexahedra, of any order.

On the unit cube the space of order p is Q_{p-1,p,p} x Q_{p,p-1,p} x Q_{p,p,p-1}. The shape
functions are products of orthonormal Legendre polynomials ``P_i`` along the field's direction and,
across it, of the two end functions ``1 - x``, ``x`` and the integrated Legendre polynomials
``L_j``, j = 2..p. Both families are even or odd about the middle, so that a neighbour that sees an
edge or a face reversed or with its axes swapped has the same functions up to sign and order; that
makes blocks of cells in any mutual orientation conform.

References
----------
P. Solin, K. Segeth, I. Dolezel, Higher-Order Finite Element Methods, Chapman & Hall/CRC 2004,
sections 2.3 and 3.2. J. C. Nedelec, doi 10.1007/BF01396415, section 2.
"""

from dataclasses import dataclass
from functools import cached_property
from itertools import product

import numpy as np
from numpy.polynomial import legendre

from geometries.cells.hexahedral_mesh import EDGES, FACE_AXES, FACES

HIGHEST_ORDER = 12


def other_axes(a: int) -> tuple[int, int]:
    """Return the two directions across direction a, in ascending order."""
    return ((1, 2), (0, 2), (0, 1))[a]


def curl_sign(component: int, a: int) -> float:
    """Return the sign with which d v_a / d x_d enters the curl's component."""
    return 1.0 if (a - component) % 3 == 2 else -1.0


@dataclass(frozen=True)
class HexNedelec:
    """First-kind Nedelec hexahedron.

    Shape functions are ordered by component a = 0, 1, 2 and then as a C-ordered array over the
    one-dimensional indices along the three reference axes.

    Parameters
    ----------
    order : int
        Order p, from 1 to 12.

    Raises
    ------
    ValueError
        If the order is out of range.
    """

    order: int

    def __post_init__(self) -> None:
        if not 1 <= self.order <= HIGHEST_ORDER:
            raise ValueError(f"order is {self.order}; it must be from 1 to {HIGHEST_ORDER}")

    @property
    def edge_dofs(self) -> int:
        """Degrees of freedom per edge."""
        return self.order

    @property
    def facet_dofs(self) -> int:
        """Degrees of freedom per face."""
        return 2 * self.order * (self.order - 1)

    @property
    def interior_dofs(self) -> int:
        """Degrees of freedom inside a cell."""
        return 3 * self.order * (self.order - 1) ** 2

    @property
    def size(self) -> int:
        """Number of shape functions of one cell, 3 p (p + 1)^2."""
        return 3 * self.order * (self.order + 1) ** 2

    @cached_property
    def layout(self) -> tuple[np.ndarray, np.ndarray]:
        """Entity (size,) and rank in it (size,) of each shape function, unoriented.

        Entities 0..11 are the edges, 12..17 the faces, 18 the inside. On a face of axes s < t the
        functions along s come first, ranked by (Legendre index, bubble index along t).
        """
        p = self.order
        entity, rank = [], []
        interior = 0
        for a in range(3):
            s, t = other_axes(a)
            lengths = [p + 1] * 3
            lengths[a] = p
            for index in product(*(range(n) for n in lengths)):
                i, j, k = index[a], index[s], index[t]
                if j < 2 and k < 2:
                    entity.append(4 * a + 2 * j + k)
                    rank.append(i)
                elif j >= 2 and k >= 2:
                    entity.append(18)
                    rank.append(interior)
                    interior += 1
                else:
                    normal, side, bubble = (s, j, k) if j < 2 else (t, k, j)
                    first = FACE_AXES[normal][0] == a
                    entity.append(12 + 2 * normal + side)
                    rank.append((0 if first else p * (p - 1)) + i * (p - 1) + bubble - 2)
        return np.array(entity), np.array(rank)

    @cached_property
    def places_in_next(self) -> np.ndarray:
        """Places (size,) of the shape functions among those of the next order."""
        p = self.order
        along, start = [], 0
        for a in range(3):
            shape = [p + 2] * 3
            shape[a] = p + 1
            own = [range(p if d == a else p + 1) for d in range(3)]
            along.append(start + np.ravel_multi_index(np.ix_(*own), shape).ravel())
            start += int(np.prod(shape))
        return np.concatenate(along)

    @cached_property
    def _oriented_faces(self) -> tuple[np.ndarray, np.ndarray]:
        """Rank and sign (8, facet_dofs) of a face's functions in each of its orientations.

        The orientation is numbered 4*swapped + 2*(first axis reversed) + (second axis reversed).
        """
        p = self.order
        i, j = (x.ravel() for x in np.meshgrid(np.arange(p), np.arange(2, p + 1), indexing="ij"))
        same = i * (p - 1) + j - 2
        ranks, signs = [], []
        for swapped, flip_s, flip_t in product((0, 1), repeat=3):
            along, across = same, same + p * (p - 1)
            ranks.append(np.concatenate([across, along] if swapped else [along, across]))
            first = (-1.0) ** (flip_s * (i + 1) + flip_t * j)
            second = (-1.0) ** (flip_t * (i + 1) + flip_s * j)
            signs.append(np.concatenate([first, second]))
        return np.array(ranks), np.array(signs)

    def orientation(self, t: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
        """Rank in its entity and sign of each cell's shape functions, after orientation.

        Edges run from the lower to the higher vertex number. A face starts at its lowest vertex
        and its first axis goes to the lower of the two vertices next to that one.

        Parameters
        ----------
        t : (8, n_cells) array of int
            Vertices; vertex m is at the reference point (m & 1, m >> 1 & 1, m >> 2).

        Returns
        -------
        (n_cells, size) array of int, (n_cells, size) array of float
        """
        entity, rank = self.layout
        ranks = np.tile(rank, (t.shape[1], 1))
        signs = np.ones(ranks.shape)
        for edge, (low, high) in enumerate(EDGES):
            columns = np.flatnonzero(entity == edge)
            reversed_cells = t[low] > t[high]
            flips = (-1.0) ** (rank[columns] + 1)
            signs[:, columns] = np.where(reversed_cells[:, None], flips, 1.0)
        if self.order == 1:
            return ranks, signs
        for face, corners in enumerate(FACES):
            columns = np.flatnonzero(entity == 12 + face)
            oriented_rank, oriented_sign = self._oriented_faces
            code = _face_orientation(t[list(corners)])
            ranks[:, columns] = oriented_rank[code][:, rank[columns]]
            signs[:, columns] = oriented_sign[code][:, rank[columns]]
        return ranks, signs

    def values(self, X: np.ndarray) -> np.ndarray:
        """Shape functions (size, 3, n), unoriented, at reference points X (3, n)."""
        along = [legendre_functions(self.order, x) for x in X]
        across = [lobatto_functions(self.order, x) for x in X]
        table = np.zeros((3, self.size // 3, 3, X.shape[1]))
        for a in range(3):
            factors = [along[d] if d == a else across[d] for d in range(3)]
            table[a, :, a] = _outer(factors)
        return table.reshape(self.size, 3, -1)

    def curls(self, X: np.ndarray) -> np.ndarray:
        """Curls (size, 3, n) of the shape functions at reference points X (3, n)."""
        along = [legendre_functions(self.order, x) for x in X]
        across = [lobatto_functions(self.order, x) for x in X]
        slopes = [lobatto_slopes(self.order, x) for x in X]
        table = np.zeros((3, self.size // 3, 3, X.shape[1]))
        for a in range(3):
            for component in other_axes(a):
                d = 3 - a - component
                factors = [
                    along[e] if e == a else slopes[e] if e == d else across[e] for e in range(3)
                ]
                table[a, :, component] = curl_sign(component, a) * _outer(factors)
        return table.reshape(self.size, 3, -1)


def _face_orientation(corners: np.ndarray) -> np.ndarray:
    """Return the orientation number (n_cells,) of a face from its vertices (4, n_cells)."""
    lowest = np.argmin(corners, axis=0)
    flip_s, flip_t = lowest & 1, lowest >> 1
    cells = np.arange(corners.shape[1])
    next_s, next_t = corners[lowest ^ 1, cells], corners[lowest ^ 2, cells]
    return 4 * (next_s > next_t) + 2 * flip_s + flip_t


def _outer(factors: list[np.ndarray]) -> np.ndarray:
    """Return the C-ordered products (n0*n1*n2, n) of three sets of functions (n_d, n)."""
    return np.einsum("iq,jq,kq->ijkq", *factors).reshape(-1, factors[0].shape[1])


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
