"""A study over a grid of one or two keys: which combinations meet the limit, over what band?"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from typing import Any

import numpy as np

from solver.judgement.quantities import (
    EXCEEDS,
    MEETS,
    NO_LIMIT,
    UNDECIDED,
    Judged,
    amplitude_over_band,
)
from solver.judgement.verdict import Verdict
from solver.searches.held_band import HeldBand
from solver.searches.part_curves import PartCurves
from solver.searches.varied_keys import Variation
from solver.studies.band import Band
from solver.studies.limits import Limit

REFUSED = "refused"


@dataclass(frozen=True)
class Worst:
    """The worst amplitude of a quantity over the band.

    Parameters
    ----------
    value : float
        |S11|, or the root of the leaked power [-].
    low, high : float
        Interval that holds the true one.
    at_hz : float
        [Hz]
    """

    value: float
    low: float
    high: float
    at_hz: float


@dataclass(frozen=True, eq=False)
class Cell:
    """One combination of the grid.

    Parameters
    ----------
    values : dict
        Value of each varied key, in its own unit.
    curves : PartCurves or None
        None if there is no such part.
    verdict : Verdict or None
    held : HeldBand or None
        None without a limit, or without a part.
    reason : str
        Why there is no such part.
    """

    values: dict[str, float]
    curves: PartCurves | None
    verdict: Verdict | None
    held: HeldBand | None
    reason: str = ""

    @property
    def outcome(self) -> str:
        """``"meets"``, ``"exceeds"``, ``"undecided"``, ``"no limit"`` or ``"refused"``."""
        return self.verdict.outcome if self.verdict is not None else REFUSED

    @property
    def reflection(self) -> Worst | None:
        r"""Worst \|S11\| over the band; None if the cell is refused."""
        return worst_over_band(self.curves.whole, "vswr") if self.curves is not None else None

    @property
    def leakage(self) -> Worst | None:
        """Worst root of the leaked power; None if the cell is refused or nothing leaks."""
        leaks = self.curves is not None and self.curves.leaked_power.any()
        return worst_over_band(self.curves.whole, "leakage_db") if self.curves and leaks else None


@dataclass(frozen=True)
class SharedBasis:
    """What a grid had from a basis that its parts share, and how that was held to account.

    Parameters
    ----------
    answered : int
        Parts whose curves come from it.
    alone : int
        Parts whose bar it left too large, so that they were solved alone.
    confirmed : int
        Parts that were solved alone as well, and agree.
    apart : float
        Largest difference of S in them, over the sum of both bars [-].
    order, unknowns, snapshots : int
        Of the space and the basis; 0 where all answers were kept from a run before.
    by_modes : bool
        Whether modes of the curved guide took the place of a basis.
    """

    answered: int
    alone: int = 0
    confirmed: int = 0
    apart: float = 0.0
    order: int = 0
    unknowns: int = 0
    snapshots: int = 0
    by_modes: bool = False


@dataclass(frozen=True, eq=False)
class Exploration:
    """A study over a grid.

    Parameters
    ----------
    title : str
    part : str
        The part in words: what stays, and the range of what varies.
    tables : dict
        The study's tables as the file holds them.
    variations : tuple of Variation
    band : Band
    limit : Limit or None
    design : float
        Frequency about which bands are looked for [Hz].
    s_error : float
        The accuracy that was asked for [-].
    cells : tuple of Cell
        The last key runs fastest.
    version : str
    middle : Component or None
        The part in the middle of the grid, or near it if none can be there.
    sampled : bool
        Whether the values of the keys go together, one of each a cell; otherwise all combinations.
    shared : SharedBasis or None
        What came from a basis that parts share; None where each was solved alone.
    """

    title: str
    part: str
    tables: dict[str, Any]
    variations: tuple[Variation, ...]
    band: Band
    limit: Limit | None
    design: float
    s_error: float
    cells: tuple[Cell, ...]
    version: str
    middle: Any = None
    sampled: bool = False
    shared: SharedBasis | None = None

    @property
    def scattered(self) -> bool:
        """Whether no curve and no map can show how the cells go on from one to the next."""
        return len(self.variations) > (1 if self.sampled else 2)

    @cached_property
    def leaks(self) -> bool:
        """Whether any power leaks in any cell."""
        return any(cell.leakage is not None for cell in self.cells)

    @property
    def outcomes(self) -> dict[str, int]:
        """Number of cells by outcome."""
        order = (MEETS, EXCEEDS, UNDECIDED, NO_LIMIT, REFUSED)
        return {name: sum(cell.outcome == name for cell in self.cells) for name in order}

    @property
    def outcome(self) -> str:
        """``"meets"`` if any cell does, else ``"undecided"`` if any is, else ``"exceeds"``.

        ``"no limit"`` where none was set.
        """
        count = self.outcomes
        if count[NO_LIMIT]:
            return NO_LIMIT
        return MEETS if count[MEETS] else UNDECIDED if count[UNDECIDED] else EXCEEDS

    @property
    def exit_code(self) -> int:
        """0 some combination meets, 1 none does, 3 none does but some are undecided.

        Without a limit 0, or 3 if no combination reached the accuracy that was asked for.
        """
        if self.outcome == NO_LIMIT:
            return 0 if any(cell.curves and cell.curves.reached for cell in self.cells) else 3
        return {MEETS: 0, EXCEEDS: 1, UNDECIDED: 3}[self.outcome]

    @property
    def spacing(self) -> float:
        """Largest distance of neighbouring frequencies [Hz]; 0 for a single one."""
        return float(np.max(np.diff(self.band.frequencies), initial=0.0))


def worst_over_band(curves: Judged, quantity: str) -> Worst:
    """Return the worst amplitude that a limit's quantity speaks of, with its interval."""
    amplitude, error = amplitude_over_band(curves, quantity)
    at = int(np.argmax(amplitude))
    return Worst(
        value=float(amplitude[at]),
        low=float(np.max(np.maximum(amplitude - error, 0.0))),
        high=float(np.max(amplitude + error)),
        at_hz=float(curves.frequency[at]),
    )
