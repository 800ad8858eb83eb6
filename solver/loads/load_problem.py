"""Loads in their plane: the fields of a guide with an absorber before a short, with an error bar.

Uniform along b, the field of a load in the H-plane is E along b: div(grad E / mu) + k^2 eps E = 0.
Uniform along a, that of one in the E-plane has two parts that the absorber's faces couple
(`solver.fem.vector_field`).  Both reductions are exact.  K, M and the port columns do not depend
on frequency, since eps and mu do not.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import replace
from typing import Any

import numpy as np
from numpy.typing import NDArray

from geometries.arrays import Array, ComplexArray, Numbers
from geometries.plane_meshes.load_mesh import mesh_load
from geometries.plane_meshes.plane_mesh import PlaneMesh, feed_length
from geometries.shapes.loads import Load
from solver.fem.level_ladder import LevelResult
from solver.fem.level_problem import Pencil
from solver.fem.next_order import Fluxes, ToldChange
from solver.fem.scalar_field import PlaneSystem, assemble
from solver.fem.vector_field import assemble_vector
from solver.loads.next_degree import Matrices, next_degree
from solver.waves.guide_modes import SPEED_OF_LIGHT
from solver.waves.load_modes import FilledPlaneModes, filled_modes
from solver.waves.matched_ports import matched_scattering
from solver.waves.open_boundaries import OpenBoundary, open_fluxes
from solver.waves.scattering import PortMode

#: Degrees tried on one mesh before it is refined, by plane, and refinements tried.
DEGREES = {"H": (4, 5, 6, 7, 8, 9, 10), "E": (3, 4, 5, 6, 7, 8)}
REFINEMENTS = (0, 1, 2)
#: Functions from this degree on act back on those of the next: what they make up has no resonance
#: near the band.
_ALONG = {"H": 3, "E": 2}
#: Relative round-off of the squared wavenumber, with a margin.
_ROUND_OFF = 1e-13
#: Bound on S from which a degree less is tried first.
_COARSE = 5e-3


def load_problem(load: Load, frequency: Array, s_error: float) -> LoadProblem:
    """Set up a load, with as many modes at its port as its feed lets through.

    Parameters
    ----------
    load : Load
    frequency : (n,) array
        Ascending frequencies above the cutoff of TE10 [Hz].
    s_error : float
        Wanted bound on the error of S.
    """
    leftover = min(1e-3 * s_error, 1e-8)
    feed, highest = feed_length(load.width_in_plane), float(frequency[-1])
    modes = filled_modes(load.guide, load.plane, load.symmetric, highest, feed, leftover)
    return LoadProblem(load, modes, frequency, coarse=s_error >= _COARSE)


class LoadProblem:
    """A load in its plane, as the search over levels asks for it."""

    boundaries: tuple[OpenBoundary, ...] = ()
    # every mesh is graded towards the absorber's edges
    least_ratio: Mapping[int, float] = dict.fromkeys(REFINEMENTS, 0.05)

    def __init__(
        self, load: Load, modes: FilledPlaneModes, frequency: Array, *, coarse: bool = False
    ) -> None:
        self.load, self.modes = load, modes
        degrees = DEGREES[load.plane]
        #: Fewer spaces of lower degree serve a coarse answer.
        self.compared = 3 if coarse else 4
        self.orders: Mapping[int, Sequence[int]] = dict.fromkeys(
            REFINEMENTS, (degrees[0] - 1, *degrees) if coarse else degrees
        )
        self.squared = self.squared_at(frequency)
        self.moving: NDArray[np.bool_] = np.asarray(self._propagating(self.squared).any(axis=0))
        self._made: PlaneSystem | None = None

    @property
    def nested(self) -> LoadProblem:
        """The last of the compared answers is told by the residual of the one before."""
        return self

    def places(self, space: PlaneSystem, _: PlaneSystem) -> Numbers:
        """Places of a space's unknowns among those of the next degree: the first ones."""
        return np.arange(len(space.columns))

    def look(
        self,
        model: Any,
        pencil: Matrices,
        fluxes: Fluxes,
        squared: Array,
        moving: NDArray[np.bool_],
    ) -> ToldChange:
        """See `NestedSpaces`: all but the functions of the lowest degrees act back on new ones."""
        assert self._made is not None
        lowest = self._made.sizes[_ALONG[self.load.plane] - 1]
        return next_degree(model, min(lowest, len(model.basis)), pencil, fluxes, squared, moving)

    def told(self, squared: Array) -> NDArray[np.bool_]:
        """Elements (n, m, m) whose change is told: all."""
        return self.counted(squared)

    def fluxes(self, impedance: Array, squared: Array) -> ComplexArray:
        """Fluxes through the port columns for every wave that enters."""
        return open_fluxes(impedance, self.admittance_at(squared), (), squared)

    @property
    def port_modes(self) -> tuple[PortMode, ...]:
        """Names and cutoff frequencies of the modes of the port."""
        return self.modes.port_modes(1)

    def squared_at(self, frequency: Array) -> Array:
        """Squared free-space wavenumbers at frequencies (n,) [Hz]."""
        return np.asarray((2 * np.pi * np.asarray(frequency) / SPEED_OF_LIGHT) ** 2)

    def admittance_at(self, squared: Array | ComplexArray) -> ComplexArray:
        """Admittances (n, m) of all modes of the port, at real or complex q (n,)."""
        return self.modes.admittances(squared)

    def _propagating(self, squared: Array) -> NDArray[np.bool_]:
        return np.asarray(self.modes.phase_constants(squared).real > 0)

    def counted(self, squared: Array) -> NDArray[np.bool_]:
        """Elements (n, m, m) between propagating modes."""
        propagating = self._propagating(squared)
        return propagating[:, :, None] & propagating[:, None, :]

    def weights(self, first: ComplexArray) -> Array:
        """Every wave is wanted as exactly as S."""
        return np.ones(first.shape[1])

    def mesh(self, refinement: int) -> PlaneMesh:
        """Make the mesh of a refinement."""
        return mesh_load(self.load, float(2 * np.pi / np.sqrt(self.squared[-1])), refinement)

    def spaces(
        self, mesh: PlaneMesh, orders: Sequence[int]
    ) -> Iterator[tuple[PlaneSystem, Pencil]]:
        """Take the spaces of ascending degrees from one assembly."""
        for order in orders:
            system = self._assembled(mesh, max(orders))
            pencil = system.at_degree(order)
            own = dict(zip(("stiffness", "mass", "columns"), pencil, strict=True))
            yield replace(system, **own), Pencil(*pencil)

    def _assembled(self, mesh: PlaneMesh, degree: int) -> PlaneSystem:
        """All spaces of a mesh up to a degree or higher."""
        if self._made is None or self._made.plane_mesh is not mesh:
            degree += 1  # which is looked at next
        elif self._made.element.p >= degree:
            return self._made
        modes = self.modes
        if modes.plane == "H":
            self._made = assemble(mesh, degree, modes.functions, fixed_wall=True)
        else:
            self._made = assemble_vector(mesh, degree, modes.across, modes.vectors)
        return self._made

    def scattering(
        self, mesh: PlaneMesh, impedance: Array | ComplexArray, squared: Array
    ) -> ComplexArray:
        """Scattering matrices at the plane of the tip."""
        beta = self.modes.phase_constants(squared)
        phase = np.where(self._propagating(squared), beta, 0.0) * mesh.ports[0].feed_length
        return matched_scattering(impedance, self.admittance_at(squared), phase.astype(complex))

    def round_off(self, found: LevelResult, squared: Array) -> Array:
        """Change of S at q (n,) when the frequency moves by its own round-off, (n,).

        It is nothing but for a frequency at a mode's cutoff.
        """
        impedance = found.last.model.impedance(squared)
        counted, still = self.counted(squared), self.scattering(found.mesh, impedance, squared)
        moved = [
            np.where(counted, self.scattering(found.mesh, impedance, squared * step) - still, 0.0)
            for step in (1 - _ROUND_OFF, 1 + _ROUND_OFF)
        ]
        return np.asarray(np.abs(moved).max(axis=(0, 2, 3)))
