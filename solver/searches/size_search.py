"""From which size on does a curve stay under a limit, when it is not monotone?"""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass, field

import numpy as np

from geometries.arrays import Array

#: A peak or a dip this close to the limit is followed to its top or bottom.
_NEAR = 0.05
#: A size is foreseen when it is off by less than this part of its distance from the limit.
_FORESEEN = 0.05
#: Part of a worst |S11| by which it may lie under the top between frequencies.
_TOPS = 2e-6
#: Which of the sizes is confirmed whatever it answers.
_SOME = 0.29

WorstAt = Callable[[float], tuple[float, float]]


@dataclass(eq=False)
class SizeCurve:
    """Worst reflection against size, every size computed once.

    Parameters
    ----------
    compute : callable
        Gives the worst |S11| over the band and its bar for a size [m].
    quick : callable, optional
        Gives the same by other means, which cost next to nothing, with a bar of 1 where it cannot.
        What decides has to be confirmed by `compute`.
    """

    compute: WorstAt
    quick: WorstAt | None = None
    known: dict[float, tuple[float, float]] = field(default_factory=dict)
    confirmed: set[float] = field(default_factory=set)

    def worst(self, size: float) -> float:
        """Worst |S11| at a size [m]."""
        return self._at(size)[0]

    def bar(self, size: float) -> float:
        """Bound on the error of `worst` at a size [m]."""
        return self._at(size)[1]

    def _at(self, size: float) -> tuple[float, float]:
        if size not in self.known:
            found = self.quick(size) if self.quick is not None else None
            if found is None or found[1] >= 1.0:
                found = self.compute(size)
                self.confirmed.add(size)
            self.known[size] = found
        return self.known[size]

    def confirm(self, sizes: Iterable[float]) -> bool:
        """Compute sizes that were known quickly, and tell whether all agree within both bars."""
        for size in sizes:
            (quick, its_bar), (worst, bar) = self._at(size), self.compute(size)
            self.known[size] = worst, bar
            self.confirmed.add(size)
            if abs(quick - worst) > its_bar + bar + _TOPS * max(quick, worst):
                return False
        return True

    def keep_confirmed(self) -> None:
        """Forget what was known quickly, and compute all else."""
        self.quick = None
        self.known = {size: self.known[size] for size in self.confirmed}

    @property
    def sizes(self) -> Array:
        """Sizes computed so far, ascending [m]."""
        return np.array(sorted(self.known))


@dataclass(frozen=True)
class Crossing:
    """A size under a limit, how sure it is, and the next one above the limit, if any [m]."""

    size: float
    uncertainty: float
    above: float | None = None


def last_crossing(
    curve: SizeCurve, limit: float, tolerance: float, *, follow: bool = True
) -> Crossing | None:
    """Size from which the curve stays under the limit, among the sizes computed.

    Parameters
    ----------
    curve : SizeCurve
        Computed densely enough to show every peak.
    limit : float
        Largest |S11| allowed.
    tolerance : float
        How closely the size is wanted [m].
    follow : bool
        Whether peaks close to the limit are followed to their tops first.

    Returns
    -------
    Crossing or None
        None when the largest size is still above the limit.  When no size is above it,
        the smallest size, with no uncertainty.
    """
    if follow:
        _follow(curve, limit, peaks=True)
    sizes = curve.sizes
    above = np.array([curve.worst(s) > limit for s in sizes])
    if above[-1]:
        return None
    if not above.any():
        return Crossing(float(sizes[0]), 0.0)
    last = int(np.flatnonzero(above)[-1])
    return _bisect(curve, limit, float(sizes[last]), float(sizes[last + 1]), tolerance)


