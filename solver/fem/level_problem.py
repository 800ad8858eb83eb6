"""What a search over levels asks of a problem, and what a level answers."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Any, Protocol

import numpy as np
from numpy.typing import NDArray
from scipy.sparse import csr_matrix

from geometries.arrays import Array, ComplexArray, Numbers
from solver.fem.next_order import ToldChange
from solver.fem.reduced_model import ReducedModel
from solver.fem.snapshots import Driven


@dataclass(frozen=True, eq=False)
class Pencil:
    """Upper triangles of K and M with one pattern, and port columns B (n, m).

    Where few of many columns drive the part, `driven` says which. `watched` turns fields (n, r)
    into (w, r) numbers that the models of a complex pencil keep of them.
    """

    stiffness: csr_matrix
    mass: csr_matrix
    columns: Array
    driven: Driven | None = None
    watched: Callable[[Array], ComplexArray] | None = None


class NestedSpaces(Protocol):
    """What looking ahead to the next order asks of a problem.

    Attributes
    ----------
    look : callable or None
        In place of `next_order`, where it tells the last change as exactly as solved answers tell
        those before it: from a model, K, M and B of the next order, `fluxes`, q of the band and
        which waves enter.
    """

    @property
    def look(self) -> Callable[..., Any] | None:
        """See the class."""

    def places(self, space: Any, following: Any) -> Numbers:
        """Places (n,) of a space's unknowns among those of the next order."""

    def fluxes(self, impedance: Array, squared: Array) -> ComplexArray:
        """Fluxes (n, m, m) through the port columns for every wave that enters."""

    def told(self, squared: Array) -> NDArray[np.bool_]:
        """Elements (n, m, m) of the answer, among those that count, whose change is told."""


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
    nested : NestedSpaces or None
        Where there, the last of the compared answers is not solved but told by `next_order`.
    """

    squared: Array
    moving: NDArray[np.bool_]
    orders: Mapping[int, Sequence[int]]
    compared: int
    least_ratio: Mapping[int, float]

    @property
    def nested(self) -> NestedSpaces | None:
        """See the class."""

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


def weighted(s: ComplexArray, weights: Array) -> ComplexArray:
    """Scattering matrices (n, m, m), each row and each column times its weight."""
    return s * weights[:, None] * weights


def counted_answer(
    problem: LevelProblem, mesh: Any, model: ReducedModel, squared: Array, weights: Array
) -> ComplexArray:
    """Weighted elements (n, m, m) that count, of a model's answer at q (n,); 0 elsewhere."""
    s = problem.scattering(mesh, model.impedance(squared), squared)
    return np.where(problem.counted(squared), weighted(s, weights), 0.0)


def counted_change(
    problem: LevelProblem, model: ReducedModel, step: ToldChange, squared: Array, weights: Array
) -> ComplexArray:
    """Weighted changes (n, m, m) of the elements that count, to the next order, at q (n,)."""
    nested = problem.nested
    assert nested is not None
    change = step.change(squared, nested.fluxes(model.impedance(squared), squared))
    told = problem.counted(squared) & nested.told(squared)
    return np.where(told, weighted(change, weights), 0.0)
