"""A whole band of a part by a sweep over NGSolve's own matrices: the fair other side of a ratio.

NGSolve solves one frequency; whoever sweeps with it writes this page. Its curl-curl and mass
matrices are factorised by its direct solver at a few frequencies. The solutions for every port mode
and three derivatives of those that propagate span a small space, and the problem projected on it
answers over the band. Nothing of ours takes part but the port conditions.
"""

from __future__ import annotations

import time
from dataclasses import dataclass, replace
from typing import Any

import numpy as np
from ngsolve_meshes import Discretisation, Part
from ngsolve_parts import assembled
from numpy.typing import NDArray
from scipy.linalg import eigh
from scipy.sparse import csr_matrix

from solver.fem.error_bar import bar_from_levels, changes_of
from solver.parts.space_solver import SpaceProblem
from solver.waves.matched_ports import matched_scattering

Array = NDArray[np.float64]

_MOMENTS = 3
_DEPENDENT = 1e-10
#: Order beyond which no error bar is sought.
_HIGHEST = 7


@dataclass(frozen=True)
class Swept:
    """Scattering matrices (n, m, m) over a problem's band, and what they cost.

    Parameters
    ----------
    s : (n, m, m) complex array
    unknowns : int
    before, sweep : float
        Process time before the first factorisation, and from there on [s].
    """

    s: NDArray[np.complex128]
    unknowns: int
    before: float
    sweep: float


def solve_band(
    part: Part, problem: SpaceProblem, choice: Discretisation, factorisations: int
) -> Swept:
    """Solve a part over the whole band of a problem with a number of factorisations.

    Parameters
    ----------
    part : Bend, Corner, Taper or Twist
    problem : SpaceProblem
        Gives ports, modes and frequencies.
    choice : Discretisation
        Not condensed: the matrices must not depend on frequency.
    factorisations : int

    Returns
    -------
    Swept
    """
    import ngsolve as ngs

    ngs.SetHeapSize(400_000_000)
    ngs.SetNumThreads(1)
    start = time.process_time()
    made = assembled(part, problem, choice)
    before = time.process_time()
    free = np.array(made.fes.FreeDofs(), dtype=bool)
    columns = _array(made.loads)[free]
    squared = problem.squared
    steps = (np.arange(factorisations) + 0.5) / factorisations
    shifts = squared[0] + steps * (squared[-1] - squared[0])
    block = np.hstack([_snapshot(made, q, problem.moving, choice) for q in shifts])[free]
    block /= np.linalg.norm(block, axis=0)
    basis, size, _ = np.linalg.svd(block, full_matrices=False)
    basis = basis[:, size > _DEPENDENT * size[0]]
    small = [basis.T @ _product(form.mat, free, basis) for form in made.forms]
    poles, vectors = eigh(*small)
    ports = vectors.T @ (basis.T @ columns)
    weights = 1.0 / (poles - squared[:, None])
    impedance = made.images * np.einsum("rm,fr,rn->fmn", ports, weights, ports, optimize=True)
    s = matched_scattering(
        impedance, problem.admittance_at(problem.squared), problem.phases(problem.squared)
    )
    return Swept(s, made.fes.ndof, before - start, time.process_time() - before)


def solve_with_bar(
    part: Part, problem: SpaceProblem, choice: Discretisation, factorisations: int, s_error: float
) -> tuple[Swept, dict[str, Any]]:
    """Raise the order on one mesh until an error bar made as ours is under what was asked.

    Parameters
    ----------
    part, problem, choice, factorisations
        As `solve_band`; the first three orders end at that of `choice`.
    s_error : float

    Returns
    -------
    Swept, dict
        The last answer, and order, bar and process time of all.
    """
    start = time.process_time()
    answers: list[NDArray[np.complex128]] = []
    least = next(iter(problem.least_ratio.values()))
    bar = np.inf
    for order in range(choice.order - 2, _HIGHEST + 1):
        swept = solve_band(part, problem, replace(choice, order=order), factorisations)
        answers.append(np.where(problem.counted(problem.squared), swept.s, 0.0))
        if len(answers) > 2:
            bar = float(bar_from_levels(changes_of(answers[-3:]), least).max())
        if bar <= s_error:
            break
    seconds = time.process_time() - start
    facts = {"order": order, "bar": bar, "process_s": seconds}
    return swept, facts | {"factorisations": factorisations * len(answers)}


def _snapshot(made: Any, q: float, moving: NDArray[np.bool_], choice: Discretisation) -> Array:
    """Solutions (n, columns) at one q for all port modes, and derivatives for some."""
    import ngsolve as ngs

    stiffness, mass = (form.mat for form in made.forms)
    matrix = stiffness.CreateMatrix()
    matrix.AsVector().data = stiffness.AsVector() - float(q) * mass.AsVector()
    inverse = matrix.Inverse(made.fes.FreeDofs(), inverse=choice.inverse)
    solutions = ngs.MultiVector(made.loads[0], len(made.loads))
    solutions.data = inverse * made.loads
    blocks = [_array(solutions)]
    latest = [solutions[int(i)] for i in np.flatnonzero(moving)]
    right = made.loads[0].CreateVector()
    for _ in range(_MOMENTS):
        for vector in latest:
            right.data = (1.0 / vector.Norm()) * (mass * vector)
            vector.data = inverse * right
        blocks.append(np.stack([np.array(vector.FV().NumPy()) for vector in latest], axis=1))
    return np.hstack(blocks)


def _array(vectors: Any) -> Array:
    return np.stack([np.array(vector.FV().NumPy()) for vector in vectors], axis=1)


def _product(matrix: Any, free: NDArray[np.bool_], x: Array) -> Array:
    """Product of a matrix with x on the free unknowns."""
    values, columns, starts = matrix.CSR()
    shape = (matrix.height, matrix.width)
    whole = csr_matrix((np.array(values), np.array(columns), np.array(starts)), shape=shape)
    return np.asarray((whole @ _padded(x, free))[free])


def _padded(x: Array, free: NDArray[np.bool_]) -> Array:
    padded = np.zeros((len(free), x.shape[1]))
    padded[free] = x
    return padded
