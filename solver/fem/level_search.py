"""Raise the order on one mesh after the other until the error bar is small enough.

The plane solver and the three-dimensional one share this loop: both solve a pencil
``K - q M`` with port columns in spaces of rising order, and compare successive answers.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

from geometries.arrays import Array
from solver.errors import ProblemSizeError
from solver.fem.level_ladder import Ladder, LevelResult, Record
from solver.fem.level_problem import LevelProblem
from solver.progress import Progress, ends_early, time_text

#: The time of a space goes about as this power of its order.
_GROWTH = 5.0


def search_levels(
    problem: LevelProblem, s_error: float, report: Progress | None = None
) -> LevelResult:
    """Solve a problem until the bar of its scattering matrix is under `s_error`.

    Parameters
    ----------
    problem : LevelProblem
    s_error : float
        Wanted bound on the error of every element that counts.
    report : callable, optional
        Is told in one line what is being done.

    Returns
    -------
    LevelResult
        With ``reached`` false when the accuracy could not be had.

    Raises
    ------
    ProblemSizeError
        If not even the first answer fits into memory; later ones end the search.
    """
    record = Record()
    best: LevelResult | None = None
    try:
        for better in _answers(problem, s_error, record, report):
            best = better
    except KeyboardInterrupt:
        if best is None or not ends_early(report):
            raise
    except ProblemSizeError as error:
        if best is None:
            raise
        if report:
            report(f"{error}; the answer before it is kept")
    assert best is not None
    return _recorded(best, bool(best.error.max() <= s_error), record)


def _answers(
    problem: LevelProblem, s_error: float, record: Record, report: Progress | None
) -> Iterator[LevelResult]:
    """Give the best answer so far after each discretisation, until one is good enough."""
    best: LevelResult | None = None
    weights: Array | None = None
    most = sum(len(tried) for tried in problem.orders.values())
    for refinement, tried in problem.orders.items():
        with record.timed("mesh"):
            mesh = problem.mesh(refinement)
        ladder = Ladder(problem, mesh, s_error, record, weights)
        for order in tried:
            if report:
                step = f"step {len(record.steps) + 1} of at most {most}"
                step += time_text(ladder.seconds * (order / max(order - 1, 1)) ** _GROWTH)
                report(f"order {order}, mesh {refinement + 1}, {step}")
            ladder.climb(order)
            error = ladder.bar(problem.least_ratio[refinement])
            unknowns = ladder.last.model.basis.shape[0]
            entry = {"order": order, "refinement": refinement, "unknowns": unknowns}
            record.steps.append(entry | {"bar": float(error.max())})
            if best is None or error.max() < best.error.max():
                best = ladder.result(error, order, refinement)
            yield best
            if error.max() <= s_error:
                return
        weights = ladder.weights


def _recorded(best: LevelResult, reached: bool, record: Record) -> LevelResult:
    return replace(
        best,
        reached=reached,
        steps=tuple(record.steps),
        factorisations=record.factorisations,
        seconds=record.seconds,
    )
