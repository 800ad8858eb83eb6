"""Parts that differ in one size: bends by radius, twists and tapers by length."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from geometries.shapes.bends import Bend, width_in_plane
from geometries.shapes.guides import RectangularGuide
from geometries.shapes.tapers import Taper
from geometries.shapes.twists import Twist
from solver.searches.size_search import SizeCurve
from solver.studies.band import Band
from solver.waves.guide_modes import guide_wavelength

#: The search for a bend starts at an inner radius of this part of the width.
TIGHTEST = 0.02
#: In three dimensions S is not asked for closer than this, which would take minutes a size.
CLOSEST_IN_SPACE = 1e-4
#: A twist or taper is scanned until its worst reflection stayed under this part of the limit.
_WELL_UNDER = 0.7
_LONGEST_IN_WAVELENGTHS = 12.0
#: Bar that is asked for far from the limit, over the limit.
_COARSE = 0.05


@dataclass(frozen=True)
class Family:
    """Parts that differ in one size, and how to scan it.

    Parameters
    ----------
    part_of : callable
        Gives the part of a size [m].
    scan : callable
        Yields the sizes to compute, ascending; it may look at the curve so far.
    worst : callable
        Gives the worst |S11| over the band and its bar for a size [m].
    tolerance : float
        How closely a size is wanted [m].
    reason : str
        Why sizes beyond the scan need no look.
    """

    part_of: Callable[[float], Any]
    scan: Callable[[SizeCurve], Iterator[float]]
    worst: Callable[[float], tuple[float, float]]
    tolerance: float
    reason: str


def bends(
    guide: RectangularGuide, plane: str, angle: float, band: Band, largest: float, s_error: float
) -> Family:
    """Bends of every radius, from nearly sharp to gentle beyond doubt."""
    width = width_in_plane(guide, plane)
    least = Bend(guide, plane, angle, (0.5 + TIGHTEST) * width)  # type: ignore[arg-type]
    gentle = 10.0 * width
    envelope = _envelope(replace(least, mean_radius=gentle), band)
    top = max(gentle * math.sqrt(envelope / (0.8 * largest)), 2.0 * width)
    # the two ends cancel each time the arc grows by half a guide wavelength
    ripple = 0.5 * float(guide_wavelength(guide, band.frequencies[-1])) / angle

    def part_of(radius: float) -> Bend:
        return replace(least, mean_radius=radius)

    def scan(_: SizeCurve) -> Iterator[float]:
        size = least.mean_radius
        yield size
        while size < top:
            size += min(0.1 * ripple, (0.1 if size < 2 * width else 0.25) * width)
            yield size

    return Family(
        part_of,
        scan,
        lambda size: _worst_over_band(part_of(size), band, s_error),
        2e-5,
        "beyond it the closed form's envelope is under the limit and falls as the square of the "
        "radius",
    )


def twists(
    guide: RectangularGuide, angle: float, band: Band, largest: float, s_error: float
) -> Family:
    """Twists of one angle and every length."""
    return _by_length(lambda length: Twist(guide, angle, length), guide, band, largest, s_error)


def tapers(
    guide: RectangularGuide, to_guide: RectangularGuide, band: Band, largest: float, s_error: float
) -> Family:
    """Linear tapers between two guides, of every length."""
    return _by_length(lambda length: Taper(guide, to_guide, length), guide, band, largest, s_error)


def _by_length(
    part_of: Callable[[float], Any],
    guide: RectangularGuide,
    band: Band,
    largest: float,
    s_error: float,
) -> Family:
    ripple = 0.5 * float(guide_wavelength(guide, band.frequencies[-1]))
    longest_ripple = 0.5 * float(guide_wavelength(guide, band.frequencies[0]))
    error = max(s_error, CLOSEST_IN_SPACE)

    def scan(curve: SizeCurve) -> Iterator[float]:
        size = 0.3 * guide.broad_width
        yield size
        while size < _LONGEST_IN_WAVELENGTHS * 2 * longest_ripple:
            size += 0.2 * ripple
            yield size
            recent = [s for s in curve.sizes if s > size - 1.5 * longest_ripple]
            low = all(curve.worst(s) < _WELL_UNDER * largest for s in recent)
            if low and size - curve.sizes[0] > 1.5 * longest_ripple:
                return

    return Family(
        part_of,
        scan,
        lambda size: _worst_in_space(part_of(size), band, largest, error),
        1e-4,
        f"over its last {1.5 * longest_ripple * 1e3:.3g} mm, one and a half periods of the "
        f"ripple, the worst reflection stayed under {_WELL_UNDER} of the limit, and it falls with "
        "length",
    )


def _worst_over_band(part: Any, band: Band, s_error: float) -> tuple[float, float]:
    """Worst |S11| over the whole band, between the points too, and its bar."""
    from solver.judgement.assess_part import solve_part
    from solver.judgement.whole_band import whole_band

    solved, _ = solve_part(part, band, s_error=s_error)
    whole = whole_band(solved, band.frequencies)
    if whole.unsampled:
        return 1.0, 1.0
    reflected, error = np.abs(whole.scattering.s11), whole.scattering.error
    worst = float(reflected.max())
    above = min(float((reflected + error).max()), 1.0) - worst
    below = worst - float(np.maximum(reflected - error, 0.0).max())
    return worst, max(above, below)


def _worst_in_space(part: Any, band: Band, largest: float, s_error: float) -> tuple[float, float]:
    """Worst |S11| and its bar; far from the limit a coarse bar is enough."""
    for error in (max(s_error, _COARSE * largest), s_error):
        worst, bar = _worst_over_band(part, band, error)
        if abs(worst - largest) > 3 * bar:
            break
    return worst, bar


def _envelope(bend: Bend, band: Band) -> float:
    from solver.closed_forms.bends import bend_reflection_envelope

    return float(np.max(bend_reflection_envelope(bend, band.frequencies)))
