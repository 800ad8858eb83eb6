"""Conical horns in a wall, in their half-plane, out to a half sphere before the aperture.

TM01 is solved for psi = r H about the axis, TE11 by edge elements at order 1 about it. The half
sphere is an open boundary whose spherical waves leave each with an admittance of its own, so that
nothing has to absorb them.
"""

from __future__ import annotations

import math
from abc import abstractmethod
from collections.abc import Mapping, Sequence
from dataclasses import replace

import numpy as np

from geometries.arrays import Array, ComplexArray
from geometries.plane_meshes.horn_mesh import HornChart, mesh_horn
from geometries.plane_meshes.plane_mesh import PlaneMesh, PlanePort
from geometries.shapes.horns import ConicalHorn
from solver.fem.level_problem import Pencil
from solver.fem.scalar_field import PlaneSystem, assemble
from solver.fem.snapshots import Driven
from solver.revolved.harmonic_field import assemble_harmonic
from solver.revolved.revolved_problem import RevolvedModes, RevolvedProblem
from solver.waves.guide_modes import SPEED_OF_LIGHT
from solver.waves.half_plane_modes import HalfPlaneModes, half_plane_modes
from solver.waves.harmonic_modes import HarmonicModes, half_sphere_fields, harmonic_modes
from solver.waves.spherical_waves import (
    RevolvedWaves,
    SphericalWaves,
    harmonic_waves,
    revolved_waves,
)

#: Degrees tried on one mesh before it is refined, by the order about the axis.
DEGREES: Mapping[int, Mapping[int, Sequence[int]]] = {
    0: {0: (8, 9, 10), 1: (8, 9, 10)},
    1: {0: (6, 7, 8, 9), 1: (7, 8, 9)},
}
#: What the innermost cells leave falls slowly with the degree.
RATIOS: Mapping[int, float] = {0: 0.5, 1: 0.5}
#: What a mode or a wave left out may still return, over the wanted accuracy and at most, by order.
LEFTOVER, LEAST_LEFTOVER = {0: 1e-3, 1: 0.01}, {0: 1e-8, 1: math.inf}


class WalledHorn(RevolvedProblem):
    """A conical horn whose aperture lies in a wall, as the search over levels asks for it.

    Parameters
    ----------
    horn : ConicalHorn
    frequency : (n,) array
        Ascending, above the cutoff of the horn's mode [Hz].
    s_error : float

    Attributes
    ----------
    order : int
        About the axis.
    horn : ConicalHorn
    chart : HornChart
    waves : RevolvedWaves or SphericalWaves
    reference : float
        Radius to which the elements count the distance from the axis [m].
    """

    order: int
    horn: ConicalHorn
    chart: HornChart
    waves: RevolvedWaves | SphericalWaves
    reference: float

    def __init__(self, horn: ConicalHorn, frequency: Array, s_error: float) -> None:
        highest = float(frequency[-1])

        def make_mesh(refinement: int) -> PlaneMesh:
            return mesh_horn(horn, SPEED_OF_LIGHT / highest, refinement)

        first = make_mesh(0)
        leftover = min(LEFTOVER[self.order] * s_error, LEAST_LEFTOVER[self.order])
        assert isinstance(first.chart, HornChart)
        self.horn, self.chart, self.reference = horn, first.chart, first.chart.aperture
        modes, self.waves = self.chosen_waves(highest, first.ports[0].feed_length, leftover)
        degrees = DEGREES[self.order]
        super().__init__(make_mesh, modes, frequency, s_error, degrees, RATIOS, (self.waves,))
        self._guided = len(self.port_modes)
        self._driven = Driven(np.flatnonzero(self.moving[: self._guided]), self.admittance_at)

    @abstractmethod
    def chosen_waves(
        self, highest: float, feed: float, leftover: float
    ) -> tuple[RevolvedModes, RevolvedWaves | SphericalWaves]:
        """Modes at the port and waves at the half sphere."""

    @abstractmethod
    def all_columns(self, mesh: PlaneMesh, degree: int) -> PlaneSystem:
        """Matrices of a degree, with columns for each of the half sphere's stretches."""

    def assembled(self, mesh: PlaneMesh, degree: int) -> PlaneSystem:
        """Matrices of a degree; the half sphere has two stretches in the mesh."""
        system, guided, count = self.all_columns(mesh, degree), self._guided, self.waves.count
        ends = system.columns[:, guided:]
        columns = [system.columns[:, :guided], ends[:, :count] + ends[:, count:]]
        return replace(system, columns=np.concatenate(columns, axis=1))

    def pencil(self, system: PlaneSystem, degree: int) -> Pencil:
        """Pencil of a degree that the matrices hold."""
        return replace(super().pencil(system, degree), driven=self._driven)


