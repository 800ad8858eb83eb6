"""Scattering and leakage of a rotating joint whose field does not vary about its axis.

The joint is solved in its half-plane for psi = r H_phi, exactly as a part in its plane, with a
third port at the rim, where the gap goes on for ever as a radial line.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from geometries.arrays import Array, ComplexArray
from geometries.plane_meshes.joint_mesh import mesh_joint
from geometries.plane_meshes.plane_mesh import PlaneMesh
from geometries.shapes.grooves import last_edge
from geometries.shapes.rotating_joints import RotatingJoint
from solver.fem.level_search import LevelResult, Pencil, search_levels
from solver.fem.scalar_field import ScalarSystem, assemble
from solver.progress import Progress
from solver.waves.guide_modes import SPEED_OF_LIGHT
from solver.waves.half_plane_modes import JointModes, joint_modes
from solver.waves.matched_ports import flux_of_first, matched_scattering, to_power
from solver.waves.scattering import leaked_power

#: Degrees tried on one mesh before it is refined.
DEGREES = (6, 7, 8, 9, 10)
REFINEMENTS = (0, 1)
#: What is wanted of the amplitude past the rim, over what is wanted of S.
_FINER_AT_RIM = 5.0


@dataclass(frozen=True, eq=False)
class JointSolution:
    """Scattering and leakage of a joint, and how they were found.

    Parameters
    ----------
    modes : JointModes
    frequency : (n,) array
        [Hz]
    s : (n, 2 count, 2 count) complex array
        Among the modes of both ports, evanescent ones included.
    error : (n,) array
        Bound on the error of the elements between propagating modes.
    leaked_power : (n,) array
        Power past the rim over the power that enters in the first mode at port 1 [-].
    leaked_error : (n,) array
        Bound on its error [-].
    problem : JointProblem
    found : LevelResult
    """

    modes: JointModes
    frequency: Array
    s: ComplexArray
    error: Array
    leaked_power: Array
    leaked_error: Array
    problem: JointProblem
    found: LevelResult


class JointProblem:
    """A rotating joint in its half-plane, as the search over levels asks for it.

    Parameters
    ----------
    joint : RotatingJoint
    frequency : (n,) array
        Ascending, above the cutoff of TM01 [Hz].
    s_error : float
    """

    orders: Mapping[int, Sequence[int]] = dict.fromkeys(REFINEMENTS, DEGREES)
    compared = 3
    # what the innermost cells leave falls slowly with the degree
    least_ratio: Mapping[int, float] = dict.fromkeys(REFINEMENTS, 0.5)

    def __init__(self, joint: RotatingJoint, frequency: Array, s_error: float) -> None:
        self.joint = joint
        self.wavelength = SPEED_OF_LIGHT / float(frequency[-1])
        first = self.mesh(0)
        port, rim = first.ports[0], first.ports[2]
        self.modes = joint_modes(
            joint.guide,
            float(frequency[-1]),
            port.feed_length,
            joint.gap,
            (last_edge(joint), float(rim.start[1])),
            min(1e-3 * s_error, 1e-8),
        )
        self.squared = self.squared_at(frequency)
        self.feed = port.feed_length
        self.moving: NDArray[np.bool_] = np.asarray(self._propagating(self.squared).any(axis=0))

    def squared_at(self, frequency: Array) -> Array:
        """Squared free-space wavenumbers at frequencies (n,) [Hz]."""
        return np.asarray((2 * np.pi * np.asarray(frequency) / SPEED_OF_LIGHT) ** 2)

    def _propagating(self, squared: Array) -> NDArray[np.bool_]:
        admittance = self.admittance_at(squared)
        return np.asarray(admittance.real > 1e-9 * np.abs(admittance))

    def counted(self, squared: Array) -> NDArray[np.bool_]:
        """Elements (n, m, m) between propagating waves, those from beyond the rim left out."""
        propagating = self._propagating(squared)
        counted = propagating[:, :, None] & propagating[:, None, :]
        # a wave from beyond the rim is none of the answer
        counted[:, -self.modes.rim_count :, -self.modes.rim_count :] = False
        return np.asarray(counted)

    def weights(self, first: ComplexArray) -> Array:
        """The amplitude past the rim is wanted more exactly than S."""
        weights = np.ones(first.shape[1])
        weights[2 * self.modes.count :] = _FINER_AT_RIM
        return weights

    def admittance_at(self, squared: Array | ComplexArray) -> ComplexArray:
        """Admittances (n, m) of all waves that leave, at real or complex q (n,)."""
        beta = self.modes.phase_constants(squared)
        return np.concatenate([beta, beta, self.modes.rim_admittance(squared)], axis=1)

    def mesh(self, refinement: int) -> PlaneMesh:
        """Make the mesh of a refinement."""
        return mesh_joint(self.joint, self.wavelength, refinement)

    def spaces(
        self, mesh: PlaneMesh, orders: Sequence[int]
    ) -> Iterator[tuple[ScalarSystem, Pencil]]:
        """Take the spaces of ascending degrees from one assembly at the highest."""
        system = assemble(mesh, max(orders), self.modes.functions, fixed_wall=True, fixed="axis")
        for order in orders:
            yield system, Pencil(*system.at_degree(order))

    def scattering(self, mesh: PlaneMesh, impedance: Array, squared: Array) -> ComplexArray:
        """Scattering among the ports, and the amplitudes of power past the rim."""
        beta, admittance = self.modes.phase_constants(squared), self.admittance_at(squared)
        guided = np.where(beta.real > 0, beta, 0.0)
        none = np.zeros((len(guided), self.modes.rim_count))
        phase = np.concatenate([guided, guided, none], axis=1) * self.feed
        s = matched_scattering(impedance, admittance, phase.astype(complex))
        ports = 2 * self.modes.count
        power = to_power(admittance[:, ports:])
        s[:, ports:] *= power[:, :, None]
        s[:, :, ports:] *= power[:, None, :]
        # the solved field is H, which reflects with the opposite sign to E
        same = np.kron(np.eye(2), np.ones((self.modes.count, self.modes.count))) > 0
        s[:, :ports, :ports] *= np.where(same, -1.0, 1.0)
        return s


def solve_joint(
    joint: RotatingJoint, frequency: Array, s_error: float, report: Progress | None = None
) -> JointSolution:
    """Solve a rotating joint for TM01 until the error bar is under what was asked.

    Parameters
    ----------
    joint : RotatingJoint
    frequency : (n,) array
        Ascending, above the cutoff of TM01 [Hz].
    s_error : float
        Wanted bound on the error of every S-parameter between propagating modes; the amplitude
        of what leaks is wanted five times as exactly.
    report : callable, optional
        Is told in one line what is being done.

    Returns
    -------
    JointSolution

    Raises
    ------
    MeshingError, LinearSolveError, ProblemSizeError
    """
    problem = JointProblem(joint, np.asarray(frequency), s_error)
    found = search_levels(problem, s_error, report)
    ports = 2 * problem.modes.count
    leaked, leaked_error = leaked_power(found.s, found.error, found.weights, ports)
    return JointSolution(
        problem.modes,
        np.asarray(frequency),
        found.s[:, :ports, :ports],
        found.error,
        leaked,
        leaked_error,
        problem,
        found,
    )


def joint_unknowns(solution: JointSolution, frequency: Array) -> ComplexArray:
    """Unknowns (size, n) for a first mode that enters port 1, unit amplitude of psi."""
    model = solution.found.last.model
    q = (2 * np.pi * frequency / SPEED_OF_LIGHT) ** 2
    ports = zip(q, model.impedance(q), solution.problem.admittance_at(q), strict=True)
    return np.array([model.field(float(at), flux_of_first(z, y)) for at, z, y in ports]).T
