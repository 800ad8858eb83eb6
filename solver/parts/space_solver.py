"""Scattering of parts in three dimensions, with an error bar.

Curl-curl equation for E with edge elements; walls are electric walls, ports are natural
boundaries that several modes load in matched form.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from copy import copy
from typing import Any

import numpy as np
from numpy.typing import NDArray

from geometries.arrays import Array, ComplexArray, Numbers
from geometries.cells.space_ports import SpaceMesh, SpacePort
from solver.fem.edge_assembly import port_columns
from solver.fem.edge_pencil import edge_pencil
from solver.fem.edge_space import EdgeSpace, edge_space, places_in_next
from solver.fem.level_problem import Pencil
from solver.fem.level_search import search_levels
from solver.fem.shape_doubt import with_shape_doubt
from solver.parts.solution import Solution
from solver.progress import Progress
from solver.waves.guide_modes import SPEED_OF_LIGHT
from solver.waves.matched_ports import outgoing_root
from solver.waves.open_boundaries import (
    OpenBoundary,
    finer_weights,
    leaving,
    open_fluxes,
    open_scattering,
    with_open,
)
from solver.waves.scattering import PortMode
from solver.waves.space_modes import SpaceMode, space_modes

#: Quadrature points beyond the order at an open boundary: a face there spans several half periods
#: of the highest waves, which too few points would take for lower ones.
_FOR_WAVES = 10

Symmetry = Callable[[tuple[int, int]], bool]


class SpaceProblem:
    """A part in space, as the search over levels asks for it.

    Parameters
    ----------
    make_mesh : callable
        Gives the `SpaceMesh` of a refinement.
    frequency : (n,) array
        Ascending [Hz].
    s_error : float
        Wanted bound on the error of S.
    orders : mapping of int to sequence of int
        For each refinement the orders that may be tried.
    least_ratio : mapping of int to float
        For each refinement; see `bar_from_levels`.
    couples : callable, optional
        Whether modes of a symmetry class can be excited from the dominant mode.
    compared : int
        Answers of successive orders that the bar compares: 3, or 4 for the surer bar.
    boundaries : sequence of OpenBoundary
        Where waves leave for good.
    driven : bool
        Whether the dominant mode is in the class that `couples` keeps; otherwise the waves at the
        open boundaries are the answer.
    look_ahead : bool
        Whether the last of the compared answers is told by `next_order`; needs hexahedra. The
        first of the orders is for that alone: it takes one solved answer less.
    modes : sequence of sequence of SpaceMode, optional
        Those at each port, in place of as many as the straight guide before it asks for.
    """

    #: `next_order` looks ahead.
    look = None

    def __init__(
        self,
        make_mesh: Callable[[int], SpaceMesh],
        frequency: Array,
        s_error: float,
        orders: Mapping[int, Sequence[int]],
        least_ratio: Mapping[int, float],
        couples: Symmetry = lambda _: True,
        compared: int = 3,
        *,
        boundaries: Sequence[OpenBoundary] = (),
        driven: bool = True,
        look_ahead: bool = False,
        modes: Sequence[Sequence[SpaceMode]] | None = None,
    ) -> None:
        self.compared, self.driven, self._wanted = compared, driven, s_error
        self._look_ahead = look_ahead
        self.boundaries = tuple(boundaries)
        self._make_mesh, self.least_ratio, self.orders = make_mesh, least_ratio, orders
        self._coarsest = next(iter(orders))
        self._first: SpaceMesh | None = make_mesh(self._coarsest)
        self.ports: tuple[SpacePort, ...] = self._first.ports
        if modes is None:
            modes = [
                [
                    mode
                    for mode in space_modes(
                        port.guide, float(frequency[-1]), port.feed_length, 0.01 * s_error
                    )
                    if couples(mode.symmetry)
                ]
                for port in self.ports
            ]
        self.modes = tuple(tuple(kept) for kept in modes)
        self.squared: Array = self.squared_at(frequency)
        propagating = self.phase_constants(self.squared).real > 0
        leaves = leaving(self.boundaries, self.squared)
        moving = np.concatenate([propagating.any(axis=0), leaves.any(axis=0)])
        # a field that is trapped altogether: what decays in the guides has to find it
        self.moving: NDArray[np.bool_] = moving if moving.any() else np.ones_like(moving)

    def squared_at(self, frequency: Array) -> Array:
        """Squared free-space wavenumbers at frequencies (n,) [Hz]."""
        return np.asarray((2 * np.pi * np.asarray(frequency) / SPEED_OF_LIGHT) ** 2)

    def phase_constants(self, squared: NDArray[Any]) -> ComplexArray:
        """Phase constants (n, m) of the modes in the ports' guides [rad/m]."""
        cutoff = [mode.wavenumber for modes in self.modes for mode in modes]
        return outgoing_root(squared[:, None] - np.array(cutoff) ** 2)

    def phases(self, squared: Array) -> ComplexArray:
        """Phases (n, m) by which the reference planes lie behind the ports [rad]."""
        feeds = np.repeat([port.feed_length for port in self.ports], [len(m) for m in self.modes])
        beta = self.phase_constants(squared)
        return np.asarray(np.where(beta.real > 0, beta, 0.0) * feeds)

    def counted(self, squared: Array) -> NDArray[np.bool_]:
        """Elements (n, m, m) that count: between propagating modes, from the first to beyond."""
        propagating = self.phase_constants(squared).real > 0
        guided = propagating[:, :, None] & propagating[:, None, :]
        if not self.boundaries:
            return np.asarray(guided)
        leaves, n = leaving(self.boundaries, squared), propagating.shape[1]
        counted = np.zeros((len(squared), *[n + leaves.shape[1]] * 2), dtype=bool)
        counted[:, :n, :n] = guided
        # a wave from beyond an open boundary is none of the answer
        if self.driven:
            counted[:, n:, 0] = True
        else:
            counted[:, n:, n:] = leaves[:, :, None] & leaves[:, None, :]
        return counted

    def weights(self, first: ComplexArray) -> Array:
        """How much more exactly each wave is wanted than S, (m,)."""
        if not self.driven:
            return np.ones(first.shape[1])
        return finer_weights(self.boundaries, first, len(self.port_modes), self._wanted)

    def admittance_at(self, squared: NDArray[Any]) -> ComplexArray:
        """Admittances of all waves that leave, at real or complex q (n,) [rad/m].

        (n, m), or matrices (n, m, m) where waves at an open boundary are coupled.
        """
        return with_open(self.guided_admittance(squared), self.boundaries, squared)

    def guided_admittance(self, squared: NDArray[Any]) -> ComplexArray:
        """Admittances (n, m) of the modes in the ports' guides at real or complex q [rad/m]."""
        beta = self.phase_constants(squared)
        magnetic = [mode.kind == "TM" for modes in self.modes for mode in modes]
        safe = np.where(beta == 0, 1e-9, beta)
        return np.where(magnetic, squared[:, None] / safe, beta)

    @property
    def port_modes(self) -> tuple[PortMode, ...]:
        """Names and cutoff frequencies of all port modes, those of port 1 first."""
        return tuple(
            mode.port_mode(number)
            for number, modes in enumerate(self.modes, start=1)
            for mode in modes
        )

    def mesh(self, refinement: int) -> SpaceMesh:
        """Make the mesh of a refinement."""
        first, self._first = self._first, None
        if first is not None and refinement == self._coarsest:
            return first
        return self._make_mesh(refinement)

    def spaces(self, mesh: SpaceMesh, orders: Sequence[int]) -> Iterator[tuple[EdgeSpace, Pencil]]:
        """Assemble the spaces of ascending orders."""
        for order in orders:
            space = edge_space(mesh.mesh, order)
            pencil = edge_pencil(space, permittivity=mesh.permittivity, stretch=mesh.stretch)
            yield space, Pencil(*pencil, self.columns(space, mesh))

    def columns(self, space: EdgeSpace, mesh: SpaceMesh) -> Array:
        """Columns (n, m) of all waves on a space's free unknowns."""
        # the squares of the modes' fields integrate to one over the whole port
        size = np.sqrt(mesh.images)
        columns = [
            size * port_columns(space, port.name, vector_fields(port, modes))
            for port, modes in zip(mesh.ports, self.modes, strict=True)
        ]
        columns += [
            port_columns(space, open_.name, open_.fields, extra_points=_FOR_WAVES)
            for open_ in self.boundaries
        ]
        return np.asarray(np.hstack(columns)[space.free_dofs])

    @property
    def solved_throughout(self) -> SpaceProblem:
        """The same problem with all compared answers solved."""
        if not self._look_ahead:
            return self
        other = copy(self)
        other._look_ahead = False
        other.orders = {mesh: tried[1:] for mesh, tried in self.orders.items()}
        return other

    @property
    def nested(self) -> SpaceProblem | None:
        """What looking ahead asks for: the problem itself, if it does."""
        return self if self._look_ahead else None

    def places(self, space: EdgeSpace, following: EdgeSpace) -> Numbers:
        """Places of a space's free unknowns among those of the next order."""
        return places_in_next(space, following)

    def told(self, squared: Array) -> NDArray[np.bool_]:
        """Elements (n, m, m) whose change `next_order` can tell: all."""
        return np.asarray(self.counted(squared))

    def fluxes(self, impedance: Array, squared: Array) -> ComplexArray:
        """Fluxes through the port columns for every wave that enters."""
        return open_fluxes(impedance, self.guided_admittance(squared), self.boundaries, squared)

    def scattering(self, mesh: SpaceMesh, impedance: Array, squared: Array) -> ComplexArray:
        """Scattering at the reference planes, and the amplitudes of power that leave."""
        guided = self.guided_admittance(squared)
        return open_scattering(impedance, guided, self.phases(squared), self.boundaries, squared)


