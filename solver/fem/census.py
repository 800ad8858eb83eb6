"""Count the resonances of a closed part in a band by the inertia of factorisations.

By Sylvester's law of inertia K - q M has as many negative pivots as resonances lie below q, so
that two factorisations count those of a band, whether or not the ports drive them.
"""

from __future__ import annotations

from itertools import pairwise

from geometries.arrays import Array
from solver.fem.linear_solve import SymmetricSolver

#: Part of the band within which a resonance that the model lacks is no longer looked for.
_NARROWEST = 0.02


class Census:
    """How many resonances of the closed part lie below some q, beside those of a model.

    Parameters
    ----------
    solver : SymmetricSolver
        Of the pencil K - q M; counts negative pivots as it factorises.
    low, high : float
        Ends of the band, as q.
    """

    def __init__(self, solver: SymmetricSolver, low: float, high: float) -> None:
        self._solver, self._low, self._high = solver, low, high
        self._below: dict[float, int] = {}

    def note(self, shift: float) -> None:
        """Keep the count at the shift that was factorised last."""
        if self._solver.below is not None:
            self._below[shift] = self._solver.below

    def missing(self, poles: Array) -> list[float]:
        """Return a shift within the widest stretch of the band that holds more than the model.

        None where nothing is missing, or only what lies in a stretch too narrow to look into:
        fields that symmetry keeps apart from the ports.
        """
        for end in (self._low, self._high):
            if end not in self._below:
                self._solver.factorise(end)
                self.note(end)
        known = sorted(self._below)
        short = [
            (b - a, 0.5 * (a + b))
            for a, b in pairwise(known)
            if self._below[b] - self._below[a] > int(((poles > a) & (poles < b)).sum())
        ]
        width, middle = max(short, default=(0.0, 0.0))
        return [middle] if width > _NARROWEST * (self._high - self._low) else []