class WalledTM01(WalledHorn):
    """A TM01 horn in a wall."""

    order = 0
    reflection_sign = -1.0
    modes: HalfPlaneModes
    waves: RevolvedWaves

    def chosen_waves(
        self, highest: float, feed: float, leftover: float
    ) -> tuple[HalfPlaneModes, RevolvedWaves]:
        """Modes TM_0n at the port and waves with m = 0 at the half sphere."""
        k, chart = 2 * math.pi * highest / SPEED_OF_LIGHT, self.chart
        return (
            half_plane_modes(self.horn.guide, highest, feed, leftover),
            revolved_waves(chart.sphere, chart.aperture, k, leftover),
        )

    def guided_admittance(self, squared: Array | ComplexArray) -> ComplexArray:
        """Phase constants, which psi = r H about the axis asks for, (n, count) [rad/m]."""
        return self.modes.phase_constants(squared)

    def all_columns(self, mesh: PlaneMesh, degree: int) -> PlaneSystem:
        """Matrices of a degree, with columns for each of the half sphere's stretches."""
        return assemble(mesh, degree, self._functions, fixed_wall=True, fixed="axis")

    def _functions(self, port: PlanePort, t: Array) -> Array:
        """Functions of a port's waves over its coordinate, the map's stretch taken along."""
        if port.name == "port1":
            scale = self.horn.guide.radius / self.chart.aperture
            return scale * self.modes.functions(port, scale * t)
        theta, rate = self.chart.polar_angle(port.name, t)
        return self.waves.fields(theta) * rate * self.chart.sphere


class WalledTE11(WalledHorn):
    """A TE11 horn in a wall."""

    order = 1
    modes: HarmonicModes
    waves: SphericalWaves

    def chosen_waves(
        self, highest: float, feed: float, leftover: float
    ) -> tuple[HarmonicModes, SphericalWaves]:
        """Modes TE_1n and TM_1n at the port and waves with m = 1 at the half sphere."""
        k, chart = 2 * math.pi * highest / SPEED_OF_LIGHT, self.chart
        return (
            harmonic_modes(self.horn.guide, highest, feed, leftover),
            harmonic_waves(chart.sphere, chart.aperture, k, leftover),
        )

    def guided_admittance(self, squared: Array | ComplexArray) -> ComplexArray:
        """Flux of each mode of the guide over its field, (n, count) [rad/m]."""
        return self.modes.admittances(squared)

    def all_columns(self, mesh: PlaneMesh, degree: int) -> PlaneSystem:
        """Matrices of a degree, with columns for each of the half sphere's stretches."""
        return assemble_harmonic(mesh, degree, self.reference, self._fields)

    def _fields(self, port: PlanePort, place: Array) -> Array:
        if port.name == "port1":
            return self.modes.fields(place[1])
        return half_sphere_fields(self.waves, place)


def walled_horn(horn: ConicalHorn, frequency: Array, s_error: float) -> WalledHorn:
    """Set up a conical horn in a wall for its mode."""
    kind = WalledTM01 if horn.mode == "TM01" else WalledTE11
    return kind(horn, frequency, s_error)
