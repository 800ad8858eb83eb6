"""What a search over sizes costs, how far it is, and when it is too much."""

from __future__ import annotations

import time
from collections.abc import Callable
from typing import Any

from solver.errors import StudyError
from solver.judgement.cost import half_waves, seconds_in_plane
from solver.progress import Progress
from solver.searches.size_families import Family
from solver.studies.band import Band
from solver.studies.inches import length_text

#: A search that takes longer is refused, or ended, unless more is asked for [min].
MOST_MINUTES = 20.0
#: Closest bound on S that any computation may be asked for [-].
_CLOSEST = 1e-9
#: Sizes of a quick scan that are solved after it, about.
_CONFIRMED = 5


def check_accuracy(largest: float, s_error: float) -> None:
    """Refuse a limit that lies under the accuracy: nothing could ever be decided.

    Parameters
    ----------
    largest : float
        Largest |S11| allowed [-].
    s_error : float
        Wanted bound on the error of S11 [-].

    Raises
    ------
    StudyError
    """
    if largest >= 2.0 * s_error:
        return
    needed = largest / 4.0
    change = "loosen the limit"
    if needed >= _CLOSEST:
        change = f"ask for s_error = {needed:.1g}, or {change}"
    raise StudyError(
        f"the limit allows |S11| = {largest:.3g}, under twice the accuracy asked for, s_error = "
        f"{s_error:.3g}: no size could be told to meet it; {change}"
    )


def seconds_by_modes(count: float) -> float:
    """Return about how long a bend with so many half waves takes by its modes [s]."""
    return 0.01 + 6e-4 * count


class SearchWatch:
    """Tells how far a search is and ends it when its time is up.

    Parameters
    ----------
    part : object
        One of the parts.
    family : Family
    band : Band
    most_minutes : float
        The ceiling.
    progress : callable or None

    Raises
    ------
    StudyError
        When it is clear before that the search takes longer.
    """

    def __init__(
        self,
        part: Any,
        family: Family,
        band: Band,
        most_minutes: float,
        progress: Progress | None,
    ) -> None:
        self._kind, self._most, self._progress = part.kind, most_minutes, progress
        self._start, self._done, self._count = time.monotonic(), 0.0, 0
        self._stage, self._band = "", band
        self.scanning(family, quickly=family.quick is not None)
        sizes, seconds = sorted(self._costs), self._whole
        if sizes and family.quick is not None:
            longest = half_waves(family.part_of(sizes[-1]), band)
            seconds += _CONFIRMED * seconds_in_plane(longest)
        if seconds > 60.0 * most_minutes:
            raise StudyError(
                f"the search would take {len(sizes)} sizes up to {sizes[-1] * 1e3:.0f} mm, about "
                f"{seconds / 60.0:.0f} minutes; at most {most_minutes:g} unless more are asked "
                "for (--most-minutes): loosen the limit, or narrow the band"
            )

    def scanning(self, family: Family, *, quickly: bool) -> None:
        """Note that a scan begins; the cost counts from the length of the parts."""
        sizes = family.known_sizes() if family.known_sizes is not None else ()
        seconds = seconds_by_modes if quickly else seconds_in_plane
        self._costs = {
            size: seconds(half_waves(family.part_of(size), self._band)) for size in sizes
        }
        self._stage, self._done, self._whole = "", 0.0, sum(self._costs.values())

    def computing(
        self, worst: Callable[[float], tuple[float, float]]
    ) -> Callable[[float], tuple[float, float]]:
        """Return a function of the size with its progress told, which ends when time is up."""

        def timed(size: float) -> tuple[float, float]:
            self._check(size)
            found = worst(size)
            self._count += 1
            self._done += self._costs.get(size, 0.0)
            return found

        return timed

    def closing_in(self) -> None:
        """Note that the scan is over."""
        self._stage, self._whole = ", closing in", 0.0

    def _check(self, size: float) -> None:
        minutes = (time.monotonic() - self._start) / 60.0
        if minutes > self._most:
            raise StudyError(
                f"ended after {minutes:.0f} minutes at {length_text(size, 4)}, {self._count} sizes "
                "computed: give more --most-minutes, with -o to go on from what is kept; or loosen "
                "the limit, or narrow the band"
            )
        if self._progress is not None:
            share = self._done / self._whole if self._whole else None
            text = f"{self._kind} {length_text(size, 4)}, {self._count} sizes done{self._stage}"
            self._progress(text, share)
