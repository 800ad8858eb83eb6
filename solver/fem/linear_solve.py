"""Direct solution of symmetric systems, real or complex, with the residual checked.

PARDISO is used where its wheel installs; elsewhere SciPy's SuperLU does the work,
several times slower.
"""

from __future__ import annotations

import os
import sys
from functools import cache
from pathlib import Path
from typing import Any

import numpy as np
from scipy.sparse import csc_matrix, csr_matrix, triu
from scipy.sparse.linalg import splu

from geometries.arrays import Array, ComplexArray
from solver.errors import LinearSolveError, ProblemSizeError
from solver.fem.block_pattern import WholePattern, product_by_rows

#: Largest residual, relative to the right-hand side and the solution, that is let through.
LARGEST_RESIDUAL = 1e-7
#: More columns than this are checked by so many sums of them.
_MANY_COLUMNS, _SUMS = 16, 4
#: Below this many unknowns a second thread costs more than it brings.
_WORTH_THREADS = 60_000
#: Beyond so many unknowns memory is dearer than time: no matrix is kept with both its triangles.
_LARGE = 100_000


class SymmetricSolver:
    """Solves (K - shift M) x = b for several shifts; the ordering is found once.

    Parameters
    ----------
    stiffness, mass : (n, n) csr_matrix
        Upper triangles of K and M, diagonal included, with the same pattern; either may be
        complex and symmetric, as with a material that loses power.

    Attributes
    ----------
    complex : bool
        Whether K or M is complex.
    factorisations : int
        How many numerical factorisations were made.
    """

    def __init__(self, stiffness: csr_matrix, mass: csr_matrix) -> None:
        stiffness.sort_indices()
        mass.sort_indices()
        if not (
            np.array_equal(stiffness.indptr, mass.indptr)
            and np.array_equal(stiffness.indices, mass.indices)
        ):
            raise ValueError("stiffness and mass have different patterns; assemble them together")
        self._stiffness, self._mass = stiffness, mass
        self.complex = np.iscomplexobj(stiffness.data) or np.iscomplexobj(mass.data)
        self._backend: _Pardiso | _SuperLU = (
            _Pardiso(stiffness, self.complex) if pardiso_is_there() else _SuperLU()
        )
        self._matrix, self._pattern = stiffness, WholePattern(stiffness)
        self._whole: dict[str, csr_matrix] = {}
        self.factorisations = 0

    def take(self, stiffness: Array, mass: Array) -> None:
        """Go over to matrices of other entries in the same places; the ordering is kept.

        Parameters
        ----------
        stiffness, mass : (nnz,) array
            Entries in the order of those of the first matrices.
        """
        first = self._stiffness
        self._stiffness, self._mass = (
            csr_matrix((data, first.indices, first.indptr), shape=first.shape)
            for data in (stiffness, mass)
        )
        self._whole = {}

    def factorise(self, shift: float) -> None:
        """Factorise K - shift M.

        Raises
        ------
        LinearSolveError, ProblemSizeError
        """
        data = self._stiffness.data - shift * self._mass.data
        self._matrix = csr_matrix(
            (data, self._stiffness.indices, self._stiffness.indptr), shape=self._stiffness.shape
        )
        try:
            self._backend.factorise(self._matrix)
        except MemoryError as error:
            raise ProblemSizeError(
                f"{self._matrix.shape[0]} unknowns do not fit into memory; ask for a larger s_error"
            ) from error
        self.factorisations += 1

    @property
    def below(self) -> int | None:
        """How many eigenvalues of (K, M) lie below the last shift; None if that is not known.

        Of complex matrices it has no meaning.

        The negative pivots of K - shift M, by Sylvester's law of inertia (G. H. Golub and
        C. F. Van Loan, "Matrix Computations", 4th ed., 2013, section 8.1.5).
        """
        return None if self.complex else self._backend.negative_pivots

    def solve(self, right: Array | ComplexArray, checked: bool = True) -> Any:
        """Solve with the last factorisation.

        Parameters
        ----------
        right : (n, m) array
        checked : bool
            Whether to `check` the answer; who says no does so later.

        Returns
        -------
        (n, m) array
            Complex where the matrices are.

        Raises
        ------
        LinearSolveError
            When the residual of any column is above `LARGEST_RESIDUAL`.
        """
        x: Any = self._backend.solve(right.astype(complex) if self.complex else right)
        if checked:
            self.check(x, right)
        return x

    def check(self, x: Array | ComplexArray, right: Array | ComplexArray) -> None:
        """Raise where columns (n, m) do not solve the last system for right-hand sides (n, m).

        Raises
        ------
        LinearSolveError
            When the residual of any column is above `LARGEST_RESIDUAL`.

        Notes
        -----
        Of many columns, sums with signs by chance are looked at: on average the square of such a
        residual is the sum of those of all columns.
        """
        scale = np.linalg.norm(right, axis=0) + self._size * np.linalg.norm(x, axis=0)
        # a mode that no unknown of a coarse space sees has a column of zeros
        scale = np.maximum(scale, np.finfo(float).tiny)
        if x.shape[1] > _MANY_COLUMNS:
            signs = np.random.default_rng(x.shape[1]).choice((-1.0, 1.0), (x.shape[1], _SUMS))
            x, right = (each @ (signs / scale[:, None]) for each in (x, right))
            scale = np.ones(_SUMS)
        residual = np.linalg.norm(self.product(self._matrix, x) - right, axis=0) / scale
        if not (residual <= LARGEST_RESIDUAL).all():
            raise LinearSolveError(
                f"residual {residual.max():.1e} of a system of {len(x)} unknowns is above "
                f"{LARGEST_RESIDUAL:.0e}; the matrix is close to singular"
            )

    @property
    def _size(self) -> float:
        return float(np.abs(self._matrix.data).max(initial=0.0)) * 1e-3

    def times_stiffness(self, x: Array | ComplexArray) -> Any:
        """K x for vectors x (n, m)."""
        return self._times("stiffness", self._stiffness, x)

    def times_mass(self, x: Array | ComplexArray) -> Any:
        """M x for vectors x (n, m)."""
        return self._times("mass", self._mass, x)

    def _times(self, name: str, upper: csr_matrix, x: Array | ComplexArray) -> Any:
        if len(x) > _LARGE:
            return self.product(upper, x)
        if name not in self._whole:
            self._whole[name] = self._pattern.whole(upper)
        return self._backend.product(self._whole[name], x)

    @staticmethod
    def product(upper: csr_matrix, x: Array | ComplexArray) -> Any:
        """Product of a symmetric matrix, given by its upper triangle, with x (n, m)."""
        return np.asarray(upper @ x + upper.T @ x - upper.diagonal()[:, None] * x)


