"""Which lengths of a taper have to be computed, as its closed form tells.

A long taper costs seconds, and near a cutoff the reflection falls so slowly that hundreds of
lengths would be scanned.  The closed form falls within some 1e-4 of the computed curve and costs
a millisecond.  It is held against computed lengths all along, and what it is off there, doubled,
says how far it is believed between them: wherever it leaves open on which side of the limit the
worst reflection lies, lengths are computed.  It decides nothing by itself: crossings are computed
on both sides.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from typing import Protocol

import numpy as np
from numpy.typing import NDArray

from geometries.arrays import Array

#: Worst |S11| (n,) of a closed form at sizes (n,) [m].
Guide = Callable[[Array], Array]

#: Sizes that are computed whatever the guide says grow by this factor.
_GROWTH = 1.6
#: The largest of them over the last size that the guide sees above the limit, at most.
_BEYOND = 1.1
#: Nothing is computed from where on the guide stays under this part of the limit.
_WELL_UNDER = 0.8
#: A guide that was off by more than this part of the limit is not believed to show every turn.
_FAR_OFF = 0.15
#: The guide is doubted by this part of the limit at least.
_CLOSE = 0.01
#: By how much more than at the sizes nearest by it may be off in between.
_DOUBT = 2.0
#: Steps of the guide in the shortest ripple.
STEPS = 10


class ComputedCurve(Protocol):
    """Worst |S11| against size, as far as it is computed.

    Attributes
    ----------
    sizes : (n,) array
        Sizes computed so far, ascending [m].
    """

    @property
    def sizes(self) -> Array:
        """See the class."""

    def worst(self, size: float) -> float:
        """Worst |S11| at a size [m]."""


@dataclass(frozen=True)
class GuidedScan:
    """Yields the sizes that a search for a limit has to compute.

    Parameters
    ----------
    guide : callable
        See `Guide`.
    sizes : (n,) array
        Where the guide is followed, evenly and `STEPS` times in a ripple [m].
    largest : float
        Largest |S11| allowed [-].
    tolerance : float
        How closely a crossing is wanted [m].
    """

    guide: Guide
    sizes: Array
    largest: float
    tolerance: float

    def __call__(self, curve: ComputedCurve) -> Iterator[float]:
        """Yield sizes; the curve has to know each before the next is asked for."""
        expected = self.guide(self.sizes)
        stays = np.maximum.accumulate(expected[::-1])[::-1] <= _WELL_UNDER * self.largest
        top = int(np.argmax(stays)) if stays.any() else len(stays) - 1
        top = min(max(top, 2 * STEPS), len(stays) - 1)
        above = np.flatnonzero(expected > self.largest)
        enough = self.sizes[above[-1]] if above.size else self.sizes[0]
        size = float(self.sizes[0])
        while size <= enough:
            yield size
            size *= _GROWTH
        yield min(size, float(self.sizes[top]), max(_BEYOND * enough, 2.0 * float(self.sizes[0])))
        expected = expected[: top + 1]
        yield from self.sizes[: top + 1][self._open(curve, expected)]
        for last in (True, False):
            yield from self._crossing(curve, expected, last)

    def _open(self, curve: ComputedCurve, expected: Array) -> NDArray[np.bool_]:
        """Which sizes the guide leaves open, among those that could hold a turn."""
        sizes, off = self.sizes[: len(expected)], self._off(curve, len(expected))
        doubt = np.maximum(_DOUBT * off, _CLOSE * self.largest)
        near = np.abs(expected - self.largest) <= doubt
        above = expected > self.largest
        last = np.flatnonzero(above)[-1] if above.any() else 0
        first = np.flatnonzero(~above)[0] if not above.all() else len(sizes)
        index = np.arange(len(sizes))
        turns = np.zeros(len(sizes), dtype=bool)
        inner, before, after = expected[1:-1], expected[:-2], expected[2:]
        peaks = (inner >= before) & (inner >= after) & (index[1:-1] > last - 2 * STEPS)
        dips = (inner <= before) & (inner <= after) & (index[1:-1] < first + 2 * STEPS)
        turns[1:-1] = (peaks | dips) & near[1:-1]
        # with its neighbours, so that it can be followed to its top
        turns[1:-1] |= turns[2:] | turns[:-2]
        return np.asarray(turns | (near & (off > _FAR_OFF * self.largest) & (index % 2 == 0)))

    def _off(self, curve: ComputedCurve, count: int) -> Array:
        """How far the guide was off at the three computed sizes nearest to each of the first."""
        known = curve.sizes
        off = np.abs(np.array([curve.worst(s) for s in known]) - self.guide(known))
        distance = np.abs(np.log(self.sizes[:count, None] / known))
        nearest = np.argsort(distance, axis=1)[:, :3]
        return np.asarray(off[nearest].max(axis=1))

    def _crossing(self, curve: ComputedCurve, expected: Array, last: bool) -> Iterator[float]:
        """Yield sizes on both sides of a crossing, closer to each other than the tolerance."""
        place = self._place(curve, expected, 0.0, last)
        if place is None:
            return
        yield place
        better = self._place(curve, expected, place, last)
        if better is None:
            return
        if abs(better - place) < 0.8 * self.tolerance:
            beyond = curve.worst(place) > self.largest
            yield place + (0.9 if beyond else -0.9) * self.tolerance
            return
        yield better - 0.45 * self.tolerance
        yield better + 0.45 * self.tolerance

    def _place(
        self, curve: ComputedCurve, expected: Array, near: float, last: bool
    ) -> float | None:
        """Where the guide, shifted to the computed size nearest by, crosses the limit."""
        from scipy.optimize import brentq

        known = curve.sizes
        for _ in range(2):
            closest = float(known[int(np.argmin(np.abs(known - near)))]) if near else None
            shift = self._shift(curve, closest) if closest is not None else 0.0
            above = expected + shift > self.largest
            changes = np.flatnonzero(above[:-1] != above[1:])
            if not changes.size:
                return None
            i = int(changes[-1 if last else 0])
            low, high = float(self.sizes[i]), float(self.sizes[i + 1])
            near = near or low
        wanted = self.largest - shift

        def beyond(size: float) -> float:
            return float(self.guide(np.array([size]))[0] - wanted)

        if beyond(low) * beyond(high) > 0:
            return low
        return float(brentq(beyond, low, high, xtol=0.02 * self.tolerance))

    def _shift(self, curve: ComputedCurve, size: float) -> float:
        return curve.worst(size) - float(self.guide(np.array([size]))[0])
