"""Rectangular horns with thin walls in free space: E in a quarter of the space, layers about it.

The layers that absorb what leaves have complex coordinates that do not depend on frequency, so that
the matrices are those of a part that loses power, and one reduced model answers for the band. What
the layers send back is part of the bar: a space is solved with stronger ones too, a coarse one if
that is enough.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import replace
from functools import partial
from typing import Any

import numpy as np

from geometries.arrays import Array, ComplexArray
from geometries.cells.space_ports import FEED, SpaceMesh
from geometries.shapes.horns import RectangularHorn
from geometries.space_meshes.bare_horn_blocks import NEPERS, bare_horn_blocks
from solver.fem.band_answers import answers_of
from solver.fem.edge_space import EdgeSpace, edge_space
from solver.fem.error_bar import bar_after
from solver.fem.level_ladder import LevelResult
from solver.fem.level_problem import Pencil, counted_answer
from solver.fem.level_search import search_levels
from solver.fem.reduced_model import sweep
from solver.parts.field_picture import DRIVEN_MIRRORS
from solver.parts.peak_readings import ratios_in_space
from solver.parts.solution import Solution
from solver.parts.solved_part import SolvedPart, solved_part_of
from solver.parts.space_fields import space_picture
from solver.parts.space_solver import SpaceProblem, apart
from solver.progress import Progress
from solver.waves.guide_modes import SPEED_OF_LIGHT
from solver.waves.huygens_box import HuygensBox, watched_box
from solver.waves.radiation import Radiation, radiation_from

#: Orders tried on the one mesh; a finer one would take minutes an answer and many gigabytes.
ORDERS: Mapping[int, Sequence[int]] = {0: (4, 5)}
#: What the innermost cells at the thin edge leave falls as a power of the order: against the exact
#: reflection of open plates in these meshes, order 5 is off by 4.5 times the next change.
RATIOS: Mapping[int, float] = {0: 0.6}
#: How many times stronger the layers are that the first are compared with.
_STRONGER = 1.4
#: What is left of what the layers send back once they are stronger, and how well to look.
_SAFETY, _S_ERROR = 1.5, 1e-4
#: Angles from the axis at which patterns are given [deg]. Farther back the layer behind, in which
#: what a box sends there hardly decays, would have to be much deeper.
PATTERN_DEGREES = np.arange(0.0, 120.5, 1.0)
#: A change of the pattern that passes through zero at one angle is not believed there: part of the
#: largest before the aperture that counts at least.
_EVEN = 0.3


class BareHorn(SpaceProblem):
    """A horn in free space, as the search over levels asks for it.

    Parameters
    ----------
    horn : RectangularHorn
    frequency : (n,) array
        Ascending [Hz].
    s_error : float
    nepers : float
        See `bare_horn_blocks`.
    """

    def __init__(
        self, horn: RectangularHorn, frequency: Array, s_error: float, nepers: float = NEPERS
    ) -> None:
        ends = SPEED_OF_LIGHT / float(frequency[-1]), SPEED_OF_LIGHT / float(frequency[0])
        feed = FEED * horn.guide.longest_side

        def make_mesh(refinement: int) -> SpaceMesh:
            return bare_horn_blocks(
                horn, wavelengths=ends, refinement=refinement, feed=feed, nepers=nepers
            )

        super().__init__(
            make_mesh,
            frequency,
            s_error,
            ORDERS,
            RATIOS,
            lambda symmetry: symmetry == (1, 0),
            look_ahead=True,
        )

    def spaces(self, mesh: SpaceMesh, orders: Sequence[int]) -> Iterator[tuple[EdgeSpace, Pencil]]:
        """Assemble the spaces of ascending orders."""
        for space, pencil in super().spaces(mesh, orders):
            yield space, replace(pencil, watched=partial(watched_box, mesh, space))

    def far_fields(self, mesh: SpaceMesh, model: Any, squared: Array) -> ComplexArray:
        """Far field (n, 2, a) for a wave in the first mode; the square is per power that enters."""
        box = HuygensBox.of(mesh, edge_space(mesh.mesh, 1))
        flux = self.fluxes(np.asarray(model.impedance(squared)), squared)[:, :, 0]
        values = model.seen_of(squared, flux) / np.sqrt(mesh.images)
        fields = box.far_field(np.sqrt(squared), values, np.radians(PATTERN_DEGREES))
        return np.sqrt(4 * np.pi) * fields


class _Layers:
    """One space with two strengths of the layers, and what that changes.

    Parameters
    ----------
    problem, other : BareHorn
        The horn, and the same with stronger layers.
    found : LevelResult
        What was found of the first.
    below : int
        The space's order, counted from that of the answer down: 0 or 1.
    """

    def __init__(self, problem: BareHorn, other: BareHorn, found: LevelResult, below: int) -> None:
        self.problem = problem
        mesh = other.mesh(found.refinement)
        _, pencil = next(other.spaces(mesh, (found.order - below,)))

        def respond(model: Any) -> ComplexArray:
            return counted_answer(other, mesh, model, problem.squared, found.weights)

        last = sweep(
            pencil.stiffness,
            pencil.mass,
            pencil.columns,
            problem.squared,
            respond,
            _S_ERROR,
            found.last.shifts,
            problem.moving,
        )
        assert pencil.watched is not None
        stronger = last.model.watching(pencil.watched).bare
        self.pair: tuple[tuple[SpaceMesh, Any], ...] = (
            (found.mesh, found.levels[-1 - below]),
            (mesh, stronger),
        )

    def doubt(self, squared: Array) -> Array:
        """What the layers may send back, as part of the bar of S, (n,)."""
        problem = self.problem
        one, other = (
            problem.scattering(mesh, model.impedance(squared), squared)[:, 0, 0]
            for mesh, model in self.pair
        )
        return np.asarray(_SAFETY * np.abs(one - other))

    def far_doubt(self, squared: Array) -> Array:
        """The same of the far field, (n, a)."""
        one, other = (self.problem.far_fields(mesh, model, squared) for mesh, model in self.pair)
        return _SAFETY * _changed(one - other)


def solved_bare_horn(
    horn: RectangularHorn, frequency: Array, s_error: float, report: Progress | None
) -> SolvedPart:
    """Solve a rectangular horn with thin walls in free space.

    Parameters
    ----------
    horn : RectangularHorn
    frequency : (n,) array
        Ascending [Hz].
    s_error : float
    report : callable or None

    Raises
    ------
    MeshingError, LinearSolveError, ProblemSizeError
    """
    problem = BareHorn(horn, frequency, s_error)
    found = search_levels(problem, s_error, report)
    # a coarse space shows the layers badly but soon
    for below in (1, 0):
        if report:
            report(f"absorbing layers, once more with stronger ones, order {found.order - below}")
        other = BareHorn(horn, frequency, s_error, _STRONGER * NEPERS)
        layers = _Layers(problem, other, found, below)
        error = found.error + layers.doubt(problem.squared)
        if error.max() <= s_error or found.error.max() > s_error:
            break
    found = replace(found, error=error, reached=bool(error.max() <= s_error))
    solution: Solution[SpaceProblem] = Solution(problem, frequency, found)
    solved = solved_part_of(
        solution,
        s_error,
        method="curl-curl equation for E in a quarter of the space between two mirror planes, edge "
        f"elements of order {found.order} on hexahedra, absorbing layers of complex coordinates "
        "about the horn, reduced-model sweep",
        unknowns=found.last.model.basis.shape[0],
        uncoupled=apart(problem, float(frequency[-1])),
        picture=lambda at: space_picture(solution, at, mirrors=DRIVEN_MIRRORS),
        ratios=lambda at: ratios_in_space(solution, at),
        about="m = 1, 3, 5",
        doubt=layers.doubt,
    )
    return replace(solved, radiation=partial(_radiation, problem, found, layers))


def _radiation(
    problem: BareHorn, found: LevelResult, layers: _Layers, frequency: Array
) -> Radiation:
    """What leaves: all that is not thrown back, as the walls lose nothing."""
    squared = problem.squared_at(frequency)
    answers = answers_of(problem, found, frequency, layers.doubt)
    error = answers.error(np.zeros(len(squared), dtype=int))
    back = np.abs(answers.s[:, 0, 0])
    power = 1 - back**2
    compared = [problem.far_fields(found.mesh, model, squared) for model in found.levels[-2:]]
    # the next order is told of S alone
    change = _changed(compared[1] - compared[0])
    off = np.stack([bar_after(each) for each in change.T], axis=1)
    off += layers.far_doubt(squared)
    if found.last.before is not None:
        before = problem.far_fields(found.mesh, found.last.before, squared)
        off += 2 * _changed(compared[1] - before)
    size = np.sqrt(power)[:, None, None]
    fields = compared[1] / size
    # the directivity is over what leaves, which has a bar too
    bar = off[:, None] / size + np.abs(fields) * (back * error / power)[:, None, None]
    powers = power, 2 * back * error + error**2
    return radiation_from(frequency, powers, fields, bar, np.radians(PATTERN_DEGREES))


def _changed(change: ComplexArray) -> Array:
    """Change (n, 2, a) of far fields in either plane, (n, a)."""
    size = np.abs(change).max(axis=1)
    before = size[:, PATTERN_DEGREES <= 90.0].max(axis=1, keepdims=True)
    return np.maximum(size, _EVEN * before)
