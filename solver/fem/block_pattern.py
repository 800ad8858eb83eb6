"""Sparse matrices assembled from cells whose unknowns come in blocks of consecutive numbers.

High-order cells couple whole edges, faces and insides. The sparsity pattern is found once for
these blocks, which are far fewer than the entries, and shared by all matrices of a space.
"""

import ctypes
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import Any

import numpy as np
from scipy.sparse import csr_matrix, triu
from scipy.sparse.csgraph import connected_components

from geometries.arrays import Array, ComplexArray, Numbers

#: MKL's numbers for a product with the matrix itself, and for vectors (n, m) kept row by row.
_AS_IT_IS, _BY_ROWS = 10, 101
#: Part of a port column that unknowns may carry and still count as not reached.
_UNDRIVEN = 1e-9


@dataclass(frozen=True)
class BlockPattern:
    """Pattern of the symmetric matrices of a space, with the place of every cell entry.

    Parameters
    ----------
    indptr, indices : arrays of int
        Compressed rows, columns ascending.
    row_starts : (n_cells, size) array of int
        Where the row of each local unknown starts in the data.
    column_offsets : (n_cells, n_local_blocks, size) array of int
        Place of each local unknown's column inside the rows of each local block.
    local_blocks : (size,) array of int
        Local block of each local unknown.
    """

    indptr: np.ndarray
    indices: np.ndarray
    row_starts: np.ndarray
    column_offsets: np.ndarray
    local_blocks: np.ndarray

    def add(
        self, data: Sequence[np.ndarray], cells: np.ndarray, matrices: Sequence[np.ndarray]
    ) -> None:
        """Add matrices (c, size, size) of the cells (c,) to the data of several matrices."""
        places = self.column_offsets[cells][:, self.local_blocks]
        places += self.row_starts[cells][:, :, None]
        for target, part in zip(data, matrices, strict=True):
            np.add.at(target, places.ravel(), part.ravel())

    def matrix(self, data: np.ndarray) -> csr_matrix:
        """Return the matrix with the given data; the pattern's arrays are shared, not copied."""
        n = len(self.indptr) - 1
        matrix = csr_matrix((data, self.indices, self.indptr), shape=(n, n), copy=False)
        matrix.has_canonical_format = True
        return matrix


def block_pattern(
    cell_blocks: np.ndarray, block_starts: np.ndarray, local_blocks: np.ndarray, dofs: np.ndarray
) -> BlockPattern:
    """Find the pattern that couples all blocks of each cell.

    Parameters
    ----------
    cell_blocks : (n_cells, n_local_blocks) array of int
        Numbers of the blocks of each cell.
    block_starts : (n_blocks + 1,) array of int
        First unknown of each block; blocks are consecutive.
    local_blocks : (size,) array of int
        Local block of each local unknown.
    dofs : (n_cells, size) array of int
        Number of each local unknown.

    Returns
    -------
    BlockPattern
    """
    n_blocks = len(block_starts) - 1
    used, local_blocks = np.unique(local_blocks, return_inverse=True)
    cell_blocks = cell_blocks[:, used]
    sizes = np.diff(block_starts)
    keys = cell_blocks[:, :, None].astype(np.int64) * n_blocks + cell_blocks[:, None, :]
    pairs, pair_of = np.unique(keys, return_inverse=True)
    rows, columns = np.divmod(pairs, n_blocks)

    widths = sizes[columns]
    pair_ends = np.cumsum(widths)
    row_block_starts = np.searchsorted(rows, np.arange(n_blocks + 1))
    ends = np.concatenate([[0], pair_ends])
    row_widths = ends[row_block_starts[1:]] - ends[row_block_starts[:-1]]
    offsets = pair_ends - widths - ends[row_block_starts[rows]]

    row_lengths = np.repeat(row_widths, sizes).astype(np.int64)
    indptr = np.concatenate([[0], np.cumsum(row_lengths)])
    block_columns = np.repeat(block_starts[columns], widths) + _ramps(widths)
    first = np.repeat(ends[row_block_starts[:-1]], sizes)
    indices = block_columns[np.repeat(first, row_lengths) + _ramps(row_lengths)]

    pair_offsets = offsets[pair_of.reshape(keys.shape)]
    ranks = dofs - block_starts[cell_blocks[:, local_blocks]]
    column_offsets = pair_offsets[:, :, local_blocks] + ranks[:, None, :]
    kind = np.int32 if indptr[-1] < np.iinfo(np.int32).max else np.int64
    return BlockPattern(
        indptr.astype(kind), indices.astype(kind), indptr[dofs], column_offsets, local_blocks
    )


def upper_parts(kept: np.ndarray, *matrices: csr_matrix) -> tuple[csr_matrix, ...]:
    """Upper triangles of symmetric matrices on the kept unknowns, as direct solvers ask for them.

    Parameters
    ----------
    kept : (k,) array of int
        Unknowns to keep, ascending.
    *matrices : csr_matrix
        Matrices (n, n) that share one pattern, for example those of one `BlockPattern`.

    Returns
    -------
    tuple of csr_matrix
        Upper triangles (k, k), diagonal included, of one pattern.
    """
    pattern = matrices[0]
    n, k = pattern.shape[0], len(kept)
    number = np.full(n, -1, dtype=pattern.indices.dtype)
    number[kept] = np.arange(k)
    columns = number[pattern.indices]
    rows = np.repeat(number, np.diff(pattern.indptr))
    chosen = np.flatnonzero((columns >= rows) & (rows >= 0))
    counts = np.bincount(rows[chosen], minlength=k)
    indptr = np.concatenate([[0], np.cumsum(counts)]).astype(pattern.indptr.dtype)
    indices = columns[chosen]
    return tuple(csr_matrix((m.data[chosen], indices, indptr), shape=(k, k)) for m in matrices)


