"""Spaces of rising order on one mesh: solve each, and see how far it is from the next."""

from __future__ import annotations

import time
from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from contextlib import contextmanager
from dataclasses import dataclass, field, replace
from typing import Any

import numpy as np
from numpy.typing import NDArray

from geometries.arrays import Array, ComplexArray
from solver.fem.driven_sweep import driven_sweep
from solver.fem.error_bar import bar_of, changes_of, largest
from solver.fem.level_problem import (
    LevelProblem,
    NestedSpaces,
    Pencil,
    counted_answer,
    counted_change,
    weighted,
)
from solver.fem.next_order import NewFunctions, ToldChange, next_order
from solver.fem.reduced_model import ReducedModel, Sweep, sweep

#: Largest tolerance of a sweep, where snapshots are cheap and where they are dear.
_CLOSEST, _CLOSE = 1e-6, 1e-4
#: Unknowns of the next order below which it is made while a sweep runs.
_BESIDE_A_SWEEP = 150_000


@dataclass(frozen=True, eq=False)
class LevelResult:
    """The best answer of a search, and its record.

    Parameters
    ----------
    mesh, space : object
        The mesh and space of the best answer.
    last : Sweep
        Its sweep.
    s : (n, m, m) complex array
        Scattering among all port modes, evanescent ones included.
    error : (n,) array
        Bound on the error of the elements that count, each times its weights.
    order, refinement : int
    reached : bool
        Whether the bar is under what was asked.
    steps : tuple of dict
        One entry a discretisation: order, refinement, unknowns, bar.
    factorisations : int
    seconds : dict
    levels : tuple of ReducedModel
        Models of the compared spaces of rising order, without their bases.
    ahead : tuple of ToldChange
        What the next order would change of the last of them; empty where all compared answers are
        solved.
    weights : (m,) array
        See `LevelProblem.weights`.
    before : Sweep or None
        The sweep of the next lower order on the same mesh.
    shapes : tuple of (mesh, ReducedModel)
        One space on two meshes whose difference is in doubt; empty where the shape is known.
    """

    mesh: Any
    space: Any
    last: Sweep
    s: ComplexArray
    error: Array
    order: int
    refinement: int
    reached: bool
    steps: tuple[dict[str, Any], ...]
    factorisations: int
    seconds: dict[str, float]
    levels: tuple[ReducedModel, ...]
    weights: Array
    ahead: tuple[ToldChange, ...] = ()
    before: Sweep | None = None
    shapes: tuple[tuple[Any, ReducedModel], ...] = ()


@dataclass
class Record:
    """Steps, factorisations and seconds of a search."""

    steps: list[dict[str, Any]] = field(default_factory=list)
    factorisations: int = 0
    seconds: dict[str, float] = field(
        default_factory=lambda: {"mesh": 0.0, "assembly": 0.0, "sweep": 0.0}
    )

    @contextmanager
    def timed(self, name: str) -> Iterator[None]:
        """Add the time of a block."""
        start = time.perf_counter()
        yield
        self.seconds[name] += time.perf_counter() - start


