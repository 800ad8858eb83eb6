"""The frequencies at which a part is judged."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field
from itertools import pairwise

import numpy as np

from geometries.arrays import Array
from solver.errors import StudyError

#: More points than this only repeat the same curve; the reduced model is smooth between them.
MOST_POINTS = 20001
#: Frequencies below this were meant in another unit: the largest guide passes none [Hz].
_LOWEST = 1e6


def hertz(gigahertz: float) -> float:
    """Return a frequency [GHz] in Hz, to a millihertz, so that 8.2 GHz is 8200000000 Hz.

    Examples
    --------
    >>> hertz(8.2), 8.2 * 1e9
    (8200000000.0, 8199999999.999999)
    """
    return round(gigahertz * 1e9, 3)


@dataclass(frozen=True)
class Band:
    """A band of equally spaced frequencies, or a list of frequencies.

    Parameters
    ----------
    start, stop : float
        First and last frequency [Hz]; 0 < start < stop.
    points : int, optional
        Number of frequencies, both ends included; 2 to `MOST_POINTS`.
    listed : tuple of float, optional
        The frequencies themselves [Hz], ascending; `Band.at` fills it.

    Raises
    ------
    StudyError
        If the band is empty, reversed, not finite, or has too many points.

    Examples
    --------
    >>> Band(8.2e9, 12.4e9, 3).frequencies
    array([8.20e+09, 1.03e+10, 1.24e+10])
    """

    start: float
    stop: float
    points: int = 201
    listed: tuple[float, ...] = field(default=(), repr=False)

    def __post_init__(self) -> None:
        if not (np.isfinite([self.start, self.stop]).all() and self.start > 0):
            raise StudyError(
                f"band: start {self.start:g} Hz and stop {self.stop:g} Hz must be finite, > 0"
            )
        if self.stop < _LOWEST:
            raise StudyError(
                f"band: {self.start:g} to {self.stop:g} Hz: frequencies are in hertz, so that 8.2 "
                "GHz is 8.2e9; no guide here carries so low ones"
            )
        if not 1 <= self.points <= MOST_POINTS:
            raise StudyError(f"band: points = {self.points}: must be 1 to {MOST_POINTS}")
        if not self.listed and (self.points < 2 or self.start >= self.stop):
            raise StudyError(
                f"band: start {self.start / 1e9:g} GHz must be below stop {self.stop / 1e9:g} GHz, "
                f"with at least 2 points (points = {self.points})"
            )

    @classmethod
    def at(cls, frequencies: Iterable[float]) -> Band:
        """Return the band of the listed frequencies [Hz], which must ascend."""
        listed = tuple(float(f) for f in frequencies)
        if not listed:
            raise StudyError("band: no frequencies were listed")
        if any(b <= a for a, b in pairwise(listed)):
            raise StudyError("band: the listed frequencies must ascend, none twice")
        return cls(listed[0], listed[-1], len(listed), listed)

    @property
    def frequencies(self) -> Array:
        """All frequencies, ascending, (points,) [Hz]."""
        if self.listed:
            return np.array(self.listed)
        return np.linspace(self.start, self.stop, self.points)

    @property
    def centre(self) -> float:
        """Arithmetic mean of the two ends [Hz]."""
        return 0.5 * (self.start + self.stop)