def _ramps(lengths: np.ndarray) -> np.ndarray:
    """Return 0..n-1 for each length n, one after the other."""
    ends = np.cumsum(lengths)
    total = ends[-1] if len(ends) else 0
    return np.arange(total) - np.repeat(ends - lengths, lengths)


class WholePattern:
    """Both triangles of symmetric matrices of one pattern, of which the upper ones are given.

    A product with many vectors goes through whole rows in a third of the time that it takes
    through the upper triangle twice.

    Parameters
    ----------
    upper : (n, n) csr_matrix
        Upper triangle of one of them, diagonal included.
    """

    def __init__(self, upper: csr_matrix) -> None:
        self._upper = upper

    def whole(self, upper: csr_matrix) -> csr_matrix:
        """Both triangles of a matrix of this pattern."""
        indices, starts, source = self._places
        return csr_matrix((upper.data[source], indices, starts), shape=upper.shape)

    @cached_property
    def _places(self) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
        """Columns, where rows start, and the place of each entry in the upper triangle."""
        first = self._upper
        numbers = np.arange(1, first.nnz + 1, dtype=first.indices.dtype)
        above = csr_matrix((numbers, first.indices, first.indptr), shape=first.shape)
        whole = csr_matrix(above + triu(above, k=1).T)
        return whole.indices, whole.indptr, whole.data - 1


def reached_unknowns(stiffness: csr_matrix, mass: csr_matrix, columns: Array) -> Numbers:
    """Return the unknowns that the port columns reach through the matrices, ascending.

    Where mirror symmetry keeps half of the unknowns apart from the other, the ports drive
    only one half.

    Parameters
    ----------
    stiffness, mass : (n, n) csr_matrix
        Upper triangles of K and M.
    columns : (n, m) array
        Port columns B.
    """
    number, label = connected_components(abs(stiffness), directed=False)
    if number == 1:
        return np.arange(len(columns))
    scaled = (columns / np.linalg.norm(columns, axis=0)) ** 2 / np.abs(mass.diagonal())[:, None]
    driven = np.zeros((number, columns.shape[1]))
    np.add.at(driven, label, scaled / scaled.sum(axis=0))
    return np.flatnonzero((driven.max(axis=1) > _UNDRIVEN**2)[label])


def reached_part(
    stiffness: csr_matrix, mass: csr_matrix, columns: Array
) -> tuple[tuple[csr_matrix, csr_matrix, Array], Callable[[Array], Array]] | None:
    """K, M and B of the unknowns that are reached, and what brings fields back to all of them.

    None where all are. Arguments as those of `reached_unknowns`.
    """
    reached, unknowns = reached_unknowns(stiffness, mass, columns), len(columns)
    if len(reached) == unknowns:
        return None

    def whole(kept: Array) -> Array:
        basis = np.zeros((unknowns, kept.shape[1]))
        basis[reached] = kept
        return basis

    part = (stiffness[reached][:, reached], mass[reached][:, reached], columns[reached])
    return part, whole


class _General(ctypes.Structure):
    """MKL's description of a matrix without a structure of its own."""

    _fields_ = (("type", ctypes.c_int), ("mode", ctypes.c_int), ("diagonal", ctypes.c_int))

    def __init__(self) -> None:
        super().__init__(20, 40, 50)


def product_by_rows(mkl: Any, whole: csr_matrix, x: Array | ComplexArray) -> Any:
    """Product of a matrix with both its triangles and many vectors (n, m).

    MKL's takes a third of SciPy's time.

    Parameters
    ----------
    mkl : ctypes.CDLL
        The library that holds its routines.
    whole : (n, n) csr_matrix
    x : (n, m) array
    """
    if whole.data.dtype != float or x.dtype != float or whole.indices.dtype != np.int32:
        return np.asarray(whole @ x)
    handle = ctypes.c_void_p()
    vectors, y = np.ascontiguousarray(x), np.empty(x.shape)
    (n, many), start = x.shape, whole.indptr.ctypes.data
    arrays = (start, start + whole.indptr.itemsize, whole.indices.ctypes.data)
    rows = [ctypes.c_void_p(place) for place in (*arrays, whole.data.ctypes.data)]
    failed = mkl.mkl_sparse_d_create_csr(ctypes.byref(handle), 0, n, n, *rows)
    one, none = ctypes.c_double(1.0), ctypes.c_double(0.0)
    at, out = (ctypes.c_void_p(part.ctypes.data) for part in (vectors, y))
    before = mkl.MKL_Set_Num_Threads_Local(1)
    failed = failed or mkl.mkl_sparse_d_mm(
        _AS_IT_IS, one, handle, _General(), _BY_ROWS, at, many, many, none, out, many
    )
    mkl.MKL_Set_Num_Threads_Local(before)
    mkl.mkl_sparse_destroy(handle)
    return np.asarray(whole @ x) if failed else y