class _Pardiso:
    """MKL's PARDISO, symmetric indefinite, nested-dissection ordering."""

    def __init__(self, pattern: csr_matrix, is_complex: bool = False) -> None:
        from pypardiso import PyPardisoSolver

        # its wrapper hands arrays on by address, so that complex ones pass as well
        self._solver: Any = PyPardisoSolver(mtype=6 if is_complex else -2)
        for index, value in ((1, 1), (2, 2), (8, 0), (10, 8), (11, 0), (13, 0), (21, 1)):
            self._solver.set_iparm(index, value)
        self._matrix: csr_matrix | None = None
        self._threads = _threads_for(pattern.shape[0])

    def _call(self, phase: int, right: Any) -> Any:
        from pypardiso.pardiso_wrapper import PyPardisoError

        self._solver.set_phase(phase)
        before = self._solver.libmkl.MKL_Set_Num_Threads_Local(self._threads)
        try:
            return np.asarray(self._solver._call_pardiso(self._matrix, right))
        except PyPardisoError as error:
            if error.value == -2:
                raise MemoryError from error
            raise LinearSolveError(f"PARDISO failed with its code {error.value}") from error
        finally:
            self._solver.libmkl.MKL_Set_Num_Threads_Local(before)

    def factorise(self, matrix: csr_matrix) -> None:
        nothing = np.zeros((matrix.shape[0], 1), dtype=matrix.dtype, order="F")
        first = self._matrix is None
        self._matrix = matrix
        if first:  # the ordering is made once
            self._call(11, nothing)
            symbolic, permanent, factors = (int(self._solver.get_iparm(i)) for i in (15, 16, 17))
            refuse_if_too_large(1024 * max(symbolic, permanent + factors), matrix.shape[0])
        self._call(22, nothing)

    @property
    def negative_pivots(self) -> int | None:
        return int(self._solver.get_iparm(23))

    def solve(self, right: Array | ComplexArray) -> Any:
        return self._call(33, np.asfortranarray(right))

    def product(self, whole: csr_matrix, x: Array | ComplexArray) -> Any:
        return product_by_rows(self._solver.libmkl, whole, x)

    def __del__(self) -> None:
        if self._matrix is None:
            return
        self._matrix = csr_matrix((0, 0))
        self._solver.set_phase(-1)
        self._solver._call_pardiso(self._matrix, np.zeros(0))


class _SuperLU:
    """SciPy's SuperLU: the fallback where no PARDISO wheel fits."""

    #: Its pivoting is not symmetric.
    negative_pivots: int | None = None

    def factorise(self, matrix: csr_matrix) -> None:
        full = csc_matrix(matrix + triu(matrix, k=1).T)
        try:
            self._factor = splu(
                full,
                permc_spec="MMD_AT_PLUS_A",
                diag_pivot_thresh=0.1,
                options={"SymmetricMode": True},
            )
        except RuntimeError as error:
            raise LinearSolveError(f"SuperLU failed: {error}") from error

    def solve(self, right: Array | ComplexArray) -> Any:
        return np.asarray(self._factor.solve(right))

    def product(self, whole: csr_matrix, x: Array | ComplexArray) -> Any:
        return np.asarray(whole @ x)


def _threads_for(unknowns: int) -> int:
    """Threads that pay for a system of this size; MKL_NUM_THREADS bounds them."""
    most = int(os.environ.get("MKL_NUM_THREADS") or os.cpu_count() or 1)
    return most if unknowns > _WORTH_THREADS else 1


def refuse_if_too_large(needed: float, unknowns: int) -> None:
    """Refuse a factorisation before it starts when the memory is not there.

    Parameters
    ----------
    needed : float
        Memory for the factors [bytes].
    unknowns : int

    Raises
    ------
    ProblemSizeError
    """
    import psutil

    there = psutil.virtual_memory().available
    if needed > 0.9 * there:
        raise ProblemSizeError(
            f"{unknowns} unknowns need {needed / 1e9:.1f} GB to factorise and "
            f"{there / 1e9:.1f} GB are free; ask for a larger s_error or a narrower band"
        )


@cache
def pardiso_is_there() -> bool:
    """Whether PARDISO can be used in this environment."""
    # pypardiso 0.4 searches the whole environment for MKL each time a solver is made:
    # 0.1 s a solver.  Told where it is, it does not search.  Delete when it remembers.
    for folder in ("lib", "Library/bin"):
        for found in sorted(Path(sys.prefix, folder).glob("*mkl_rt*")):
            os.environ.setdefault("PYPARDISO_MKL_RT", str(found))
    try:
        import pypardiso  # noqa: F401
    except (ImportError, OSError):
        return False
    return True