def first_crossing(
    curve: SizeCurve, limit: float, tolerance: float, *, follow: bool = True
) -> Crossing | None:
    """Smallest size that meets the limit at all; parameters as `last_crossing`."""
    if follow:
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
    sizes = curve.sizes
    sign = -1.0 if peaks else 1.0
    values = sign * np.array([curve.worst(s) for s in sizes])
    for i in range(1, len(sizes) - 1):
        turns = values[i] <= values[i - 1] and values[i] <= values[i + 1]
        missed = 0.0 <= values[i] - sign * limit < _NEAR * limit
        if turns and missed:
            # its import takes longer than a size that is known quickly
            from scipy.optimize import minimize_scalar

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
    return Crossing(under, abs(above - under) + bar / max(slope, 1e-300), above)


def crossings(
    curve: SizeCurve, limit: float, tolerance: float
) -> tuple[Crossing | None, Crossing | None]:
    """Last and first crossing of a curve; what decides is confirmed where it was known quickly.

    Parameters
    ----------
    curve, limit, tolerance
        As those of `last_crossing`.

    Returns
    -------
    Crossing or None, Crossing or None

    Raises
    ------
    ContradictionError
        When what was confirmed is not what was known.
    """
    follow = True
    while True:
        last = last_crossing(curve, limit, tolerance, follow=follow)
        first = first_crossing(curve, limit, tolerance, follow=follow)
        wanted = [s for s in _decisive(curve, last, first) if s not in curve.confirmed]
        if not wanted:
            return last, first
        if not curve.confirm(wanted):
            raise ContradictionError
        follow = False


def as_foreseen(curve: SizeCurve, size: float, limit: float) -> bool:
    """Whether the worst |S11| at a size is what a parabola through the three before it foretells.

    To within a small part of its distance from the limit, on the same side of it.  A ripple of
    amplitude A that is seen five times a period puts such a parabola wrong by 1.6 A, one seen
    three times by 5 A: one that could take the curve across the limit between two sizes shows.
    """
    before = curve.sizes[curve.sizes < size][-3:]
    if len(before) < 3:
        return False
    values = np.array([curve.worst(s) for s in before])
    foreseen = 0.0
    for i in range(3):
        others = np.delete(before, i)
        foreseen += values[i] * np.prod((size - others) / (before[i] - others))
    found = curve.worst(size)
    crossed = (values[-1] > limit) != (found > limit)
    return not crossed and abs(found - foreseen) < _FORESEEN * abs(found - limit)


class ContradictionError(ArithmeticError):
    """Two ways to compute one value differ by more than their bars."""


def _decisive(curve: SizeCurve, last: Crossing | None, first: Crossing | None) -> list[float]:
    """Sizes on which an answer rests: about the crossings, the highest peak and the lowest dip."""
    sizes = curve.sizes
    worst = np.array([curve.worst(s) for s in sizes])
    found = [float(sizes[int(_SOME * (len(sizes) - 1))]), float(sizes[-1]) if last is None else 0.0]
    for crossing in (last, first):
        if crossing is not None:
            found += [crossing.size, crossing.above or 0.0]
    beyond = worst if last is None else worst[sizes >= last.size]
    before = worst if first is None else worst[sizes <= (first.above or 0.0)]
    found.append(float(sizes[len(sizes) - len(beyond) + top]) if (top := _turn(beyond)) else 0.0)
    found.append(float(sizes[len(before) - 1 - low]) if (low := _turn(-before[::-1])) else 0.0)
    return [size for size in dict.fromkeys(found) if size]


def _turn(values: Array) -> int:
    """Where values are largest past their first rise; 0 where they only fall."""
    rises = np.flatnonzero(np.diff(values) > 0)
    return int(rises[0] + 1 + np.argmax(values[rises[0] + 1 :])) if rises.size else 0


def _interpolated(curve: SizeCurve, limit: float, above: float, under: float) -> float:
    """Where a straight line would cross, kept off both ends so that the gap always shrinks."""
    high, low = curve.worst(above) - limit, limit - curve.worst(under)
    share = np.clip(high / (high + low), 0.1, 0.9) if high + low > 0 else 0.5
    return float(above + share * (under - above))
