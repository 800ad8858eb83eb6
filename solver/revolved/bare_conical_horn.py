"""Conical horns with thin walls in free space, in their half-plane.

TM01 is solved for psi = r H about the axis, TE11 by edge elements at order 1 about it. All about
the horn a layer of stretched, complex coordinates absorbs what leaves; it is another one at every
degree, so that the bar, which compares degrees, holds what the layer throws back.
"""

from __future__ import annotations

from abc import abstractmethod
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import replace

import numpy as np

from geometries.arrays import Array, ComplexArray
from geometries.plane_meshes.bare_horn_mesh import BareChart, mesh_bare_horn
from geometries.plane_meshes.plane_mesh import PlaneMesh
from geometries.shapes.horns import ConicalHorn
from solver.fem.level_problem import Pencil
from solver.fem.scalar_field import PlaneSystem, assemble
from solver.revolved.harmonic_field import assemble_harmonic
from solver.revolved.revolved_problem import RevolvedModes, RevolvedProblem
from solver.revolved.surface_readings import (
    Samples,
    harmonic_readings,
    samples_about,
    scalar_readings,
)
from solver.waves.guide_modes import SPEED_OF_LIGHT
from solver.waves.half_plane_modes import HalfPlaneModes, half_plane_modes
from solver.waves.harmonic_modes import HarmonicModes, harmonic_modes

#: Degrees tried on one mesh before it is refined, by the order about the axis.
DEGREES: Mapping[int, Mapping[int, Sequence[int]]] = {
    0: {0: (7, 8, 9, 10, 11), 1: (8, 9, 10, 11)},
    1: {0: (6, 7, 8, 9), 1: (7, 8, 9)},
}
#: What the innermost cells leave falls slowly with the degree.
RATIOS: Mapping[int, float] = {0: 0.5, 1: 0.5}
#: What a mode left out at the port may still return, over the wanted accuracy.
LEFTOVER = 0.01
#: How much the layer absorbs, against the lengths that grow; and what each degree adds.
_TURN, _MORE = 1.3, 0.08


class BareConicalHorn(RevolvedProblem):
    """A conical horn with a bare rim, as the search over levels asks for it.

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
    reference : float
        Radius to which the elements count the distance from the axis [m].
    """

    order: int
    horn: ConicalHorn
    reference: float

    def __init__(self, horn: ConicalHorn, frequency: Array, s_error: float) -> None:
        lengths = SPEED_OF_LIGHT / float(frequency[-1]), SPEED_OF_LIGHT / float(frequency[0])

        def make_mesh(refinement: int) -> PlaneMesh:
            return mesh_bare_horn(horn, lengths, refinement)

        first = make_mesh(0)
        chart = first.chart
        assert isinstance(chart, BareChart)
        self.horn, self.reference = horn, chart.aperture
        feed = first.ports[0].feed_length
        modes = self.chosen_modes(float(frequency[-1]), feed, LEFTOVER * s_error)
        super().__init__(make_mesh, modes, frequency, s_error, DEGREES[self.order], RATIOS)

    @abstractmethod
    def chosen_modes(self, highest: float, feed: float, leftover: float) -> RevolvedModes:
        """Modes at the port; see `half_plane_modes`."""

    @abstractmethod
    def watching(self, system: PlaneSystem, samples: Samples) -> Pencil:
        """Pencil of the highest degree, with the readings of the field about the horn."""

    def spaces(
        self, mesh: PlaneMesh, orders: Sequence[int]
    ) -> Iterator[tuple[PlaneSystem, Pencil]]:
        """Assemble the spaces of ascending degrees, each with a layer of its own."""
        for order in orders:
            here = with_layer(mesh, order)
            system = self.assembled(here, order)
            yield system, self.watching(system, samples_about(here))


class BareTM01(BareConicalHorn):
    """A TM01 horn with a bare rim."""

    order = 0
    reflection_sign = -1.0
    modes: HalfPlaneModes

    def chosen_modes(self, highest: float, feed: float, leftover: float) -> HalfPlaneModes:
        """Modes TM_0n at the port."""
        return half_plane_modes(self.horn.guide, highest, feed, leftover)

    def guided_admittance(self, squared: Array | ComplexArray) -> ComplexArray:
        """Phase constants, which psi = r H about the axis asks for, (n, count) [rad/m]."""
        return self.modes.phase_constants(squared)

    def assembled(self, mesh: PlaneMesh, degree: int) -> PlaneSystem:
        """Matrices of a degree."""
        # at the port t is the radius, as long as the throat is
        scale = self.horn.guide.radius / self.reference
        return assemble(
            mesh,
            degree,
            lambda port, t: scale * self.modes.functions(port, scale * t),
            fixed_wall=True,
            fixed="axis",
        )

    def watching(self, system: PlaneSystem, samples: Samples) -> Pencil:
        """Pencil of the highest degree, with the readings of the field about the horn."""
        pencil = self.pencil(system, system.element.p)
        rows = scalar_readings(system, samples)
        return replace(pencil, watched=lambda fields: np.asarray(rows @ fields))


class BareTE11(BareConicalHorn):
    """A TE11 horn with a bare rim."""

    order = 1
    modes: HarmonicModes

    def chosen_modes(self, highest: float, feed: float, leftover: float) -> HarmonicModes:
        """Modes TE_1n and TM_1n at the port."""
        return harmonic_modes(self.horn.guide, highest, feed, leftover)

    def guided_admittance(self, squared: Array | ComplexArray) -> ComplexArray:
        """Flux of each mode of the guide over its field, (n, count) [rad/m]."""
        return self.modes.admittances(squared)

    def assembled(self, mesh: PlaneMesh, degree: int) -> PlaneSystem:
        """Matrices of a degree."""
        return assemble_harmonic(
            mesh, degree, self.reference, lambda _, place: self.modes.fields(place[1])
        )

    def watching(self, system: PlaneSystem, samples: Samples) -> Pencil:
        """Pencil of the highest degree, with the readings of the field about the horn."""
        pencil = self.pencil(system, system.element.p)
        rows = harmonic_readings(system, self.reference, samples)
        return replace(pencil, watched=lambda fields: np.asarray(rows @ fields))


def with_layer(mesh: PlaneMesh, degree: int) -> PlaneMesh:
    """The same mesh with the layer of a degree."""
    chart = mesh.chart
    assert isinstance(chart, BareChart)
    return replace(mesh, chart=replace(chart, growth=1 - 1j * (_TURN + _MORE * degree)))


def bare_conical_horn(horn: ConicalHorn, frequency: Array, s_error: float) -> BareConicalHorn:
    """Set up a conical horn with a bare rim for its mode."""
    kind = BareTM01 if horn.mode == "TM01" else BareTE11
    return kind(horn, frequency, s_error)
