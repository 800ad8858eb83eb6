"""A solved problem: what was asked, and what the search over levels found, whatever the method."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from typing import Generic, Protocol, TypeVar

import numpy as np

from geometries.arrays import Array, ComplexArray
from solver.fem.level_ladder import LevelResult
from solver.fem.level_problem import LevelProblem
from solver.waves.open_boundaries import OpenBoundary
from solver.waves.scattering import PortMode, leaked_power


class PartProblem(LevelProblem, Protocol):
    """A part as a problem, with what leaves it.

    Attributes
    ----------
    port_modes : tuple of PortMode
        The first rows and columns of every answer, those of port 1 first.
    boundaries : tuple of OpenBoundary
        Their waves are the rows and columns after them.
    """

    boundaries: tuple[OpenBoundary, ...]

    @property
    def port_modes(self) -> tuple[PortMode, ...]:
        """See the class."""


P = TypeVar("P", bound=PartProblem)


@dataclass(frozen=True, eq=False)
class Solution(Generic[P]):
    """Scattering and leakage of a part, and how they were found.

    One value serves every method: what differs between them is in the problem.

    Parameters
    ----------
    problem : PartProblem
        A `ScalarProblem` in the plane or half-plane, or a `SpaceProblem`.
    frequency : (n,) array
        [Hz]
    found : LevelResult
        ``found.s`` is (n, m + w, m + w) over the m port modes and the w waves past them.
    """

    problem: P
    frequency: Array
    found: LevelResult

    @property
    def s(self) -> ComplexArray:
        """Scattering (n, m, m) among the port modes, evanescent ones included."""
        m = len(self.problem.port_modes)
        return self.found.s[:, :m, :m]

    @property
    def error(self) -> Array:
        """Bound on the error of the elements between propagating modes, (n,)."""
        return self.found.error

    @property
    def reached(self) -> bool:
        """Whether the bar is under what was asked."""
        return self.found.reached

    @property
    def leaked_power(self) -> Array:
        """Power past the ports over that which enters in the first mode, (n,) [-]."""
        return self._leaked[0]

    @property
    def leaked_error(self) -> Array:
        """Bound on its error, (n,) [-]."""
        return self._leaked[1]

    @cached_property
    def _leaked(self) -> tuple[Array, Array]:
        none = np.zeros(len(self.frequency))
        return leaked_of(self.problem, self.found, self.found.s, self.error) or (none, none)


def leaked_of(
    problem: PartProblem, found: LevelResult, s: ComplexArray, error: Array
) -> tuple[Array, Array] | None:
    """Power that leaves through open boundaries, and its bar [-]; None where there are none.

    Parameters
    ----------
    problem : PartProblem
    found : LevelResult
    s : (n, m + w, m + w) complex array
    error : (n,) array
        Bound on the error of each element times its weight.
    """
    if not problem.boundaries:
        return None
    return leaked_power(s, error, found.weights, len(problem.port_modes))
