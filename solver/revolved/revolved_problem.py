"""A part of revolution with one port, in its half-plane, as the search over levels asks for it."""

from __future__ import annotations

from abc import abstractmethod
from collections.abc import Callable, Iterator, Mapping, Sequence
from typing import Protocol

import numpy as np
from numpy.typing import NDArray

from geometries.arrays import Array, ComplexArray
from geometries.plane_meshes.plane_mesh import PlaneMesh
from solver.fem.level_ladder import LevelResult
from solver.fem.level_problem import Pencil
from solver.fem.scalar_field import PlaneSystem
from solver.waves.guide_modes import SPEED_OF_LIGHT
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


class RevolvedModes(Protocol):
    """Modes of a circular guide, of one order about the axis."""

    def phase_constants(self, squared: Array | ComplexArray) -> ComplexArray:
        """Phase constants (n, count) at real or complex q (n,) [rad/m]."""

    def port_modes(self, port: int) -> tuple[PortMode, ...]:
        """Names and cutoff frequencies of the modes at a port."""


class RevolvedProblem:
    """A horn in its half-plane; what is solved for is left to those that derive from it.

    Parameters
    ----------
    make_mesh : callable
        Gives the `PlaneMesh` of a refinement; its first port is the guided one.
    modes : RevolvedModes
    frequency : (n,) array
        Ascending [Hz].
    s_error : float
        Wanted bound on the error of S.
    orders : mapping of int to sequence of int
        For each refinement the degrees that may be tried.
    least_ratio : mapping of int to float
        For each refinement; see `bar_from_levels`.
    boundaries : sequence of OpenBoundary
        Where waves leave for good.
    """

    compared = 3
    #: Sign that turns a reflection of the solved field into one of transverse E.
    reflection_sign = 1.0

    def __init__(
        self,
        make_mesh: Callable[[int], PlaneMesh],
        modes: RevolvedModes,
        frequency: Array,
        s_error: float,
        orders: Mapping[int, Sequence[int]],
        least_ratio: Mapping[int, float],
        boundaries: Sequence[OpenBoundary] = (),
    ) -> None:
        self.mesh, self.modes, self._wanted = make_mesh, modes, s_error
        self.orders, self.least_ratio = orders, least_ratio
        self.boundaries = tuple(boundaries)
        self.squared = self.squared_at(frequency)
        self.moving: NDArray[np.bool_] = np.asarray(self._leaves(self.squared).any(axis=0))

    @property
    def nested(self) -> None:
        """All compared answers are solved."""

    @property
    def port_modes(self) -> tuple[PortMode, ...]:
        """Names and cutoff frequencies of the modes of the port."""
        return self.modes.port_modes(1)

    def squared_at(self, frequency: Array) -> Array:
        """Squared free-space wavenumbers at frequencies (n,) [Hz]."""
        return np.asarray((2 * np.pi * np.asarray(frequency) / SPEED_OF_LIGHT) ** 2)

    @abstractmethod
    def guided_admittance(self, squared: Array | ComplexArray) -> ComplexArray:
        """Flux of each mode of the guide over its field, (n, count) [rad/m]."""

    @abstractmethod
    def assembled(self, mesh: PlaneMesh, degree: int) -> PlaneSystem:
        """Matrices of a degree, those of lower ones within; guided columns first."""

    def pencil(self, system: PlaneSystem, degree: int) -> Pencil:
        """Pencil of a degree that the matrices hold."""
        return Pencil(*system.at_degree(degree))

    def spaces(
        self, mesh: PlaneMesh, orders: Sequence[int]
    ) -> Iterator[tuple[PlaneSystem, Pencil]]:
        """Take the spaces of ascending degrees from one assembly at the highest."""
        system = self.assembled(mesh, max(orders))
        for order in orders:
            yield system, self.pencil(system, order)

    def admittance_at(self, squared: Array | ComplexArray) -> ComplexArray:
        """Admittances of all waves that leave, at real or complex q (n,); see `with_open`."""
        return with_open(self.guided_admittance(squared), self.boundaries, squared)

    def _propagating(self, squared: Array) -> NDArray[np.bool_]:
        return np.asarray(self.modes.phase_constants(squared).real > 0)

    def _leaves(self, squared: Array) -> NDArray[np.bool_]:
        guided = self._propagating(squared)
        return np.concatenate([guided, leaving(self.boundaries, squared)], axis=1)

    def counted(self, squared: Array) -> NDArray[np.bool_]:
        """Elements (n, m, m) that count: from propagating modes to all that leaves."""
        return from_guided(self._leaves(squared), len(self.port_modes))

    def weights(self, first: ComplexArray) -> Array:
        """How much more exactly each wave is wanted than S, (m,)."""
        return finer_weights(self.boundaries, first, len(self.port_modes), self._wanted)

    def scattering(
        self, mesh: PlaneMesh, impedance: Array | ComplexArray, squared: Array
    ) -> ComplexArray:
        """Scattering of transverse E at the throat, and the amplitudes of power that leave."""
        beta, guided = self.modes.phase_constants(squared), self.guided_admittance(squared)
        phase = np.where(beta.real > 0, beta, 0.0) * mesh.ports[0].feed_length
        s = open_scattering(impedance, guided, phase.astype(complex), self.boundaries, squared)
        count = guided.shape[1]
        s[:, :count, :count] *= self.reflection_sign
        return s

    def unknowns(self, found: LevelResult, frequency: float) -> ComplexArray:
        """Unknowns (size,) of the field at a frequency [Hz] for a first mode that enters.

        The entering wave has the amplitude of the mode functions.
        """
        model, q = found.last.model, self.squared_at(np.array([frequency]))
        flux = flux_of_first(model.impedance(q)[0], self.admittance_at(q)[0])
        return np.asarray(model.field(float(q[0]), flux))
