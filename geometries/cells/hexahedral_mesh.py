"""Hexahedral meshes whose cells follow an exact map of the part's shape.

A part is cut into blocks. Each block is a lattice of boxes in a space of three parameters together
with a map from the parameters to space, which is evaluated, with its derivatives, wherever it is
needed: nothing about the shape is approximated by the mesh. A twist, a taper or a bend is one
block; a part that ends in a circle has five, a square core and four around it.
"""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from functools import cached_property

import numpy as np

from geometries.errors import MeshingError

CornerMap = Callable[[np.ndarray], tuple[np.ndarray, np.ndarray]]

# Vertex m of a cell is at (m & 1, m >> 1 & 1, m >> 2). Edge 4a + 2j + k runs along axis a with the
# two other coordinates, in ascending order of axis, at j and k. Face 2d + s is at coordinate d = s
# and lists its vertices with the lower of its two axes varying fastest.
FACE_AXES = ((1, 2), (0, 2), (0, 1))
EDGES = tuple(
    tuple((j << s) + (k << t) + (end << a) for end in (0, 1))
    for a, (s, t) in enumerate(FACE_AXES)
    for j in (0, 1)
    for k in (0, 1)
)
FACES = tuple(
    tuple((side << d) + (i << s) + (j << t) for j in (0, 1) for i in (0, 1))
    for d, (s, t) in enumerate(FACE_AXES)
    for side in (0, 1)
)
SIDES = ("u0", "u1", "v0", "v1", "w0", "w1")


@dataclass(frozen=True)
class Block:
    """A lattice of cells in parameter space and its exact map.

    Parameters
    ----------
    breaks : three (n_d + 1,) arrays
        Ascending parameter values u, v, w that bound the cells.
    mapping : callable
        Takes parameters (3, n) to points (3, n) [m] and derivatives (3, 3, n), the entry [i, j]
        being the derivative of coordinate i by parameter j.
    sides : mapping of str to str
        Boundary name of some of the block's sides "u0", "u1", "v0", "v1", "w0", "w1".
    """

    breaks: tuple[np.ndarray, np.ndarray, np.ndarray]
    mapping: CornerMap
    sides: Mapping[str, str] = field(default_factory=dict)

    def __post_init__(self) -> None:
        for values in self.breaks:
            if len(values) < 2 or np.any(np.diff(values) <= 0):
                raise MeshingError("the parameter values that bound a block's cells must ascend")
        if unknown := set(self.sides) - set(SIDES):
            raise MeshingError(f"{sorted(unknown)} are not sides of a block; they are {SIDES}")

    @property
    def cells(self) -> tuple[int, int, int]:
        """Number of cells along each parameter."""
        nu, nv, nw = (len(values) - 1 for values in self.breaks)
        return nu, nv, nw