def solve_in_space(
    problem: SpaceProblem, frequency: Array, s_error: float, report: Progress | None = None
) -> Solution[SpaceProblem]:
    """Solve a part in three dimensions until the error bar is under what was asked.

    Parameters
    ----------
    problem : SpaceProblem
    frequency : (n,) array
        Ascending frequencies [Hz].
    s_error : float
        Wanted bound on the error of every S-parameter between propagating modes.
    report : callable, optional

    Returns
    -------
    Solution

    Raises
    ------
    MeshingError, LinearSolveError, ProblemSizeError
    """
    found = search_levels(problem, s_error, report)
    found = with_shape_doubt(problem, found, s_error)
    return Solution(problem, np.asarray(frequency), found)


def apart(problem: SpaceProblem, highest: float) -> tuple[str, ...]:
    """Labels of modes that propagate up to `highest` [Hz] and that symmetry keeps apart."""
    names = []
    for number, (port, kept) in enumerate(zip(problem.ports, problem.modes, strict=True), start=1):
        for mode in space_modes(port.guide, highest, port.feed_length, 1.0):
            if mode not in kept:
                names.append(mode.port_mode(number).label)
    return tuple(names)


def vector_fields(port: SpacePort, modes: Sequence[SpaceMode]) -> Callable[[Array], Array]:
    """Fields of a port's modes: points (3, n) [m] to (m, 3, n) [1/m]."""
    frame = np.stack([port.x_axis, port.y_axis])

    def fields(points: Array) -> Array:
        x, y = frame @ (points - port.origin[:, None])
        local = np.array([mode.field(x, y) for mode in modes])
        return np.einsum("mtn,ti->min", local, frame)

    return fields