class Ladder:
    """Spaces of rising order on one mesh, and how far each answer is from the next.

    Attributes
    ----------
    last : Sweep
    weights : (m,) array or None
        See `LevelProblem.weights`.
    seconds : float
        What the last order took; 0 before the first.
    """

    last: Sweep
    weights: Array | None
    seconds = 0.0

    def __init__(
        self,
        problem: LevelProblem,
        mesh: Any,
        s_error: float,
        record: Record,
        weights: Array | None,
    ) -> None:
        self._problem, self._mesh, self._s_error = problem, mesh, s_error
        self._record, self.weights = record, weights
        self._models: list[ReducedModel] = []
        self._changes: list[Array] = []
        self._told: list[Array] = []
        self._ahead: list[ToldChange] = []
        self._before: Sweep | None = None
        self._following: tuple[Any, Pencil] | None = None

    def climb(self, order: int) -> None:
        """Solve up to an order: those below that the bar compares, or from the last one on."""
        below = self._problem.compared - (1 if self._problem.nested is None else 2)
        orders = range(order if self._models else order - below, order + 1)
        for number, (space, pencil) in zip(orders, self._spaces(orders), strict=True):
            start = time.perf_counter()
            self._space = space
            nested = self._problem.nested
            if nested is not None and nested.look is None:
                self._sweep_and_look_ahead(nested, pencil, number)
            else:
                self._sweep(pencil)
                if nested is not None and number == order:
                    self._look(nested, number)
            self.seconds = time.perf_counter() - start

    def _spaces(self, orders: range) -> Iterator[tuple[Any, Pencil]]:
        levels = self._problem.spaces(self._mesh, orders)
        for _ in orders:
            if self._following is not None:
                yield self._following
                continue
            with self._record.timed("assembly"):
                made = next(levels)
            yield made

    def _sweep(self, pencil: Pencil) -> None:
        first = not self._models
        shifts = () if first else self.last.enough
        with self._record.timed("sweep"):
            found = _sweep(
                self._problem, self._mesh, pencil, self._s_error, shifts, self.weights, first
            )
        self._record.factorisations += len(found.shifts)
        if self.weights is None:
            self.weights = self._problem.weights(found.response)
            found = replace(found, response=weighted(found.response, self.weights))
        if not first:
            self._before = self.last
            nested = self._problem.nested
            if nested is None or nested.look is not None:
                self._changes += changes_of([self.last.response, found.response])
        self.last = found
        watched = found.model if pencil.watched is None else found.model.watching(pencil.watched)
        self._models.append(watched.bare)

    def _sweep_and_look_ahead(self, nested: NestedSpaces, pencil: Pencil, order: int) -> None:
        """Sweep, and see what the next order would change, which is made meanwhile."""
        # beside the factors of a sweep that fill the memory there is no room for others
        room = len(pencil.columns) * ((order + 1) / order) ** 3 < _BESIDE_A_SWEEP
        with ThreadPoolExecutor(1) as beside:
            started = beside.submit(self._made_ahead, nested, order + 1) if room else None
            self._sweep(pencil)
            with self._record.timed("assembly"):
                made = self._made_ahead(nested, order + 1) if started is None else started.result()
        self._following, new = made
        with self._record.timed("sweep"):
            step = next_order(self.last.model, new, nested.fluxes, self._entering())
        self._ahead.append(step)
        self._changes.append(self._change(step))

    def _made_ahead(
        self, nested: NestedSpaces, order: int
    ) -> tuple[tuple[Any, Pencil], NewFunctions]:
        """Assemble an order above the last, and factorise its new functions."""
        space, pencil = next(self._problem.spaces(self._mesh, (order,)))
        parts = (pencil.stiffness, pencil.mass, pencil.columns)
        places = nested.places(self._space, space)
        return (space, pencil), NewFunctions(places, parts, self._problem.squared)

    def _look(self, nested: NestedSpaces, order: int) -> None:
        """Assemble the next order and see what it would change, as the problem looks at it."""
        problem = self._problem
        assert nested.look is not None
        with self._record.timed("assembly"):
            self._following = next(problem.spaces(self._mesh, (order + 1,)))
        pencil = self._following[1]
        with self._record.timed("sweep"):
            step = nested.look(
                self.last.model,
                (pencil.stiffness, pencil.mass, pencil.columns),
                nested.fluxes,
                problem.squared,
                self._entering(),
            )
        self._told, self._ahead = [self._change(step)], [step]

    def _entering(self) -> NDArray[np.bool_]:
        """Waves (m,) that enter: all that propagate, or those that drive."""
        assert self._following is not None
        moving, driven = self._problem.moving, self._following[1].driven
        return moving if driven is None else np.isin(np.arange(len(moving)), driven.columns)

    def _change(self, step: ToldChange) -> Array:
        """Largest change (n,) to the next order, which took one factorisation."""
        self._record.factorisations += 1
        assert self.weights is not None
        problem = self._problem
        return largest(
            counted_change(problem, self.last.model, step, problem.squared, self.weights)
        )

    def bar(self, least_ratio: float) -> Array:
        """Bound on the error of the last answer, (n,)."""
        told = self._told
        changes = self._changes[1 + len(told) - self._problem.compared :] + told
        ahead = self._problem.nested is not None
        return np.asarray(bar_of(changes, least_ratio, ahead) + 2 * self.last.change)

    def result(self, error: Array, order: int, refinement: int) -> LevelResult:
        """Return the last answer, with nothing of how it was searched for."""
        problem, model, most = self._problem, self.last.model, self._problem.compared
        s = problem.scattering(self._mesh, model.impedance(problem.squared), problem.squared)
        assert self.weights is not None
        ahead = tuple(self._ahead[1 - most :])
        return LevelResult(
            self._mesh,
            self._space,
            self.last,
            s,
            error,
            order,
            refinement,
            False,
            (),
            0,
            {},
            tuple(self._models[(1 if ahead else 0) - most :]),
            self.weights,
            ahead,
            self._before,
        )


def _sweep(
    problem: LevelProblem,
    mesh: Any,
    pencil: Pencil,
    s_error: float,
    shifts: tuple[float, ...],
    weights: Array | None,
    census: bool,
) -> Sweep:
    alike = np.ones(pencil.columns.shape[1]) if weights is None else weights

    def respond(model: ReducedModel) -> ComplexArray:
        return counted_answer(problem, mesh, model, problem.squared, alike)

    # where a factorisation is dear, no more of them than the bar needs
    most = _CLOSEST if pencil.driven is None and pencil.watched is None else _CLOSE
    tolerance = float(np.clip(0.02 * s_error, 1e-9, most))
    if pencil.driven is not None:
        parts = (pencil.stiffness, pencil.mass, pencil.columns)
        return driven_sweep(parts, problem.squared, respond, tolerance, pencil.driven, shifts)
    return sweep(
        pencil.stiffness,
        pencil.mass,
        pencil.columns,
        problem.squared,
        respond,
        tolerance,
        shifts,
        problem.moving,
        census,
        pencil.watched,
    )