@dataclass(frozen=True)
class HexahedralMesh:
    """Conforming hexahedra in one or several blocks.

    The names of the arrays are those of scikit-fem's meshes.

    Parameters
    ----------
    p : (3, n_vertices) array
        Vertices [m].
    t : (8, n_cells) array of int
        Vertices of each cell.
    blocks : tuple of Block
        The blocks; cells are ordered by block.
    boundaries : dict of str to (n,) array of int
        Numbers of the named boundary facets.
    """

    p: np.ndarray
    t: np.ndarray
    blocks: tuple[Block, ...]
    boundaries: dict[str, np.ndarray]

    @cached_property
    def _edge_tables(self) -> tuple[np.ndarray, np.ndarray]:
        return _entities(self.t, EDGES)

    @cached_property
    def _facet_tables(self) -> tuple[np.ndarray, np.ndarray]:
        return _entities(self.t, FACES)

    @property
    def edges(self) -> np.ndarray:
        """Vertices (2, n_edges) of the edges."""
        return self._edge_tables[0]

    @property
    def t2e(self) -> np.ndarray:
        """Edges (12, n_cells) of the cells."""
        return self._edge_tables[1]

    @property
    def facets(self) -> np.ndarray:
        """Sorted vertices (4, n_facets) of the faces."""
        return self._facet_tables[0]

    @property
    def t2f(self) -> np.ndarray:
        """Faces (6, n_cells) of the cells."""
        return self._facet_tables[1]

    def boundary_facets(self) -> np.ndarray:
        """Numbers of the faces that belong to one cell only."""
        return np.flatnonzero(np.bincount(self.t2f.ravel()) == 1)

    def facets_of(self, number: int, side: str) -> np.ndarray:
        """Numbers of the faces on a side of a block; it may lie inside the part."""
        before = sum(int(np.prod(block.cells)) for block in self.blocks[:number])
        face, cells = _side_cells(self.blocks[number].cells, side)
        return self.t2f[face, before + cells]

    @cached_property
    def boxes(self) -> tuple[np.ndarray, np.ndarray]:
        """Lower corner and size (3, n_cells) of each cell in its block's parameters."""
        lower, size = [], []
        for block in self.blocks:
            starts = np.meshgrid(*(b[:-1] for b in block.breaks), indexing="ij")
            steps = np.meshgrid(*(np.diff(b) for b in block.breaks), indexing="ij")
            lower.append(np.stack([x.ravel() for x in starts]))
            size.append(np.stack([x.ravel() for x in steps]))
        return np.concatenate(lower, axis=1), np.concatenate(size, axis=1)

    def located(self, X: np.ndarray, cells: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
        """Points and derivatives of the exact map in some cells.

        Parameters
        ----------
        X : (3, n) array
            Points of the unit cube, the same in every cell.
        cells : (c,) array of int
            Cell numbers.

        Returns
        -------
        (3, c, n) array, (3, 3, c, n) array
            Points [m] and derivatives by the reference coordinates [m].
        """
        lower, size = (table[:, cells] for table in self.boxes)
        parameters = lower[:, :, None] + size[:, :, None] * X[:, None, :]
        points = np.empty(parameters.shape)
        jacobians = np.empty((3, *parameters.shape))
        ends = np.cumsum([np.prod(block.cells) for block in self.blocks])
        owner = np.searchsorted(ends, cells, side="right")
        for number in np.unique(owner):
            mine = np.flatnonzero(owner == number)
            where = parameters[:, mine].reshape(3, -1)
            x, derivatives = self.blocks[number].mapping(where)
            points[:, mine] = x.reshape(3, len(mine), -1)
            jacobians[:, :, mine] = derivatives.reshape(3, 3, len(mine), -1)
        return points, jacobians * size[None, :, :, None]


def hexahedral_mesh(blocks: Sequence[Block]) -> HexahedralMesh:
    """Join blocks into one conforming mesh.

    Parameters
    ----------
    blocks : sequence of Block
        Blocks whose common sides carry the same cells; the orientations of their parameters
        need not agree.

    Returns
    -------
    HexahedralMesh

    Raises
    ------
    MeshingError
        If a named side lies inside the part, or two sides give one face different names.
    """
    corners, cells, marks = [], [], []
    start = 0
    for block in blocks:
        grids = np.meshgrid(*block.breaks, indexing="ij")
        corners.append(block.mapping(np.stack([g.ravel() for g in grids]))[0])
        number = start + np.arange(grids[0].size).reshape(grids[0].shape)
        cells.append(_lattice_cells(number))
        named = block.sides.items()
        marks.append([(name, *_side_cells(block.cells, side)) for side, name in named])
        start += grids[0].size
    p, t = np.concatenate(corners, axis=1), np.concatenate(cells, axis=1)
    if len(blocks) > 1:
        p, merged = distinct_points(p)
        t = merged[t]
    mesh = HexahedralMesh(p, t, tuple(blocks), {})
    mesh.boundaries.update(_named_facets(mesh, marks, [c.shape[1] for c in cells]))
    return mesh


def _lattice_cells(number: np.ndarray) -> np.ndarray:
    """Return the vertices (8, n_cells) of the cells of a lattice of numbered vertices."""
    nu, nv, nw = (n - 1 for n in number.shape)
    bits = [(m & 1, m >> 1 & 1, m >> 2) for m in range(8)]
    return np.stack([number[i : i + nu, j : j + nv, k : k + nw].ravel() for i, j, k in bits])


def _side_cells(cells: tuple[int, int, int], side: str) -> tuple[int, np.ndarray]:
    """Return the local face number of a block's side and the cells along it."""
    face = SIDES.index(side)
    numbers = np.arange(np.prod(cells)).reshape(cells)
    return face, np.take(numbers, -(face % 2), axis=face // 2).ravel()


def _named_facets(
    mesh: HexahedralMesh,
    marks: Sequence[Sequence[tuple[str, int, np.ndarray]]],
    counts: Sequence[int],
) -> dict[str, np.ndarray]:
    """Return the facets of each boundary name."""
    named: dict[str, list[np.ndarray]] = {}
    start = 0
    for mark, count in zip(marks, counts, strict=True):
        for name, face, cells in mark:
            named.setdefault(name, []).append(mesh.t2f[face, start + cells])
        start += count
    facets = {name: np.concatenate(parts) for name, parts in named.items()}
    every = np.concatenate([*facets.values(), np.empty(0, dtype=int)])
    if len(np.unique(every)) < len(every):
        raise MeshingError("two sides that carry boundary names share a face")
    if not np.all(np.isin(every, mesh.boundary_facets())):
        raise MeshingError("a side that carries a boundary name lies inside the part")
    return facets


def distinct_points(points: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Return the distinct points of (3, m) and the number (m,) of each given point among them."""
    from scipy.spatial import cKDTree

    extent = np.ptp(points, axis=1).max()
    tree = cKDTree(points.T)
    lowest = np.arange(points.shape[1])
    pairs = tree.query_pairs(1e-9 * extent, output_type="ndarray")
    np.minimum.at(lowest, pairs[:, 1], pairs[:, 0])
    kept, number = np.unique(lowest, return_inverse=True)
    return points[:, kept], number


def _entities(t: np.ndarray, local: Sequence[Sequence[int]]) -> tuple[np.ndarray, np.ndarray]:
    """Return distinct sorted vertex sets (k, n) and their numbers (n_local, n_cells)."""
    vertices = np.sort(np.stack([t[list(corners)] for corners in local]), axis=1)
    rows = vertices.transpose(0, 2, 1).reshape(-1, vertices.shape[1])
    distinct, number = np.unique(rows, axis=0, return_inverse=True)
    return distinct.T, number.reshape(len(local), -1)
