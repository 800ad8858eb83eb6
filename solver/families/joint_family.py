"""Joints that differ in gap and groove depths, solved together in a quarter of the space.

All of them are meshed by the same cells, and one basis serves them all: after the first few
factorisations a joint costs a small problem. Its bar is read as that of a joint solved alone, from
two spaces and what the next order would change of each; what the basis leaves out is counted on
top.
"""

from __future__ import annotations

from copy import copy
from dataclasses import dataclass, fields, replace
from functools import cached_property
from typing import Any

import numpy as np
from numpy.typing import NDArray

from geometries.arrays import Array
from geometries.cells.space_ports import SpaceMesh
from geometries.shapes.rotating_joints import RotatingJoint
from geometries.space_meshes.choke_lines import Joint, JointBox
from solver.errors import UnsupportedPartError
from solver.families.shared_ahead import AheadModel
from solver.families.shared_basis import SharedLevel
from solver.families.shared_space import Member
from solver.fem.band_answers import BandAnswers, answers_of
from solver.fem.level_ladder import LevelResult
from solver.fem.reduced_model import ReducedModel, Sweep
from solver.parts.quarter_solver import quarter_problem, shortest_wavelength
from solver.parts.solution import Solution
from solver.parts.solved_part import SolvedPart, solved_part_of
from solver.parts.space_solver import SpaceProblem, apart
from solver.waves.rim_waves import RimWaves

Small = tuple[ReducedModel, ReducedModel, AheadModel | None]

#: Coupling under which a resonance may be one of the basis alone, over the wanted accuracy; and
#: how many times that its absence may change the answer.
_FAINT, _BROUGHT = 1e-3, 10.0


