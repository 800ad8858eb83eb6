"""The band around a frequency in which a part holds its limits, with the error bar counted."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from geometries.arrays import Array
from solver.judgement.quantities import EXCEEDS, MEETS, UNDECIDED, Judged, share_of_limit
from solver.studies.limits import Limit


@dataclass(frozen=True)
class Edge:
    """One end of a band.

    Parameters
    ----------
    at : float
        Where the limit is crossed, linearly between two computed frequencies; or the end of the
        computed band [Hz].
    within : float
        Distance of those two frequencies [Hz]: what the edge is uncertain by.
    beyond : bool
        Whether no crossing was met, so that the limits hold at least as far as `at`.
    """

    at: float
    within: float
    beyond: bool


@dataclass(frozen=True)
class HeldBand:
    """The contiguous band around a design frequency in which every limit holds.

    Parameters
    ----------
    outcome : str
        At the design frequency: ``"meets"`` if every limit holds with the bar counted,
        ``"exceeds"`` if one fails even at the lower end of the bar, else ``"undecided"``.
    design : float
        [Hz]
    sure : (Edge, Edge) or None
        Low and high edge with the bar counted against the part; None unless it meets.
    possible : (Edge, Edge) or None
        Edges with the bar counted for the part; the true edges lie between. None if it exceeds.
    """

    outcome: str
    design: float
    sure: tuple[Edge, Edge] | None
    possible: tuple[Edge, Edge] | None

    @property
    def width(self) -> float:
        """Width of the sure band [Hz]; 0 if there is none."""
        return self.sure[1].at - self.sure[0].at if self.sure else 0.0

    @property
    def percent(self) -> float:
        """Width of the sure band over the design frequency [%]."""
        return 100.0 * self.width / self.design

    @property
    def at_least(self) -> bool:
        """Whether the sure band goes on past an end of the computed one."""
        return self.sure is not None and (self.sure[0].beyond or self.sure[1].beyond)

    @property
    def whole(self) -> bool:
        """Whether the sure band is all of the computed one."""
        return self.sure is not None and self.sure[0].beyond and self.sure[1].beyond


def held_band(curves: Judged, limit: Limit | None, design: float) -> HeldBand | None:
    """Find the band around a frequency in which every limit holds.

    Parameters
    ----------
    curves : ScatteringMatrix or PartCurves
    limit : Limit or None
    design : float
        Frequency inside the computed band [Hz].

    Returns
    -------
    HeldBand or None
        None where no limit was set.

    Notes
    -----
    At each computed frequency the upper and the lower end of the bar are taken over what the
    limit allows, the largest of all limits counting. Between frequencies both are joined by
    straight lines, so the frequencies should be those of `solver.judgement.whole_band`.
    """
    if limit is None or not limit.values:
        return None
    upper, lower = (share_of_limit(curves, limit, sign) for sign in (1.0, -1.0))
    sure, possible = (_edges(curves.frequency, share, design) for share in (upper, lower))
    outcome = MEETS if sure else UNDECIDED if possible else EXCEEDS
    return HeldBand(outcome, design, sure, possible)


def _edges(frequency: Array, share: Array, design: float) -> tuple[Edge, Edge] | None:
    """Where the share passes 1 on either side of the design frequency; None if it is above."""
    # A share that went through a logarithm and back equals 1 only to round-off.
    if np.interp(design, frequency, share) > 1.0 + 1e-12:
        return None
    # Downwards is upwards with the frequencies counted backwards.
    low = _edge_above(-frequency[::-1], share[::-1], -design)
    high = _edge_above(frequency, share, design)
    return Edge(-low.at, low.within, low.beyond), high


def _edge_above(frequency: Array, share: Array, design: float) -> Edge:
    fails = np.flatnonzero((frequency > design) & (share > 1.0 + 1e-12))
    if not fails.size:
        return Edge(float(frequency[-1]), 0.0, beyond=True)
    after = int(fails[0])
    x0, y0 = frequency[after - 1], share[after - 1]
    x1, y1 = frequency[after], share[after]
    crossing = x0 + (1.0 - y0) / (y1 - y0) * (x1 - x0)
    return Edge(float(np.clip(crossing, x0, x1)), float(x1 - x0), beyond=False)
