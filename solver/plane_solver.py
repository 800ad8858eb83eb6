"""Scattering of parts that reduce exactly to a plane, with an error bar.

The part is solved in three nested spaces, of degree p - 2, p - 1 and p on one mesh.
How fast successive answers draw together gives the bar of the last one; while the bar
is above what was asked, the degree rises, and then the mesh is refined.
"""

from __future__ import annotations

import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from geometries.bends import Bend
from geometries.corners import Corner
from geometries.guides import RectangularGuide
from geometries.parts_in_plane import mesh_in_plane
from geometries.plane_mesh import feed_length
from geometries.straights import Straight
from solver.error_bar import bar_from_levels
from solver.plane_modes import PlaneModes, modes_for
from solver.reduced_model import ReducedModel, Sweep, sweep
from solver.scalar_field import ScalarSystem, assemble

Array = NDArray[np.float64]
ComplexArray = NDArray[np.complex128]
Report = Callable[..., None]

#: Degrees tried on one mesh before it is refined, and refinements tried.
DEGREES = (6, 7, 8, 9, 10)
REFINEMENTS = (0, 1, 2)


@dataclass(frozen=True, eq=False)
class PlaneSolution:
    """Scattering in the plane, and how it was found.

    Parameters
    ----------
    modes : PlaneModes
    frequency : (n,) array
        Frequencies [Hz].
    s : (n, 2 count, 2 count) complex array
        Scattering among all modes kept at both ports, those of port 1 first; evanescent
        modes included, transverse-E amplitudes at the reference planes.
    error : (n,) array
        Bound on the error of the elements between propagating modes.
    system : ScalarSystem
    last : Sweep
    reached : bool
        Whether the bar is under what was asked.
    steps : tuple of dict
        One entry a discretisation: degree, refinement, unknowns, bar.
    factorisations : int
    seconds : dict
    """

    modes: PlaneModes
    frequency: Array
    s: ComplexArray
    error: Array
    system: ScalarSystem
    last: Sweep
    reached: bool
    steps: tuple[dict[str, object], ...]
    factorisations: int
    seconds: dict[str, float]


def plane_of(part: Bend | Corner | Straight) -> str:
    """Plane in which a part is solved; a straight part is taken in the H-plane."""
    return "H" if isinstance(part, Straight) else part.plane


