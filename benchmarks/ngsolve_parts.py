"""Parts solved by NGSolve, a general finite element library: the other side of a ratio.

Every advantage that costs a user little is given to it: hexahedra or tetrahedra that follow the
exact map, cells graded towards a sharp edge, edge elements of any order, mirror planes, the inside
of each cell eliminated before factorisation or not, any direct solver, and ports near the part with
analytic modes, so that the matrix is real and one factorisation a frequency serves all of them.
"""

from __future__ import annotations

import time
from contextlib import nullcontext
from dataclasses import dataclass
from typing import Any

import numpy as np
from ngsolve_meshes import Discretisation, Part, lattice_of, mesh_of
from numpy.typing import NDArray

from geometries import Corner
from solver.parts.space_solver import SpaceProblem
from solver.waves.matched_ports import matched_scattering
from solver.waves.space_modes import SpaceMode

Array = NDArray[np.float64]

_HEAP = 400_000_000


def _mode_field(mode: SpaceMode, x: Any, y: Any) -> tuple[Any, Any]:
    """Transverse field of a mode of a rectangular guide at (x, y) counted from its axis."""
    from ngsolve import cos, sin

    a, b = mode.guide.broad_width, mode.guide.narrow_height
    kx, ky = mode.m * np.pi / a, mode.n * np.pi / b
    sx, cx = sin(kx * (x + a / 2)), cos(kx * (x + a / 2))
    sy, cy = sin(ky * (y + b / 2)), cos(ky * (y + b / 2))
    size = float(np.sqrt(4 / (a * b) / (1 if mode.m and mode.n else 2))) / mode.wavenumber
    if mode.kind == "TE":
        return -size * ky * cx * sy, size * kx * sx * cy
    return size * kx * cx * sy, size * ky * sx * cy


def _port_vectors(fes: Any, part: Part, problem: SpaceProblem) -> list[Any]:
    """Integrals of every port mode against the functions of a space."""
    import ngsolve as ngs

    v = fes.TestFunction()
    place = ngs.CoefficientFunction((ngs.x, ngs.y, ngs.z))
    vectors = []
    for port, modes in zip(problem.ports, problem.modes, strict=True):
        origin, x_axis, y_axis = (
            ngs.CoefficientFunction(tuple(values)) for values in _frame(part, port)
        )
        for mode in modes:
            along = _mode_field(mode, (place - origin) * x_axis, (place - origin) * y_axis)
            field = along[0] * x_axis + along[1] * y_axis
            form = ngs.LinearForm(fes)
            form += field * v.Trace() * ngs.ds(port.name, bonus_intorder=6)
            vectors.append(form.Assemble().vec)
    return vectors


def _frame(part: Part, port: Any) -> tuple[Array, Array, Array]:
    """Centre of a port and its two axes; a corner's lattice has its inner edge at y = s = 0."""
    shift = np.array([0.0, -0.5 * part.guide.narrow_height, 0.0])
    return port.origin + shift * isinstance(part, Corner), port.x_axis, port.y_axis


def dominant(problem: SpaceProblem, s: NDArray[np.complex128]) -> NDArray[np.complex128]:
    """Scattering matrices (n, 2, 2) of the dominant mode."""
    ports = np.array([0, len(problem.modes[0])])
    return s[:, ports[:, None], ports]


def largest_error(s: NDArray[np.complex128], exact: NDArray[np.complex128]) -> float:
    """Largest difference of any element."""
    return float(np.abs(s - exact).max())


@dataclass(frozen=True)
class Answer:
    """Scattering matrices (n, m, m) at some frequencies, and what they cost.

    Parameters
    ----------
    s : (n, m, m) complex array
    unknowns : int
    before : (2,) array
        Process time and elapsed time before the first frequency [s].
    each : (n, 2) array
        The same for every frequency [s].
    """

    s: NDArray[np.complex128]
    unknowns: int
    before: Array
    each: Array


def _now() -> Array:
    return np.array([time.process_time(), time.perf_counter()])


