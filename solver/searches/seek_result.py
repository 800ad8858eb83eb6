"""What a search for the least leakage or reflection found."""

from __future__ import annotations

from dataclasses import dataclass

from solver.searches.exploration import Worst
from solver.searches.varied_keys import Span

#: How much more than the least still counts as flat [dB].
FLAT_DB = 1.0
#: What can end a flat range.
SPAN_END, ONE_DB_MORE, NO_PART = "end of the interval", "1 dB more", "no part beyond"


@dataclass(frozen=True)
class FlatRange:
    """How far one key can move from the best value, all others fixed.

    Parameters
    ----------
    key : str
    low, high : float
        Ends of the range in which the quantity stays within `FLAT_DB` of the least.
    low_end, high_end : str
        What ends it: the quantity, the interval that was searched, or parts that cannot be.
    within : float
        Uncertainty of the ends.
    """

    key: str
    low: float
    high: float
    low_end: str
    high_end: str
    within: float


@dataclass(frozen=True, eq=False)
class SeekResult:
    """The best part that a search found.

    Parameters
    ----------
    title : str
    quantity : str
        ``"leakage"`` or ``"reflection"``.
    spans : tuple of Span
    frequencies : (float, float, int)
        First and last frequency [Hz] and their number.
    values : dict
        Best value of each key.
    least : Worst
        The quantity there, as an amplitude: the worst over the frequencies.
    error : float
        Bound on the error of S there [-].
    wanted : float
        Bound that was asked for [-].
    reached : bool
        Whether it was reached there.
    flat : tuple of FlatRange
    evaluations, refused : int
        Parts that were asked for, and those among them that cannot be built or solved.
    tried : tuple of (dict, float)
        Values and amplitude of every part, in the order of the search; NaN for a refused one.
    """

    title: str
    quantity: str
    spans: tuple[Span, ...]
    frequencies: tuple[float, float, int]
    values: dict[str, float]
    least: Worst
    error: float
    wanted: float
    reached: bool
    flat: tuple[FlatRange, ...]
    evaluations: int
    refused: int
    tried: tuple[tuple[dict[str, float], float], ...]

    @property
    def resolved(self) -> bool:
        """Whether the least value is above the accuracy; under it all parts are alike."""
        return self.reached and self.least.value > self.wanted

    @property
    def at_ends(self) -> tuple[str, ...]:
        """Keys whose best value lies at an end of the interval."""
        return tuple(
            span.key
            for span in self.spans
            if min(self.values[span.key] - span.low, span.high - self.values[span.key])
            <= 2e-3 * (span.high - span.low)
        )

    @property
    def exit_code(self) -> int:
        """0 found; 3 the accuracy that was asked for was not reached there."""
        return 0 if self.reached else 3
