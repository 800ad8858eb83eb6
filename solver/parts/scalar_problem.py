"""A part solved for one scalar field: in its plane, or in the half-plane about its axis."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from typing import Any, Generic, Protocol, TypeVar

import numpy as np
from numpy.typing import NDArray

from geometries.arrays import Array, ComplexArray
from geometries.plane_meshes.plane_mesh import PlaneMesh, PlanePort
from solver.fem.level_ladder import LevelResult
from solver.fem.level_problem import Pencil
from solver.fem.scalar_field import PlaneSystem, assemble
from solver.parts.solution import Solution
from solver.waves.matched_ports import flux_of_first
from solver.waves.open_boundaries import (
    OpenBoundary,
    finer_weights,
    from_guided,
    leaving,
    open_scattering,
    with_open,
)
from solver.waves.scattering import PortMode

#: Relative round-off of the squared wavenumber, with a margin.
_ROUND_OFF = 1e-13


class ScalarModes(Protocol):
    """Port modes of one scalar field; all ports of a part have the same.

    Attributes
    ----------
    reflection_sign : float
        Sign that turns a reflection of the solved field into one of transverse E.
    fixed : str or None
        Boundary on which the solved field vanishes.
    """

    @property
    def reflection_sign(self) -> float:
        """See the class."""

    @property
    def fixed(self) -> str | None:
        """See the class."""

    def wavenumber_squared(self, frequency: Array) -> Array:
        """Return q at frequencies (n,) [Hz]."""

    def phase_constants(self, squared: Array | ComplexArray) -> ComplexArray:
        """Phase constants (n, count) at real or complex q (n,) [rad/m]."""

    def functions(self, port: PlanePort, t: Array) -> Array:
        """Orthonormal mode functions (count, ...) at coordinates t of a port."""

    def port_modes(self, port: int) -> tuple[PortMode, ...]:
        """Names and cutoff frequencies of the modes at a port."""


M = TypeVar("M", bound=ScalarModes)


class ScalarProblem(Generic[M]):
    """A part with one scalar field, as the search over levels asks for it.

    Parameters
    ----------
    make_mesh : callable
        Gives the `PlaneMesh` of a refinement; its ports are the guided ones, then the open
        boundaries.
    modes : ScalarModes
        Of every guided port.
    ports : int
        Number of guided ports.
    frequency : (n,) array
        Ascending [Hz].
    s_error : float
        Wanted bound on the error of S.
    orders : mapping of int to sequence of int
        For each refinement the degrees that may be tried.
    least_ratio : mapping of int to float
        For each refinement; see `bar_from_levels`.
    compared : int
        Answers of successive degrees that the bar compares: 3, or 4 for the surer bar.
    boundaries : sequence of OpenBoundary
        Where waves leave for good.
    """

    def __init__(
        self,
        make_mesh: Callable[[int], PlaneMesh],
        modes: M,
        ports: int,
        frequency: Array,
        s_error: float,
        orders: Mapping[int, Sequence[int]],
        least_ratio: Mapping[int, float],
        compared: int,
        *,
        boundaries: Sequence[OpenBoundary] = (),
    ) -> None:
        self.mesh, self.modes, self.ports = make_mesh, modes, ports
        self.orders, self.least_ratio, self.compared = orders, least_ratio, compared
        self.boundaries, self._wanted = tuple(boundaries), s_error
        self.squared = self.squared_at(frequency)
        self.moving: NDArray[np.bool_] = np.asarray(self._leaves(self.squared).any(axis=0))

    @property
    def nested(self) -> None:
        """All compared answers are solved: in a plane that costs next to nothing."""

    @property
    def port_modes(self) -> tuple[PortMode, ...]:
        """Names and cutoff frequencies of all port modes, those of port 1 first."""
        numbers = range(1, self.ports + 1)
        return tuple(mode for port in numbers for mode in self.modes.port_modes(port))

    def squared_at(self, frequency: Array) -> Array:
        """Squared wavenumbers in the plane at frequencies (n,) [Hz]."""
        return self.modes.wavenumber_squared(np.asarray(frequency))

    def _guided(self, squared: Array | ComplexArray) -> ComplexArray:
        return np.tile(self.modes.phase_constants(squared), self.ports)

    def admittance_at(self, squared: Array | ComplexArray) -> ComplexArray:
        """Admittances of all waves that leave, at real or complex q (n,); see `with_open`."""
        return with_open(self._guided(squared), self.boundaries, squared)

    def _leaves(self, squared: Array) -> NDArray[np.bool_]:
        guided = self._guided(squared).real > 0
        return np.concatenate([guided, leaving(self.boundaries, squared)], axis=1)

    def counted(self, squared: Array) -> NDArray[np.bool_]:
        """Elements (n, m, m) that count: from propagating modes to all that leaves."""
        return from_guided(self._leaves(squared), len(self.port_modes))

    def weights(self, first: ComplexArray) -> Array:
        """How much more exactly each wave is wanted than S, (m,)."""
        return finer_weights(self.boundaries, first, len(self.port_modes), self._wanted)

    def functions(self, port: PlanePort, t: Array) -> Array:
        """Functions (m_port, ...) of the waves at a port or at an open boundary."""
        for boundary in self.boundaries:
            if boundary.name == port.name:
                return boundary.fields(t)
        return self.modes.functions(port, t)

    def spaces(
        self, mesh: PlaneMesh, orders: Sequence[int]
    ) -> Iterator[tuple[PlaneSystem, Pencil]]:
        """Take the spaces of ascending degrees from one assembly at the highest."""
        fixed = self.modes.fixed
        system = assemble(
            mesh,
            max(orders),
            self.functions,
            fixed_wall=fixed is not None,
            fixed=fixed or "wall",
        )
        for order in orders:
            yield system, Pencil(*system.at_degree(order))

    def scattering(self, mesh: PlaneMesh, impedance: Array, squared: Array) -> ComplexArray:
        """Scattering at the reference planes, and the amplitudes of power that leave."""
        beta = self.modes.phase_constants(squared)
        return self.scattering_with(mesh, impedance, squared, beta, beta)

    def scattering_with(
        self,
        mesh: PlaneMesh,
        impedance: Array | ComplexArray,
        squared: Array,
        beta: ComplexArray,
        admittance: ComplexArray,
    ) -> ComplexArray:
        """Scattering of transverse E for phase constants that are not those of ideal walls.

        Parameters
        ----------
        mesh : PlaneMesh
        impedance : (n, m, m) array
            ``B^T (K - q M)^-1 B``.
        squared : (n,) array
        beta : (n, count) complex array
            Phase constants of the modes, the same at all ports [rad/m]; the imaginary part is
            minus the attenuation, which the feeds give back too.
        admittance : (n, count) complex array
            What the ports' condition takes; beta itself where the walls lose nothing.

        Returns
        -------
        (n, m, m) complex array
            Evanescent modes keep the amplitudes they have at the port.
        """
        ports, count = self.ports, beta.shape[1]
        feeds = [port.feed_length for port in mesh.ports[:ports]]
        propagating = np.tile(beta.real > -beta.imag, ports)
        phase = np.where(propagating, np.tile(beta, ports), 0.0) * np.repeat(feeds, count)
        guided = np.tile(admittance, ports)
        s = open_scattering(impedance, guided, phase, self.boundaries, squared)
        # where the solved field is H, it reflects with the opposite sign to E
        same = np.kron(np.eye(ports), np.ones((count, count))) > 0
        among = slice(0, ports * count)
        s[:, among, among] *= np.where(same, self.modes.reflection_sign, 1.0)
        return s

    def round_off(self, found: LevelResult, squared: Array) -> Array:
        """Change of S at q (n,) when the frequency moves by its own round-off, (n,).

        It is nothing but for a frequency at a mode's cutoff, where S goes as the square root
        of what is left of the mode's phase constant.
        """
        impedance = found.last.model.impedance(squared)
        counted, still = self.counted(squared), self.scattering(found.mesh, impedance, squared)
        moved = []
        for step in (-_ROUND_OFF, _ROUND_OFF):
            beta = self.modes.phase_constants(squared * (1 + step))
            s = self.scattering_with(found.mesh, impedance, squared, beta, beta)
            s = np.where(counted, s - still, 0.0)
            moved.append(np.abs(s).reshape(len(s), -1).max(axis=1))
        return np.asarray(np.maximum(*moved))


def scalar_unknowns(solution: Solution[Any], frequency: Array) -> ComplexArray:
    """Unknowns (size, n) of the solved field for a first mode that enters port 1.

    Parameters
    ----------
    solution : Solution
    frequency : (n,) array
        [Hz]

    Returns
    -------
    (size, n) complex array
        The entering wave has the amplitude of `ScalarModes.functions`.
    """
    model, problem = solution.found.last.model, solution.problem
    q = problem.squared_at(frequency)
    ports = zip(q, model.impedance(q), problem.admittance_at(q), strict=True)
    return np.array([model.field(float(at), flux_of_first(z, y)) for at, z, y in ports]).T
