"""A rotating joint in the shape that comes after every solver, with its fields."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from geometries.rotating_joints import RotatingJoint
from solver.assessment import FieldPicture
from solver.errors import UnsupportedPartError
from solver.guide_modes import SPEED_OF_LIGHT
from solver.joint_solver import JointSolution, solve_joint
from solver.level_search import Report
from solver.matched_ports import flux_of_first
from solver.peak_field import edge_distance, largest_of_ellipse
from solver.plane_fields import sampled
from solver.solved_parts import SolvedPart
from solver.trapped_resonances import trapped_resonances_of
from solver.walls import Walls

Array = NDArray[np.float64]
ComplexArray = NDArray[np.complex128]

#: Points along a cell's side, for pictures and for the largest field.
_PIECES, _FINE = 6, 9


def solved_joint(
    joint: RotatingJoint,
    frequency: Array,
    s_error: float,
    walls: Walls | None,
    report: Report | None,
) -> SolvedPart:
    """Solve a rotating joint in its half-plane.

    Parameters
    ----------
    joint : RotatingJoint
    frequency : (n,) array
        Ascending [Hz].
    s_error : float
    walls : Walls or None
    report : callable or None

    Returns
    -------
    SolvedPart

    Raises
    ------
    UnsupportedPartError
        For walls that lose power.
    MeshingError, LinearSolveError, ProblemSizeError
    """
    if walls is not None:
        raise UnsupportedPartError(
            f"wall loss of a {joint.kind} is not computed: leave out the table walls"
        )
    solution = solve_joint(joint, frequency, s_error, report)
    found = solution.found
    return SolvedPart(
        port_modes=(*solution.modes.port_modes(1), *solution.modes.port_modes(2)),
        s=solution.s,
        error=solution.error,
        reached=found.reached,
        method="scalar Helmholtz equation for r H_phi in the half-plane (exact reduction), "
        f"hierarchical elements of degree {found.order}, radial line of the gap matched exactly, "
        "reduced-model sweep",
        unknowns=found.space.sizes[found.order],
        mesh=dict(found.mesh.description),
        factorisations=found.factorisations,
        seconds=found.seconds,
        steps=found.steps,
        uncoupled=_apart(joint, float(frequency[-1])),
        picture=lambda at: joint_picture(solution, at),
        ratios=lambda at: joint_ratios(solution, at),
        leaked_power=solution.leaked_power,
        leaked_error=solution.leaked_error,
        resonances=trapped_resonances_of(
            found,
            solution.problem.admittance_at,
            (float(frequency[0]), float(frequency[-1])),
            "m = 0",
        ),
    )


def _apart(joint: RotatingJoint, highest: float) -> tuple[str, ...]:
    """Names of the modes that propagate and that symmetry about the axis keeps apart."""
    from solver.guide_modes import mode_cutoffs

    modes = mode_cutoffs(joint.guide, highest)
    return tuple(mode.label for mode in modes if mode.kind == "TE" or mode.m > 0)


def joint_picture(solution: JointSolution, frequency: float) -> FieldPicture:
    """H_phi in the half-plane for a TM01 wave that enters port 1, over its peak alone."""
    system = solution.found.space
    unknowns = _unknowns(solution, np.array([frequency]))[:, 0]
    points, cells, values = sampled(system, unknowns, _PIECES)
    radius = np.maximum(points[1], 1e-9 * solution.modes.guide.radius)
    across = np.linspace(0.0, solution.modes.guide.radius, 200)
    peak = np.abs(solution.modes.functions(system.plane_mesh.ports[0], across)[0]).max()
    return FieldPicture(points, cells, values / radius / peak, frequency, "H about axis")


def joint_ratios(solution: JointSolution, frequency: Array) -> Array:
    """Largest electric field over that of the entering wave alone, (n,).

    Notes
    -----
    The field lies in the half-plane, with the size of grad(psi) over omega epsilon r. Cells next
    to sharp edges are left out, and so is what lies within a thousandth of the axis.
    """
    modes, system = solution.modes, solution.found.space
    mesh, element = system.plane_mesh.mesh, system.element
    extent = np.ptp(mesh.p[:, mesh.t], axis=1).max(axis=0)
    cells = np.flatnonzero(extent > edge_distance(modes.guide))
    x = np.linspace(1e-3, 1 - 1e-3, _FINE)
    grid = np.stack([c.ravel() for c in np.meshgrid(x, x, indexing="ij")])
    slopes = np.array([element.lbasis(grid, i)[1] for i in range(len(system.local))])
    mapping = mesh._mapping()
    inverse, radius = mapping.invDF(grid, tind=cells), mapping.F(grid, tind=cells)[1]
    unknowns = _unknowns(solution, frequency)
    padded = np.vstack([unknowns, np.zeros((1, len(frequency)))])
    local = padded[system.local[:, cells]]
    reference = np.einsum("icf,iaq->acqf", local, slopes, optimize=True)
    gradient = np.einsum("aicq,acqf->icqf", inverse, reference, optimize=True)
    far = radius > 1e-3 * modes.guide.radius
    field = np.where(far[..., None], gradient / radius[..., None], 0.0)
    largest = largest_of_ellipse(field).max(axis=(0, 1))
    return np.asarray(largest / _straight(solution, frequency))


def _straight(solution: JointSolution, frequency: Array) -> Array:
    """Largest grad(psi)/r of the first mode alone, (n,)."""
    from scipy.special import j0, j1

    modes = solution.modes
    kc = float(modes.transverse[0])
    r = np.linspace(0.0, modes.guide.radius, 400)
    size = modes.functions(solution.found.space.plane_mesh.ports[0], np.array([0.5 / kc]))[0, 0]
    size = size / j1(0.5)
    k = 2 * np.pi * frequency / SPEED_OF_LIGHT
    beta = np.sqrt(k**2 - kc**2)
    # E_z and E_r are a quarter period apart
    along, across = kc * np.abs(j0(kc * r)), np.multiply.outer(beta, np.abs(j1(kc * r)))
    return np.asarray(size * np.maximum(along, across).max(axis=1))


def _unknowns(solution: JointSolution, frequency: Array) -> ComplexArray:
    """Unknowns (size, n) for a first mode that enters port 1, unit amplitude of psi."""
    model = solution.found.last.model
    q = (2 * np.pi * frequency / SPEED_OF_LIGHT) ** 2
    ports = zip(q, model.impedance(q), solution.problem.admittance_at(q), strict=True)
    return np.array([model.field(float(at), flux_of_first(z, y)) for at, z, y in ports]).T
