"""Raise the order on one mesh after the other until the error bar is small enough.

The plane solver and the three-dimensional one share this loop: both solve a pencil
``K - q M`` with port columns in spaces of rising order, and compare successive answers.
"""

from __future__ import annotations

import time
from collections.abc import Iterator, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, field, replace
from typing import Any, Protocol

import numpy as np
from numpy.typing import NDArray
from scipy.sparse import csr_matrix

from geometries.arrays import Array, ComplexArray
from solver.fem.error_bar import bar_of
from solver.fem.loaded_snapshots import Driven
from solver.fem.reduced_model import ReducedModel, Sweep, sweep
from solver.progress import Progress, ends_early

#: Largest tolerance of a sweep, where snapshots are cheap and where they are dear.
_CLOSEST, _CLOSE = 1e-6, 1e-4


@dataclass(frozen=True, eq=False)
class Pencil:
    """Upper triangles of K and M with one pattern, and port columns B (n, m).

    Where few of many columns drive the part, `driven` says which.
    """

    stiffness: csr_matrix
    mass: csr_matrix
    columns: Array
    driven: Driven | None = None


class LevelProblem(Protocol):
    """What the loop asks of a problem.

    Attributes
    ----------
    squared : (n,) array
        Values q of the band, ascending [rad^2/m^2].
    moving : (m,) bool array
        Port modes that propagate somewhere in the band.
    orders : mapping of int to sequence of int
        For each refinement the orders tried on its mesh; the first is at least `compared`.
    compared : int
        Answers of successive orders that the bar compares: 3, or 4 for the surer bar.
    least_ratio : mapping of int to float
        For each refinement; see `bar_from_levels`.
    """

    squared: Array
    moving: NDArray[np.bool_]
    orders: Mapping[int, Sequence[int]]
    compared: int
    least_ratio: Mapping[int, float]

    def mesh(self, refinement: int) -> Any:
        """Make the mesh of a refinement."""

    def spaces(self, mesh: Any, orders: Sequence[int]) -> Iterator[tuple[Any, Pencil]]:
        """Assemble the spaces of ascending orders."""

    def scattering(self, mesh: Any, impedance: Array, squared: Array) -> ComplexArray:
        """Turn impedance matrices (n, m, m) at q (n,) into scattering matrices (n, m, m)."""

    def counted(self, squared: Array) -> NDArray[np.bool_]:
        """Elements (n, m, m) of the answer that count at q: those between propagating modes."""

    def weights(self, first: ComplexArray) -> Array:
        """How much more exactly each wave is wanted than S, (m,), from the first answer."""

    def admittance_at(self, squared: Array | ComplexArray) -> ComplexArray:
        """Admittances (n, m) of all waves that leave, at real or complex q (n,)."""

    def squared_at(self, frequency: Array) -> Array:
        """Return q at frequencies (n,) [Hz]."""


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
    before: Sweep | None = None
    shapes: tuple[tuple[Any, ReducedModel], ...] = ()


@dataclass
class _Record:
    steps: list[dict[str, Any]] = field(default_factory=list)
    factorisations: int = 0
    seconds: dict[str, float] = field(
        default_factory=lambda: {"mesh": 0.0, "assembly": 0.0, "sweep": 0.0}
    )

    @contextmanager
    def timed(self, name: str) -> Iterator[None]:
        start = time.perf_counter()
        yield
        self.seconds[name] += time.perf_counter() - start


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
    """
    record = _Record()
    best: LevelResult | None = None
    try:
        for better in _answers(problem, s_error, record, report):
            best = better
    except KeyboardInterrupt:
        if best is None or not ends_early(report):
            raise
    assert best is not None
    return _recorded(best, bool(best.error.max() <= s_error), record)


def _answers(
    problem: LevelProblem, s_error: float, record: _Record, report: Progress | None
) -> Iterator[LevelResult]:
    """Give the best answer so far after each discretisation, until one is good enough."""
    best: LevelResult | None = None
    weights: Array | None = None
    most = sum(len(tried) for tried in problem.orders.values())
    for refinement, tried in problem.orders.items():
        with record.timed("mesh"):
            mesh = problem.mesh(refinement)
        answers: list[ComplexArray] = []
        models: list[ReducedModel] = []
        shifts: tuple[float, ...] = ()
        last: Sweep | None = None
        before: Sweep | None = None
        for order in tried:
            if report:
                step = f"step {len(record.steps) + 1} of at most {most}"
                report(f"order {order}, mesh {refinement + 1}, {step}")
            orders = range(order if answers else order - problem.compared + 1, order + 1)
            levels = problem.spaces(mesh, orders)
            for _ in orders:
                with record.timed("assembly"):
                    space, pencil = next(levels)
                before = last
                with record.timed("sweep"):
                    last = _sweep(problem, mesh, pencil, s_error, shifts, weights, not answers)
                shifts = last.shifts
                record.factorisations += len(shifts)
                if weights is None:
                    weights = problem.weights(last.response)
                    last = replace(last, response=weighted(last.response, weights))
                answers.append(last.response)
                models.append(last.model.bare)
            assert last is not None and weights is not None
            latest, least = answers[-problem.compared :], problem.least_ratio[refinement]
            error = bar_of(latest, least) + 2 * last.change
            record.steps.append(
                {
                    "order": order,
                    "refinement": refinement,
                    "unknowns": len(pencil.columns),
                    "bar": float(error.max()),
                }
            )
            if best is None or error.max() < best.error.max():
                s = problem.scattering(mesh, last.model.impedance(problem.squared), problem.squared)
                compared = tuple(models[-problem.compared :])
                found = (mesh, space, last, s, error, order, refinement)
                best = LevelResult(*found, False, (), 0, {}, compared, weights, before)
            yield best
            if error.max() <= s_error:
                return


def weighted(s: ComplexArray, weights: Array) -> ComplexArray:
    """Scattering matrices (n, m, m), each row and each column times its weight."""
    return s * weights[:, None] * weights


def counted_answer(
    problem: LevelProblem, mesh: Any, model: ReducedModel, squared: Array, weights: Array
) -> ComplexArray:
    """Weighted elements (n, m, m) that count, of a model's answer at q (n,); 0 elsewhere."""
    s = problem.scattering(mesh, model.impedance(squared), squared)
    return np.where(problem.counted(squared), weighted(s, weights), 0.0)


def _recorded(best: LevelResult, reached: bool, record: _Record) -> LevelResult:
    return replace(
        best,
        reached=reached,
        steps=tuple(record.steps),
        factorisations=record.factorisations,
        seconds=record.seconds,
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

    # where a factorisation has many waves to let out, no more of them than the bar needs
    most = _CLOSEST if pencil.driven is None else _CLOSE
    tolerance = float(np.clip(0.02 * s_error, 1e-9, most))
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
        pencil.driven,
    )
