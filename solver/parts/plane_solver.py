"""Scattering of parts that reduce exactly to a plane, with an error bar.

The part is solved in four nested spaces, of degree p - 3 to p on one mesh.
How fast successive answers draw together gives the bar of the last one; while the bar
is above what was asked, the degree rises, and then the mesh is refined.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any

import numpy as np
from numpy.typing import NDArray

from geometries.arrays import Array, ComplexArray
from geometries.plane_meshes.parts_in_plane import mesh_in_plane
from geometries.plane_meshes.plane_mesh import PlaneMesh, feed_length
from geometries.shapes.bends import width_in_plane
from geometries.shapes.guides import RectangularGuide
from geometries.shapes.part import Part
from solver.errors import UnsupportedPartError
from solver.fem.level_search import LevelResult, Pencil, search_levels
from solver.fem.reduced_model import Sweep
from solver.fem.scalar_field import ScalarSystem, assemble
from solver.progress import Progress
from solver.waves.matched_ports import matched_scattering
from solver.waves.plane_modes import PlaneModes, modes_for
from solver.waves.scattering import PortMode

#: Degrees tried on one mesh before it is refined, and refinements tried.
DEGREES = (6, 7, 8, 9, 10)
REFINEMENTS = (0, 1, 2)
#: Relative round-off of the squared wavenumber, with a margin.
_ROUND_OFF = 1e-13


@dataclass(frozen=True, eq=False)
class PlaneSolution:
    """Scattering in the plane, and how it was found.

    Parameters
    ----------
    modes : PlaneModes
    frequency : (n,) array
        Frequencies [Hz].
    s : (n, m, m) complex array
        Scattering among all modes kept at every port, those of port 1 first; evanescent
        modes included, transverse-E amplitudes at the reference planes.
    error : (n,) array
        Bound on the error of the elements between propagating modes.
    problem : PlaneProblem
    found : LevelResult
    """

    modes: PlaneModes
    frequency: Array
    s: ComplexArray
    error: Array
    problem: PlaneProblem
    found: LevelResult

    @property
    def system(self) -> ScalarSystem:
        """The space of the best answer."""
        system: ScalarSystem = self.found.space
        return system

    @property
    def last(self) -> Sweep:
        """The sweep of the best answer."""
        return self.found.last

    @property
    def degree(self) -> int:
        """Degree of the space."""
        return self.found.order

    @property
    def reached(self) -> bool:
        """Whether the bar is under what was asked."""
        return self.found.reached

    @property
    def steps(self) -> tuple[dict[str, Any], ...]:
        """One entry a discretisation: order, refinement, unknowns, bar."""
        return self.found.steps


def plane_of(part: Part) -> str:
    """Plane in which a part is solved; a straight part is taken in the H-plane."""
    if part.exact_plane is None:
        raise UnsupportedPartError(f"this {part.kind} has no plane to which its field reduces")
    return part.exact_plane


def solve_in_plane(
    part: Part,
    frequency: Array,
    s_error: float,
    report: Progress | None = None,
) -> PlaneSolution:
    """Solve a part in its plane until the error bar is under what was asked.

    Parameters
    ----------
    part : Part
        With an exact plane.
    frequency : (n,) array
        Ascending frequencies above the cutoff of TE10 [Hz].
    s_error : float
        Wanted bound on the error of every S-parameter between propagating modes.
    report : callable, optional
        Is told in one line what is being done.

    Returns
    -------
    PlaneSolution
        With ``reached`` false when the accuracy could not be had.

    Raises
    ------
    MeshingError, LinearSolveError, ProblemSizeError
    """
    guide = part.guide
    if not isinstance(guide, RectangularGuide):
        raise TypeError("a part is solved in the plane only in rectangular guide")
    plane = plane_of(part)
    leftover = min(1e-3 * s_error, 1e-8)
    feed = feed_length(width_in_plane(guide, plane))
    modes = modes_for(guide, plane, float(frequency[-1]), feed, leftover)
    problem = PlaneProblem(part, modes, np.asarray(frequency))
    found = search_levels(problem, s_error, report)
    error = found.error + problem.round_off(found, problem.squared)
    found = replace(found, error=error, reached=bool(error.max() <= s_error))
    return PlaneSolution(modes, np.asarray(frequency), found.s, error, problem, found)


class PlaneProblem:
    """A part in its plane, as the search over levels asks for it."""

    orders: Mapping[int, Sequence[int]] = dict.fromkeys(REFINEMENTS, DEGREES)
    compared = 4
    # every mesh is graded towards its singular edges
    least_ratio: Mapping[int, float] = dict.fromkeys(REFINEMENTS, 0.05)

    def __init__(self, part: Part, modes: PlaneModes, frequency: Array) -> None:
        self.part, self.modes = part, modes
        self.squared = self.squared_at(frequency)
        self.moving: NDArray[np.bool_] = np.asarray(self._propagating(self.squared).any(axis=0))

    @property
    def port_modes(self) -> tuple[PortMode, ...]:
        """Names and cutoff frequencies of all port modes, those of port 1 first."""
        ports = range(1, len(self.part.guides) + 1)
        return tuple(mode for port in ports for mode in self.modes.port_modes(port))

    def squared_at(self, frequency: Array) -> Array:
        """Squared wavenumbers in the plane at frequencies (n,) [Hz]."""
        return self.modes.wavenumber_squared(frequency)

    def admittance_at(self, squared: Array | ComplexArray) -> ComplexArray:
        """Admittances (n, m) of all waves that leave, at real or complex q (n,)."""
        return np.tile(self.modes.phase_constants(squared), len(self.part.guides))

    def _propagating(self, squared: Array) -> NDArray[np.bool_]:
        return np.asarray(self.admittance_at(squared).real > 0)

    def counted(self, squared: Array) -> NDArray[np.bool_]:
        """Elements (n, m, m) between propagating modes."""
        propagating = self._propagating(squared)
        return propagating[:, :, None] & propagating[:, None, :]

    def weights(self, first: ComplexArray) -> Array:
        """Every wave is wanted as exactly as S."""
        return np.ones(first.shape[1])

    def mesh(self, refinement: int) -> PlaneMesh:
        """Make the mesh of a refinement."""
        wavelength = 2 * np.pi / np.sqrt(self.squared[-1])
        return mesh_in_plane(self.part, wavelength, plane=self.modes.plane, refinement=refinement)

    def spaces(
        self, mesh: PlaneMesh, orders: Sequence[int]
    ) -> Iterator[tuple[ScalarSystem, Pencil]]:
        """Take the spaces of ascending degrees from one assembly at the highest."""
        fixed = self.modes.plane == "H"
        system = assemble(mesh, max(orders), self.modes.functions, fixed_wall=fixed)
        for order in orders:
            yield system, Pencil(*system.at_degree(order))

    def scattering(self, mesh: PlaneMesh, impedance: Array, squared: Array) -> ComplexArray:
        """Scattering matrices at the reference planes."""
        feeds = [port.feed_length for port in mesh.ports]
        beta = self.modes.phase_constants(squared)
        return scattering(impedance, beta, feeds, self.modes.reflection_sign)

    def round_off(self, found: LevelResult, squared: Array) -> Array:
        """Change of S at q (n,) when the frequency moves by its own round-off, (n,).

        It is nothing but for a frequency at a mode's cutoff, where S goes as the square root
        of what is left of the mode's phase constant.
        """
        feeds = [port.feed_length for port in found.mesh.ports]
        impedance = found.last.model.impedance(squared)
        counted, still = self.counted(squared), self.scattering(found.mesh, impedance, squared)
        moved = []
        for step in (-_ROUND_OFF, _ROUND_OFF):
            beta = self.modes.phase_constants(squared * (1 + step))
            s = scattering(impedance, beta, feeds, self.modes.reflection_sign)
            s = np.where(counted, s - still, 0.0)
            moved.append(np.abs(s).reshape(len(s), -1).max(axis=1))
        return np.asarray(np.maximum(*moved))


def scattering(
    impedance: Array,
    beta: ComplexArray,
    feeds: list[float],
    reflection_sign: float,
    admittance: ComplexArray | None = None,
) -> ComplexArray:
    """Scattering matrix of transverse E from the impedance of the plane problem.

    Parameters
    ----------
    impedance : (n, p m, p m) array
        ``B^T (K - q M)^-1 B``.
    beta : (n, m) complex array
        Phase constants of the m modes, the same at all p ports [rad/m]; the imaginary
        part is minus the attenuation, which the feeds give back too.
    feeds : list of float
        Straight guide between each of the p ports and its reference plane [m].
    reflection_sign : float
        `PlaneModes.reflection_sign`.
    admittance : (n, m) complex array, optional
        What takes the place of beta in the ports' condition where the walls lose power.

    Returns
    -------
    (n, p m, p m) complex array
        Evanescent modes keep the amplitudes they have at the port.
    """
    ports, m = len(feeds), beta.shape[1]
    rooted = beta if admittance is None else admittance
    propagating = np.tile(beta.real > -beta.imag, ports)
    phase = np.where(propagating, np.tile(beta, ports), 0.0) * np.repeat(feeds, m)
    s = matched_scattering(impedance, np.tile(rooted, ports), phase)
    same = np.kron(np.eye(ports), np.ones((m, m))) > 0
    return np.where(same, reflection_sign, 1.0) * s
