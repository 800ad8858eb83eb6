"""Heat along a part that absorbs, as a value."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from geometries.arrays import Array


@dataclass(frozen=True, eq=False)
class HeatProfile:
    """Heat along a load for a wave that enters in TE10, at one frequency.

    Parameters
    ----------
    frequency : float
        [Hz]
    place : (n,) array
        Distance from the plane of the tip [m], ascending.
    fraction : (n,) array
        Part of the entering power that turns to heat in a length there [1/m]; the trapezoidal
        rule gives `total` to a part in a thousand.
    total : float
        Part of the entering power that does not come back [-].
    error : float
        Bound on the error of `fraction`, anywhere [1/m].
    densest : float
        Largest heat in a volume over the entering power [1/m^3].
    densest_place : float
        Where that is, from the plane of the tip [m].
    sharp : bool
        Whether the field has no bound at the absorber's edges; `densest` was then read a fiftieth
        of the guide's width away from them.
    """

    frequency: float
    place: Array
    fraction: Array
    total: float
    error: float
    densest: float
    densest_place: float
    sharp: bool


def hottest(heat: Callable[[float], HeatProfile], frequency: Array, worst: float) -> HeatProfile:
    """Return the profile with the densest heat at either end, the middle and the worst match.

    Parameters
    ----------
    heat : callable
        Gives the profile at a frequency [Hz].
    frequency : (n,) array
        Listed frequencies [Hz]; the profile is at one of them.
    worst : float
        Where the match is worst [Hz].
    """
    nearest = int(np.argmin(np.abs(frequency - worst)))
    looked = {0, len(frequency) // 2, len(frequency) - 1, nearest}
    profiles = [heat(float(frequency[i])) for i in sorted(looked)]
    return max(profiles, key=lambda profile: profile.densest)
