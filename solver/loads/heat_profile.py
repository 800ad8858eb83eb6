"""Heat along a part that absorbs, as a value."""

from __future__ import annotations

from dataclasses import dataclass

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