def solve_points(
    part: Part,
    problem: SpaceProblem,
    chosen: NDArray[np.int64],
    choice: Discretisation,
    threads: int = 1,
) -> Answer:
    """Solve a part at some of a problem's frequencies, one after the other.

    Parameters
    ----------
    part : Bend, Corner, Taper or Twist
    problem : SpaceProblem
        Gives ports, modes and frequencies.
    chosen : (n,) array of int
        Which frequencies.
    choice : Discretisation
    threads : int

    Returns
    -------
    Answer
    """
    import ngsolve as ngs

    ngs.SetHeapSize(_HEAP)
    ngs.SetNumThreads(threads)
    with ngs.TaskManager() if threads > 1 else nullcontext():
        return _solve(part, problem, chosen, choice)


@dataclass(frozen=True)
class Assembled:
    """A part's space, forms and port vectors in NGSolve.

    Parameters
    ----------
    fes : ngsolve.HCurl
    forms : tuple of ngsolve.BilinearForm
        Curl-curl and mass; where the inside of cells is eliminated, the one form of both.
    squared : ngsolve.Parameter
        The value q in that one form.
    loads : ngsolve.MultiVector
        Integral of every port mode against the functions.
    images : float
        What integrals over the mirrored part count in the whole.
    kept : Any
        Keeps the deformation of the mesh alive, which the mesh does not.
    """

    fes: Any
    forms: tuple[Any, ...]
    squared: Any
    loads: Any
    images: float
    kept: Any


def assembled(part: Part, problem: SpaceProblem, choice: Discretisation) -> Assembled:
    """Mesh a part and assemble what does not depend on frequency.

    Parameters
    ----------
    part : Bend, Corner, Taper or Twist
    problem : SpaceProblem
        Gives ports and modes.
    choice : Discretisation
    """
    import ngsolve as ngs

    lattice = lattice_of(part, tuple(port.feed_length for port in problem.ports), choice)
    mesh, shift = mesh_of(part, lattice, choice)
    fes = ngs.HCurl(mesh, order=choice.order, dirichlet="wall")
    u, v = fes.TnT()
    vectors = _port_vectors(fes, part, problem)
    squared = ngs.Parameter(0.0)
    if choice.condensed:
        form = ngs.BilinearForm(fes, symmetric=True, condense=True)
        form += (ngs.curl(u) * ngs.curl(v) - squared * u * v) * ngs.dx
        forms: tuple[Any, ...] = (form,)
    else:
        forms = tuple(ngs.BilinearForm(fes, symmetric=True) for _ in range(2))
        for form, integrand in zip(forms, (ngs.curl(u) * ngs.curl(v), u * v), strict=True):
            form += integrand * ngs.dx
            form.Assemble()
    loads = ngs.MultiVector(vectors[0], len(vectors))
    for load, vector in zip(loads, vectors, strict=True):
        load.data = vector
    # the integrals are those of the half or the quarter
    return Assembled(fes, forms, squared, loads, 2.0 ** sum(lattice.mirrors), shift)


def _solve(
    part: Part, problem: SpaceProblem, chosen: NDArray[np.int64], choice: Discretisation
) -> Answer:
    import ngsolve as ngs

    start = _now()
    made = assembled(part, problem, choice)
    if not choice.condensed:
        stiffness, mass = made.forms
        matrix = stiffness.mat.CreateMatrix()
    free = made.fes.FreeDofs(choice.condensed)
    solutions = ngs.MultiVector(made.loads[0], len(made.loads))
    impedance, ends = [], [_now()]
    for q in problem.squared[chosen]:
        if choice.condensed:
            made.squared.Set(float(q))
            made.forms[0].Assemble()
            matrix = made.forms[0].mat
        else:
            matrix.AsVector().data = stiffness.mat.AsVector() - float(q) * mass.mat.AsVector()
        inverse = matrix.Inverse(free, inverse=choice.inverse)
        solutions.data = inverse * made.loads
        products = np.array(ngs.InnerProduct(solutions, made.loads).NumPy())
        impedance.append(made.images * products)
        del inverse
        ends.append(_now())
    at = problem.squared[chosen]
    admittance, phase = problem.admittance_at(at), problem.phases(at)
    s = matched_scattering(np.array(impedance), admittance, phase)
    return Answer(s, made.fes.ndof, ends[0] - start, np.diff(ends, axis=0))
