"""The answer of a solved part at any frequencies of its band, with its bar.

The reduced models of the compared spaces answer at every frequency, so that the bar is read
between the listed frequencies as at them.  A narrow resonance has a bar of its own: how far its
place and height are settled says nothing of the rest of the band.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from geometries.arrays import Array, ComplexArray
from solver.fem.error_bar import bar_of, changes_of, largest
from solver.fem.level_ladder import LevelResult
from solver.fem.level_problem import LevelProblem, counted_answer, counted_change
from solver.fem.reduced_model import ReducedModel
from solver.fem.shape_doubt import shape_doubt


@dataclass(frozen=True, eq=False)
class BandAnswers:
    """Answers of the compared spaces at some frequencies.

    Parameters
    ----------
    frequency : (n,) array
        Ascending [Hz].
    s : (n, m, m) complex array
        The best answer, among all port modes and the waves past the ports.
    changes : tuple of (n,) array
        Largest change of any weighted element that counts, from each compared space to the next.
    added : (n,) array
        What is added to the bar that these give.
    least_ratio, ahead : float, bool
        See `bar_of`.
    compared : tuple of (n, m, m) complex array
        Weighted elements that count, coarse to fine, of the compared answers that are solved.
    alone : (n,) array, optional
        What takes the place of the comparison about a sharp resonance, beside the bar of the
        rest: that of the part with its losses, which may damp the resonance away.
    """

    frequency: Array
    s: ComplexArray
    changes: tuple[Array, ...]
    added: Array
    least_ratio: float
    ahead: bool
    compared: tuple[ComplexArray, ...] = ()
    alone: Array | None = None

    def joined(self, other: BandAnswers) -> BandAnswers:
        """Both sets of frequencies in one, ascending."""
        frequency = np.concatenate([self.frequency, other.frequency])
        order = np.argsort(frequency, kind="stable")

        def merged(a: NDArray[Any], b: NDArray[Any]) -> NDArray[Any]:
            return np.asarray(np.concatenate([a, b])[order])

        return BandAnswers(
            frequency[order],
            merged(self.s, other.s),
            tuple(merged(a, b) for a, b in zip(self.changes, other.changes, strict=True)),
            merged(self.added, other.added),
            self.least_ratio,
            self.ahead,
            tuple(merged(a, b) for a, b in zip(self.compared, other.compared, strict=True)),
            merged(self.alone, other.alone)
            if self.alone is not None and other.alone is not None
            else None,
        )

    def error(self, group: NDArray[np.integer]) -> Array:
        """Bound on the error of the weighted elements that count, (n,).

        Parameters
        ----------
        group : (n,) int array
            Frequencies of one number share one reading of how the answers draw together; those
            above 0 lie about a sharp resonance.
        """
        error = np.empty(len(self.frequency))
        for number in np.unique(group):
            here = group == number
            error[here] = bar_of(
                [change[here] for change in self.changes], self.least_ratio, self.ahead
            )
        error += self.added
        sharp = group > 0
        if self.alone is not None and sharp.any():
            elsewhere = float(error[~sharp].max(initial=0.0))
            error[sharp] = elsewhere + self.alone[sharp]
        return error


def answers_of(
    problem: LevelProblem,
    found: LevelResult,
    frequency: Array,
    more_doubt: Callable[[Array], Array] | None = None,
) -> BandAnswers:
    """Evaluate a solved part at frequencies of its band.

    Parameters
    ----------
    problem : LevelProblem
    found : LevelResult
    frequency : (n,) array
        Ascending, in the band [Hz].
    more_doubt : callable, optional
        Gives more of the bar at q (n,).

    Returns
    -------
    BandAnswers
    """
    squared = problem.squared_at(frequency)

    def answer(model: ReducedModel) -> ComplexArray:
        return counted_answer(problem, found.mesh, model, squared, found.weights)

    compared = tuple(answer(model) for model in found.levels)
    told = len(found.ahead)
    steps = zip(found.levels[len(found.levels) - told :], found.ahead, strict=True)
    changes = changes_of(compared)[: len(compared) - max(told, 1)]
    changes += [largest(counted_change(problem, *step, squared, found.weights)) for step in steps]
    added = shape_doubt(problem, found.shapes, squared)
    if found.last.before is not None:
        added = added + 2 * largest(compared[-1] - answer(found.last.before))
    if more_doubt is not None:
        added = added + more_doubt(squared)
    s = problem.scattering(found.mesh, found.last.model.impedance(squared), squared)
    least = problem.least_ratio[found.refinement]
    return BandAnswers(frequency, s, tuple(changes), added, least, bool(found.ahead), compared)
