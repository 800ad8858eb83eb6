"""From which size on does a curve stay under a limit, when it is not monotone?"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field

import numpy as np

from geometries.arrays import Array

#: A peak or a dip this close to the limit is followed to its top or bottom.
_NEAR = 0.05


@dataclass(eq=False)
class SizeCurve:
    """Worst reflection against size, every size computed once.

    Parameters
    ----------
    compute : callable
        Gives the worst |S11| over the band and its bar for a size [m].
    """

    compute: Callable[[float], tuple[float, float]]
    known: dict[float, tuple[float, float]] = field(default_factory=dict)

    def worst(self, size: float) -> float:
        """Worst |S11| at a size [m]."""
        return self._at(size)[0]

    def bar(self, size: float) -> float:
        """Bound on the error of `worst` at a size [m]."""
        return self._at(size)[1]

    def _at(self, size: float) -> tuple[float, float]:
        if size not in self.known:
            self.known[size] = self.compute(size)
        return self.known[size]

    @property
    def sizes(self) -> Array:
        """Sizes computed so far, ascending [m]."""
        return np.array(sorted(self.known))


@dataclass(frozen=True)
class Crossing:
    """A size at which the curve crosses the limit, and how sure that size is [m]."""

    size: float
    uncertainty: float


def last_crossing(curve: SizeCurve, limit: float, tolerance: float) -> Crossing | None:
    """Size from which the curve stays under the limit, among the sizes computed.

    Parameters
    ----------
    curve : SizeCurve
        Computed densely enough to show every peak.
    limit : float
        Largest |S11| allowed.
    tolerance : float
        How closely the size is wanted [m].

    Returns
    -------
    Crossing or None
        None when the largest size is still above the limit.  When no size is above it,
        the smallest size, with no uncertainty.
    """
    _follow(curve, limit, peaks=True)
    sizes = curve.sizes
    above = np.array([curve.worst(s) > limit for s in sizes])
    if above[-1]:
        return None
    if not above.any():
        return Crossing(float(sizes[0]), 0.0)
    last = int(np.flatnonzero(above)[-1])
    return _bisect(curve, limit, float(sizes[last]), float(sizes[last + 1]), tolerance)


def first_crossing(curve: SizeCurve, limit: float, tolerance: float) -> Crossing | None:
    """Smallest size that meets the limit at all; parameters as `last_crossing`."""
    _follow(curve, limit, peaks=False)
    sizes = curve.sizes
    under = np.array([curve.worst(s) <= limit for s in sizes])
    if not under.any():
        return None
    first = int(np.flatnonzero(under)[0])
    if first == 0:
        return Crossing(float(sizes[0]), 0.0)
    return _bisect(curve, limit, float(sizes[first - 1]), float(sizes[first]), tolerance)


def _follow(curve: SizeCurve, limit: float, *, peaks: bool) -> None:
    """Compute the curve at the tops of peaks just under the limit, or the bottoms of dips."""
    from scipy.optimize import minimize_scalar

    sizes = curve.sizes
    sign = -1.0 if peaks else 1.0
    values = sign * np.array([curve.worst(s) for s in sizes])
    for i in range(1, len(sizes) - 1):
        turns = values[i] <= values[i - 1] and values[i] <= values[i + 1]
        missed = 0.0 <= values[i] - sign * limit < _NEAR * limit
        if turns and missed:
            minimize_scalar(
                lambda s: sign * curve.worst(float(s)),
                bounds=(sizes[i - 1], sizes[i + 1]),
                method="bounded",
                options={"xatol": 0.02 * (sizes[i + 1] - sizes[i - 1])},
            )


def _bisect(
    curve: SizeCurve, limit: float, above: float, under: float, tolerance: float
) -> Crossing:
    """Close in on a crossing between a size above the limit and one under it."""
    while abs(above - under) > tolerance:
        middle = _interpolated(curve, limit, above, under)
        if curve.worst(middle) > limit:
            above = middle
        else:
            under = middle
    slope = abs(curve.worst(above) - curve.worst(under)) / abs(above - under)
    bar = max(curve.bar(above), curve.bar(under))
    return Crossing(under, abs(above - under) + bar / max(slope, 1e-300))


def _interpolated(curve: SizeCurve, limit: float, above: float, under: float) -> float:
    """Where a straight line would cross, kept off both ends so that the gap always shrinks."""
    high, low = curve.worst(above) - limit, limit - curve.worst(under)
    share = np.clip(high / (high + low), 0.1, 0.9) if high + low > 0 else 0.5
    return float(above + share * (under - above))