@dataclass(frozen=True, eq=False)
class JointFamily:
    """Joints of one box over one band, and the small problems that answer for them.

    Parameters
    ----------
    box : JointBox
    frequency : (n,) array
        Ascending [Hz].
    s_error : float
        Wanted bound on the error of every S-parameter between propagating modes.
    levels : tuple of SharedLevel
        Two or three, of successive orders, each of which tells the change to the next. A joint is
        answered for by the best two.
    order : int
        That of the last.
    """

    box: JointBox
    frequency: Array
    s_error: float
    levels: tuple[SharedLevel, ...] = ()
    order: int = 0

    def __reduce__(self) -> tuple[Any, ...]:
        # what is derived is made again in the process that needs it
        return type(self), tuple(getattr(self, field.name) for field in fields(self))

    @cached_property
    def _wavelength(self) -> float:
        return shortest_wavelength(self.box.least, self.frequency)

    @cached_property
    def _ends(self) -> Array:
        """Least and largest of all lengths that stretch, (2, l) [m]."""
        ends = (self.box.least, self.box.largest)
        return np.array([self.box.stretches(part, self._wavelength) for part in ends])

    @cached_property
    def _varied(self) -> NDArray[np.bool_]:
        return np.asarray(self._ends[1] > self._ends[0] * (1 + 1e-9))

    @cached_property
    def _reference(self) -> Array:
        return np.asarray(np.sqrt(self._ends[0] * self._ends[1]))

    @property
    def bounds(self) -> Array:
        """Least and largest of the lengths that vary, over the reference, (2, n) [-]."""
        return np.asarray((self._ends / self._reference)[:, self._varied])

    def lengths_of(self, part: Joint) -> Array:
        """Lengths (n,) of a joint that vary in the box, over the reference [-]."""
        lengths = self.box.stretches(part, self._wavelength) / self._reference
        return np.asarray(lengths[self._varied])

    def part_of(self, lengths: Array) -> Joint:
        """The joint of some lengths (n,) over the reference."""
        every = self._reference.copy()
        every[self._varied] *= lengths
        return self.box.stretched(every, self._wavelength)

    @cached_property
    def setting(self) -> tuple[SpaceProblem, SpaceMesh]:
        """Problem and mesh of the joint at the reference."""
        problem = self.problem_alone(np.ones(int(self._varied.sum())))
        return problem, problem.mesh(0)

    def problem_alone(self, lengths: Array) -> SpaceProblem:
        """The problem of a joint with a mesh of its own, of the cells that all share."""
        part = self.part_of(lengths)
        return quarter_problem(part, self.frequency, self.s_error, box=self.box)

    def problem_of(self, part: Joint) -> SpaceProblem:
        """The problem of a joint, without a mesh of its own."""
        problem = copy(self.setting[0])
        rims = [rim for rim in problem.boundaries if isinstance(rim, RimWaves)]
        problem.boundaries = tuple(replace(rim, gap=part.gap) for rim in rims)
        return problem

    def member(self, part: Joint) -> Member:
        """A joint as one of those that share a basis."""
        reference, problem = self.setting[0], self.problem_of(part)
        rims = [rim for rim in reference.boundaries if isinstance(rim, RimWaves)]
        scale = [np.ones(len(reference.port_modes))]
        scale += [rim.scale(part.gap / rim.gap) for rim in rims]
        middle = np.array([0.5 * (problem.squared[0] + problem.squared[-1])])
        load = np.abs(problem.admittance_at(middle)[0])
        load = load if load.ndim == 1 else np.diag(load)
        return Member(self.lengths_of(part), np.concatenate(scale), load, problem.fluxes)

    @property
    def squared_band(self) -> tuple[float, float]:
        """Least and largest q."""
        squared = self.setting[0].squared
        return float(squared[0]), float(squared[-1])

    def models(self, level: SharedLevel, member: Member) -> Small:
        """Small problems of a joint in one space; see `SharedLevel.models`."""
        faint = _FAINT * self.s_error
        return level.models(member.lengths, member.scale, member.load, self.squared_band, faint)

    def _doubt(self, squared: Array) -> Array:
        """What resonances of the basis alone may have brought, (n,)."""
        return np.full(len(squared), _BROUGHT * _FAINT * self.s_error)

    def found(self, part: Joint) -> tuple[LevelResult, BandAnswers]:
        """What the small problems of a joint answer, as a search over orders would tell it.

        With the answers at the listed frequencies.
        """
        member, most = self.member(part), len(self.levels) - 1
        upper = self.models(self.levels[most], member)
        best: tuple[LevelResult, BandAnswers] | None = None
        for number in range(most, 0, -1):
            lower = self.models(self.levels[number - 1], member)
            found = self._of_two(part, number, (lower, upper))
            if best is None or found[0].error.max() < best[0].error.max():
                best = found
            if best[0].reached:
                break
            upper = lower
        assert best is not None
        return best

    def _of_two(
        self, part: Joint, number: int, made: tuple[Small, Small]
    ) -> tuple[LevelResult, BandAnswers]:
        """What the small problems of two orders answer, the higher that of a level."""
        problem, mesh, squared = self.problem_of(part), self.setting[1], self.setting[0].squared
        models = tuple(model for model, _, _ in made)
        first = problem.scattering(mesh, models[0].impedance(squared), squared)
        none, weights = np.zeros(len(self.frequency)), problem.weights(first)
        last = Sweep(models[-1], first, none, (), made[-1][1])
        order = self.order + number + 1 - len(self.levels)
        step = {"order": order, "refinement": 0, "unknowns": self.levels[number].unknowns}
        found = LevelResult(
            mesh, None, last, first, none, order, 0, False, (step,), 0, {}, models, weights
        )
        ahead: Any = tuple(step for _, _, step in made)
        found = replace(found, ahead=ahead)
        answers = answers_of(problem, found, self.frequency, self._doubt)
        error = answers.error(np.zeros(len(self.frequency), dtype=np.int64))
        reached = bool(error.max() <= self.s_error)
        return replace(found, s=answers.s, error=error, reached=reached), answers

    def solved(self, part: Joint) -> SolvedPart:
        """Answer for a joint of the box; its field is not told, for the basis stays behind."""
        problem, (found, listed) = self.problem_of(part), self.found(part)
        solved = solved_part_of(
            Solution(problem, self.frequency, found),
            self.s_error,
            method="curl-curl equation for E in a quarter of the space between two mirror planes, "
            f"edge elements of order {found.order} on hexahedra, radial line of the gap matched, "
            "one basis for all joints of a box",
            unknowns=found.steps[0]["unknowns"],
            uncoupled=apart(problem, float(self.frequency[-1])),
            picture=_no_field,
            ratios=_no_field,
            doubt=self._doubt,
            about="m = 1" if isinstance(part, RotatingJoint) else "m = 1, 3, 5",
        )

        def answers(at: Array) -> BandAnswers:
            return listed if np.array_equal(at, self.frequency) else solved.answers(at)

        return replace(solved, answers=answers)


def _no_field(at: Any) -> Any:
    raise UnsupportedPartError("a joint of a shared basis tells no field: solve it alone")