def solve_in_plane(
    part: Bend | Corner | Straight,
    frequency: Array,
    s_error: float,
    report: Report | None = None,
) -> PlaneSolution:
    """Solve a part in its plane until the error bar is under what was asked.

    Parameters
    ----------
    part : Bend, Corner or Straight
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
    width = guide.narrow_height if plane == "E" else guide.broad_width
    leftover = min(1e-3 * s_error, 1e-8)
    modes = modes_for(guide, plane, float(frequency[-1]), feed_length(width), leftover)
    search = _Search(part, modes, np.asarray(frequency), s_error, report)
    for refinement in REFINEMENTS:
        search.start(refinement)
        for degree in DEGREES:
            if search.advance(degree):
                return search.result()
    return search.result()


class _Search:
    """Raises the degree on one mesh after the other, and keeps the best answer."""

    def __init__(
        self,
        part: Bend | Corner | Straight,
        modes: PlaneModes,
        frequency: Array,
        s_error: float,
        report: Report | None,
    ) -> None:
        self.part, self.modes, self.frequency = part, modes, frequency
        self.s_error, self.report = s_error, report
        self.squared = modes.wavenumber_squared(frequency)
        self.beta = modes.phase_constants(self.squared)
        propagating = np.tile(self.beta.real > 0, 2)
        self.among = propagating[:, :, None] & propagating[:, None, :]
        self.ever: NDArray[np.bool_] = np.asarray(propagating.any(axis=0))
        self.steps: list[dict[str, object]] = []
        self.seconds = {"mesh": 0.0, "assembly": 0.0, "sweep": 0.0}
        self.factorisations = 0
        self.best: PlaneSolution | None = None

    def start(self, refinement: int) -> None:
        """Make the mesh of a refinement."""
        self.refinement = refinement
        self.answers: list[ComplexArray] = []
        self.shifts: tuple[float, ...] = ()
        wavelength = 2 * np.pi / np.sqrt(self.squared[-1])
        with _timed(self.seconds, "mesh"):
            self.mesh = mesh_in_plane(
                self.part, wavelength, plane=self.modes.plane, refinement=refinement
            )

    def advance(self, degree: int) -> bool:
        """Solve in the space of one more degree; True when the bar is small enough."""
        if self.report:
            self.report(f"degree {degree} on {self.mesh.description['cells']} cells")
        with _timed(self.seconds, "assembly"):
            system = assemble(
                self.mesh, degree, self.modes.functions, fixed_wall=self.modes.plane == "H"
            )
        first = not self.answers
        with _timed(self.seconds, "sweep"):
            for lower in (degree - 2, degree - 1, degree) if first else (degree,):
                last = self._sweep(system, lower)
        error = bar_from_levels(self.answers[-3:]) + 2 * last.change
        self.steps.append(
            {
                "degree": degree,
                "refinement": self.refinement,
                "unknowns": system.sizes[degree],
                "bar": float(error.max()),
            }
        )
        if self.best is None or error.max() < self.best.error.max():
            s = self._scattering(system, last.model)
            self.best = PlaneSolution(
                self.modes, self.frequency, s, error, system, last, False, (), 0, {}
            )
        return bool(error.max() <= self.s_error)

    def result(self) -> PlaneSolution:
        """The best answer, with the record of the search."""
        assert self.best is not None
        return replace(
            self.best,
            reached=bool(self.best.error.max() <= self.s_error),
            steps=tuple(self.steps),
            factorisations=self.factorisations,
            seconds=self.seconds,
        )

    def _sweep(self, system: ScalarSystem, degree: int) -> Sweep:
        def respond(model: ReducedModel) -> ComplexArray:
            return np.where(self.among, self._scattering(system, model), 0.0)

        last = sweep(
            *system.at_degree(degree),
            self.squared,
            respond,
            float(np.clip(0.02 * self.s_error, 1e-9, 1e-6)),
            self.shifts,
            self.ever,
        )
        self.shifts = last.shifts
        self.factorisations += len(last.shifts)
        self.answers.append(last.response)
        return last

    def _scattering(self, system: ScalarSystem, model: ReducedModel) -> ComplexArray:
        feeds = [port.feed_length for port in system.plane_mesh.ports]
        impedance = model.impedance(self.squared)
        return scattering(impedance, self.beta, feeds, self.modes.reflection_sign)


@contextmanager
def _timed(seconds: dict[str, float], name: str) -> Iterator[None]:
    start = time.perf_counter()
    yield
    seconds[name] += time.perf_counter() - start


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
    impedance : (n, 2 m, 2 m) array
        ``B^T (K - q M)^-1 B``.
    beta : (n, m) complex array
        Phase constants of the m modes, the same at both ports [rad/m]; the imaginary
        part is minus the attenuation, which the feeds give back too.
    feeds : list of float
        Straight guide between each port and its reference plane [m].
    reflection_sign : float
        `PlaneModes.reflection_sign`.
    admittance : (n, m) complex array, optional
        What takes the place of beta in the ports' condition where the walls lose power.

    Returns
    -------
    (n, 2 m, 2 m) complex array
        Evanescent modes keep the amplitudes they have at the port.

    Notes
    -----
    With amplitudes normalised to power, W = sqrt(beta) and Z' = W Z W, the matched form
    ``(K - q M + j B beta B^T) u = 2 j B beta a`` gives ``S = (1 + j Z')^-1 (j Z' - 1)``.
    """
    m = beta.shape[1]
    root = np.sqrt(np.tile(beta if admittance is None else admittance, 2))
    z = 1j * root[:, :, None] * impedance * root[:, None, :]
    unit = np.eye(2 * m)
    s = np.linalg.solve(unit + z, z - unit)
    distance = np.repeat(feeds, m)
    propagating = np.tile(beta.real > -beta.imag, 2)
    phase = np.exp(1j * np.where(propagating, np.tile(beta, 2), 0.0) * distance)
    same = np.kron(np.eye(2), np.ones((m, m))) > 0
    sign = np.where(same, reflection_sign, 1.0)
    return sign * phase[:, :, None] * s * phase[:, None, :]
