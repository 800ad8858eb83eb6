"""Scattering and leakage of joints with a gap, in a quarter of the space about the axis.

TE10, and TE11 with E along y, see the plane x = 0 as a magnetic and y = 0 as an electric wall. The
rim is a third port whose waves are those of the radial line into which the gap goes on; where the
gap is tall or densely filled, those that vary across it are taken along.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from geometries.arrays import Array, ComplexArray
from geometries.cells.space_ports import FEED, SpaceMesh
from geometries.shapes.choke_flanges import ChokeFlange
from geometries.shapes.grooves import last_edge
from geometries.shapes.guides import CircularGuide
from geometries.shapes.rotating_joints import RotatingJoint
from geometries.space_meshes.choke_blocks import TE10_MIRRORS, ChokeMesh, Mirrors, choke_blocks
from solver.fem.edge_assembly import port_columns
from solver.fem.edge_pencil import edge_pencil
from solver.fem.edge_space import EdgeSpace, edge_space
from solver.fem.level_search import Pencil, search_levels
from solver.parts.space_solver import SpaceProblem, SpaceSolution, vector_fields
from solver.progress import Progress
from solver.waves.guide_modes import SPEED_OF_LIGHT
from solver.waves.matched_ports import coupled_scattering, to_power, with_coupled
from solver.waves.rim_waves import RimWaves, rim_waves
from solver.waves.scattering import leaked_power

ORDERS: Mapping[int, Sequence[int]] = {0: (4, 5), 1: (4, 5)}
RATIOS: Mapping[int, float] = {0: 0.5, 1: 0.5}
#: The amplitude past the rim is wanted to this part of its least value in the band, but at least
#: as exactly as S and at most so many times more exactly.
_OF_LEAST, _FINEST = 0.03, 5.0
#: What a wave left out at the rim may still return or bring out, over the wanted accuracy.
LEFTOVER = 0.01
#: A mode's amplitude on a quarter of its port, whose square integrates to one.
AMPLITUDE = 2.0


@dataclass(frozen=True, eq=False)
class ChokeSolution(SpaceSolution):
    """Scattering and leakage.

    Parameters
    ----------
    s : (n, m, m) complex array
        Among the modes of both ports.
    leaked_power, leaked_error : (n,) array
        Power past the rim over the power that enters in the first mode at port 1, and its bar [-].
    """

    problem: ChokeProblem
    s: ComplexArray
    leaked_power: Array
    leaked_error: Array


class ChokeProblem(SpaceProblem):
    """A joint in a quarter of the space, as the search over levels asks for it.

    Parameters
    ----------
    part : ChokeFlange or RotatingJoint
    frequency : (n,) array
        Ascending [Hz].
    s_error : float
    mirrors : (str, str)
        See `choke_blocks`. For others than those of TE10 the waves at the rim are the answer.
    """

    def __init__(
        self,
        part: ChokeFlange | RotatingJoint,
        frequency: Array,
        s_error: float,
        mirrors: Mirrors = TE10_MIRRORS,
    ) -> None:
        permittivity = getattr(part, "gasket_permittivity", 1.0)
        wavelength = SPEED_OF_LIGHT / float(frequency[-1])

        def make_mesh(refinement: int) -> ChokeMesh:
            return choke_blocks(
                part,
                wavelength=wavelength / np.sqrt(permittivity),
                refinement=refinement,
                feed=FEED * part.guide.longest_side,
                mirrors=mirrors,
            )

        wanted = (int(mirrors[0] == "magnetic"), int(mirrors[1] == "magnetic"))
        super().__init__(make_mesh, frequency, s_error, ORDERS, RATIOS, lambda c: c == wanted)
        self._driven = mirrors == TE10_MIRRORS
        first = self._first
        assert isinstance(first, ChokeMesh)
        self.guided = sum(len(modes) for modes in self.modes)
        self._wanted = s_error
        self.rim: RimWaves | None = None
        if first.rim_radius is not None:
            highest = float(np.sqrt(self.squared[-1]))
            self.rim = rim_waves(
                first.rim_radius,
                part.gap,
                highest,
                permittivity,
                mirrors=mirrors,
                only=1 if self._driven and isinstance(part.guide, CircularGuide) else None,
                stretches=_past_last_edge(part, first.rim_radius, permittivity),
                leftover=LEFTOVER * s_error,
            )
            leaves = self.rim.leaves(self.squared)
            self.moving = np.concatenate([self.moving, leaves.any(axis=0)])
        if not self.moving.any():
            # a field that is trapped altogether: what decays in the guides has to find it
            self.moving = np.ones_like(self.moving)

    def phases(self, squared: Array) -> ComplexArray:
        """Phases (n, m) by which the reference planes lie behind the ports; 0 at the rim."""
        guided = super().phases(squared)
        if self.rim is None:
            return guided
        return np.concatenate([guided, np.zeros(self.rim.leaves(squared).shape)], axis=1)

    def counted(self, squared: Array) -> NDArray[np.bool_]:
        """Elements (n, m, m) that count: among the ports, and from port 1 to the rim."""
        guided = super().counted(squared)
        if self.rim is None:
            return guided
        leaves, n = self.rim.leaves(squared), self.guided
        m = n + leaves.shape[1]
        counted = np.zeros((len(squared), m, m), dtype=bool)
        counted[:, :n, :n] = guided
        # a wave from beyond the rim is none of the answer
        if self._driven:
            counted[:, n:, 0] = True
        else:
            counted[:, n:, n:] = leaves[:, :, None] & leaves[:, None, :]
        return counted

    def admittance_at(self, squared: Array | ComplexArray) -> ComplexArray:
        """Admittances of all waves that leave, at real or complex q (n,).

        (n, m), or matrices (n, m, m) where waves at the rim are coupled.
        """
        guided = self.guided_admittance(squared)
        if self.rim is None:
            return guided
        if self.rim.coupled:
            return with_coupled(guided, self.rim.admittance(squared))
        return np.concatenate([guided, self.rim.admittance(squared)], axis=1)

    def spaces(self, mesh: SpaceMesh, orders: Sequence[int]) -> Iterator[tuple[EdgeSpace, Pencil]]:
        """Assemble the spaces of ascending orders."""
        assert isinstance(mesh, ChokeMesh)
        for order in orders:
            space = edge_space(mesh.mesh, order)
            columns = [
                AMPLITUDE * port_columns(space, port.name, vector_fields(port, modes))
                for port, modes in zip(mesh.ports, self.modes, strict=True)
            ]
            if self.rim is not None:
                columns.append(port_columns(space, "port3", self.rim.fields))
            pencil = edge_pencil(space, permittivity=mesh.permittivity)
            yield space, Pencil(*pencil, np.hstack(columns)[space.free_dofs])

    def scattering(self, mesh: SpaceMesh, impedance: Array, squared: Array) -> ComplexArray:
        """Scattering among the ports, and the amplitudes of power past the rim."""
        n = self.guided
        if self.rim is not None and self.rim.coupled:
            guided = np.sqrt(self.guided_admittance(squared))
            root = with_coupled(guided, self.rim.root(squared))
            s = coupled_scattering(impedance, root, self.phases(squared))
            s[:, n:] = self.rim.to_power(squared) @ s[:, n:]
            return s
        s = super().scattering(mesh, impedance, squared)
        if self.rim is not None:
            s[:, n:] *= to_power(self.rim.admittance(squared))[:, :, None]
        return s

    def weights(self, first: ComplexArray) -> Array:
        """The amplitude past the rim is wanted more exactly than S where little leaks."""
        weights = np.ones(first.shape[1])
        if self._driven and self.rim is not None:
            least = float(np.linalg.norm(first[:, self.guided :, 0], axis=1).min())
            finer = np.clip(self._wanted / max(_OF_LEAST * least, 1e-30), 1.0, _FINEST)
            weights[self.guided :] = finer
        return weights


def _past_last_edge(
    part: ChokeFlange | RotatingJoint, end: float, permittivity: float
) -> tuple[tuple[float, float], ...]:
    """Length and permittivity of the gap's stretches from the last edge to where the mesh ends.

    A gasket's own edge, upright and as high as the gap, makes no wave that varies across it.
    """
    edge = last_edge(part)
    inner = max(edge, getattr(part, "gasket_inner_radius", 0.0)) if permittivity > 1.0 else end
    return (inner - edge, 1.0), (end - inner, permittivity)


def solve_choke(
    part: ChokeFlange | RotatingJoint,
    frequency: Array,
    s_error: float,
    report: Progress | None = None,
) -> ChokeSolution:
    """Solve a joint until the error bar is under what was asked.

    Parameters
    ----------
    part : ChokeFlange or RotatingJoint
    frequency : (n,) array
        Ascending [Hz].
    s_error : float
        Wanted bound on the error of every S-parameter between propagating modes; the amplitude
        of what leaks is wanted up to five times as exactly, where little leaks.
    report : callable, optional

    Returns
    -------
    ChokeSolution

    Raises
    ------
    MeshingError, LinearSolveError, ProblemSizeError
    """
    problem = ChokeProblem(part, frequency, s_error)
    found = search_levels(problem, s_error, report)
    n = problem.guided
    leaked, leaked_error = leaked_power(found.s, found.error, found.weights, n)
    return ChokeSolution(
        problem,
        np.asarray(frequency),
        found,
        found.s[:, :n, :n],
        leaked,
        leaked_error,
    )
