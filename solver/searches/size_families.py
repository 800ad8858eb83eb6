"""Parts that differ in one size: bends by radius, the others by length, loads by their taper."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace
from functools import singledispatch
from typing import Any

import numpy as np

from geometries.arrays import Array
from geometries.shapes.bends import Bend
from geometries.shapes.horns import ConicalHorn, Horn
from geometries.shapes.loads import Load
from geometries.shapes.part import kind_of
from geometries.shapes.tapers import Taper
from geometries.shapes.twists import Twist
from solver.closed_forms.bends import bend_reflection_envelope
from solver.closed_forms.smooth_bends import smooth_bend_envelope
from solver.closed_forms.tapers import mean_phase_constant, worst_of_lengths
from solver.errors import UnsupportedPartError
from solver.families.arc_modes import has_arc_modes, worst_by_modes
from solver.families.guided_scan import STEPS, GuidedScan
from solver.searches.size_search import SizeCurve, WorstAt, as_foreseen
from solver.studies.band import Band
from solver.studies.inches import length_text
from solver.waves.guide_modes import SPEED_OF_LIGHT, guide_wavelength, phase_constant

#: Gives the worst |S11| of a part and its bar, for a wanted bar.
WorstOf = Callable[[Any, float], tuple[float, float]]
#: The search for a bend starts at an inner radius of this part of the width.
TIGHTEST = 0.02
#: In three dimensions S is not asked for closer than this, which would take minutes a size.
CLOSEST_IN_SPACE = 1e-4
#: A horn in a quarter of the space takes about a minute a size for this bar.
CLOSEST_OF_HORNS = 1e-3
#: A twist or taper is scanned until its worst reflection stayed under this part of the limit.
_WELL_UNDER = 0.7
_LONGEST_IN_WAVELENGTHS = 12.0
#: Longest step of a scan over the ripple, where the curve does not ripple.
_LONGEST_STEP = 0.8
#: Where the scan of a twist or taper begins, over the broad width.
_SHORTEST = 0.3
#: Frequencies at which the closed form of a taper is followed.
_GUIDED_AT = 33
#: Bar that is asked for far from the limit, over the limit.
_COARSE = 0.05
#: Farther from it, a bar of this part of the distance will do, as long as it is under the latter.
_DECIDES, _COARSEST = 0.2, 0.1
#: Part of the accuracy asked for that port modes which were left out may bring.
_LEFT_OUT = 0.01
#: Where the envelope of smooth bends is looked at: frequencies of the band, and radii.
_FREQUENCIES, _RADII = 9, 40


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
    known_sizes : callable, optional
        Yields the sizes of the scan where they are known before anything is computed.
    quick : callable, optional
        What `worst` gives without wall loss, at next to no cost; see `SizeCurve`.
    """

    part_of: Callable[[float], Any]
    scan: Callable[[SizeCurve], Iterator[float]]
    worst: Callable[[float], tuple[float, float]]
    tolerance: float
    reason: str
    known_sizes: Callable[[], Iterator[float]] | None = None
    quick: WorstAt | None = None


@singledispatch
def family_of(part: Any, band: Band, largest: float, worst_of: WorstOf, s_error: float) -> Family:
    """Return the parts that are like one but for its radius or length.

    Parameters
    ----------
    part : Bend, Twist, Taper, Load, RectangularHorn or ConicalHorn
    band : Band
    largest : float
        Largest |S11| allowed [-].
    worst_of : callable
        Gives the worst |S11| of a part over the band, and its bar, for a wanted bar.
    s_error : float
        Wanted bound on the error of S11 [-].

    Raises
    ------
    UnsupportedPartError
        When parts of this kind cannot be sized.
    """
    raise UnsupportedPartError(
        f"{kind_of(part)}: only bends, twists, tapers, loads and horns can be sized"
    )


@family_of.register
def _bends(part: Bend, band: Band, largest: float, worst_of: WorstOf, s_error: float) -> Family:
    """Bends of every radius, from nearly sharp to gentle beyond doubt."""
    width = part.width_in_plane
    least = replace(part, mean_radius=(0.5 + TIGHTEST) * width / (1.0 - part.onset))
    top = gentle_radius(part, band, 0.8 * largest)
    # the two ends cancel each time the arc grows by half a guide wavelength
    ripple = 0.5 * float(guide_wavelength(part.guide, band.frequencies[-1])) / part.angle

    def part_of(radius: float) -> Bend:
        return replace(least, mean_radius=radius)

    def scan(_: SizeCurve) -> Iterator[float]:
        size = least.mean_radius
        yield size
        while size < top:
            size += min(0.1 * ripple, (0.1 if size < 2 * width else 0.25) * width)
            yield size

    ends = (float(band.frequencies[0]), float(band.frequencies[-1]))

    def quick(radius: float) -> tuple[float, float]:
        return worst_by_modes(part_of(radius), ends, s_error)

    return Family(
        part_of,
        scan,
        lambda size: worst_of(part_of(size), s_error),
        2e-5,
        "beyond it the closed form's envelope is under the limit and falls as the square of the "
        "radius" + ("" if part.profile == "constant" else ", or faster"),
        known_sizes=lambda: scan(SizeCurve(lambda _: (0.0, 0.0))),
        quick=quick if has_arc_modes(part, ends) else None,
    )


@family_of.register
def _twists(part: Twist, band: Band, largest: float, worst_of: WorstOf, s_error: float) -> Family:
    """Twists of every length, all else as in one of them."""
    ripple = 0.5 * float(guide_wavelength(part.guide, band.frequencies[-1]))
    return _falling(
        lambda length: replace(part, length=length),
        _SHORTEST * part.guide.broad_width,
        ripple,
        0.5 * float(guide_wavelength(part.guide, band.frequencies[0])),
        largest,
        worst_of,
        max(s_error, CLOSEST_IN_SPACE),
    )


@family_of.register
def _tapers(part: Taper, band: Band, largest: float, worst_of: WorstOf, s_error: float) -> Family:
    """Tapers of every length; which of them are computed, their closed form tells."""
    frequency = np.linspace(band.start, band.stop, _GUIDED_AT)

    def guide(lengths: Array) -> Array:
        return worst_of_lengths(part, lengths, frequency)

    # what both ends send back turns past each other with the mean phase
    ripple, longest_ripple = (
        np.pi / mean_phase_constant(part, edge) for edge in (band.stop, band.start)
    )
    family = _falling(
        lambda length: replace(part, length=length),
        _SHORTEST * part.guide.broad_width,
        ripple,
        longest_ripple,
        largest,
        worst_of,
        max(s_error, CLOSEST_IN_SPACE),
        lambda length: float(guide(np.array([length]))[0]),
    )
    longest = _LONGEST_IN_WAVELENGTHS * 2 * longest_ripple
    sizes = np.arange(_SHORTEST * part.guide.broad_width, longest, ripple / STEPS)
    return replace(
        family,
        scan=GuidedScan(guide, sizes, largest, family.tolerance),
        reason="between these lengths and beyond them the closed form was followed, which falls "
        "with length; lengths at which what it is off could matter were computed",
    )


@family_of.register
def _loads(part: Load, band: Band, largest: float, worst_of: WorstOf, s_error: float) -> Family:
    """Loads of every length of taper, from a blunt one where the base has a length."""
    highest = float(band.frequencies[-1])
    # what tip and shoulder reflect turns past each other with the mean of both phase constants
    index = abs(part.complex_permittivity * part.complex_permeability) ** 0.5
    loaded = 2 * np.pi * highest / SPEED_OF_LIGHT * index
    mean = 0.5 * (float(phase_constant(part.guide, highest)) + loaded)
    return _falling(
        lambda length: replace(part, taper_length=length),
        0.0 if part.base_length else 0.1 * part.guide.broad_width,
        # over a band the peaks of a load run into each other
        1.75 * np.pi / mean,
        0.5 * float(guide_wavelength(part.guide, band.frequencies[0])),
        largest,
        worst_of,
        s_error,
        strides=True,
    )


@family_of.register
def _horns(part: Horn, band: Band, largest: float, worst_of: WorstOf, s_error: float) -> Family:
    """Horns of every length with one aperture; what the aperture itself reflects does not fall."""
    shortest, longest = (0.5 * SPEED_OF_LIGHT / band.frequencies[i] for i in (-1, 0))
    is_flat = isinstance(part, ConicalHorn) and part.mode == "TM01"
    family = _falling(
        lambda length: replace(part, length=length),
        0.3 * part.guide.longest_side,
        # the horn's own wavelength nears that in free space as it opens
        float(shortest),
        float(longest),
        largest,
        worst_of,
        max(s_error, CLOSEST_IN_SPACE if is_flat else CLOSEST_OF_HORNS),
    )
    return replace(
        family,
        reason=f"over its last {1.5 * longest * 1e3:.3g} mm, one and a half periods of the ripple, "
        f"the worst reflection stayed under {_WELL_UNDER} of the limit: with length that of the "
        "throat falls, and that of the aperture stays",
    )


def _falling(
    part_of: Callable[[float], Any],
    shortest: float,
    ripple: float,
    longest_ripple: float,
    largest: float,
    worst_of: WorstOf,
    closest: float,
    expect: Callable[[float], float] | None = None,
    strides: bool = False,
) -> Family:
    """Parts whose reflection ripples with length, and falls.

    Parameters
    ----------
    part_of : callable
    shortest : float
        Where the scan begins [m].
    ripple, longest_ripple : float
        Change of length after which the reflection repeats, at the high and the low edge [m].
    largest, worst_of
        See `family_of`.
    closest : float
        Smallest bar that is asked for.
    expect : callable, optional
        About the worst |S11| at a size, where that is known before.
    strides : bool
        Whether the scan takes longer steps where the curve does not ripple; see `as_foreseen`.
    """

    def scan(curve: SizeCurve) -> Iterator[float]:
        size, step = shortest, 0.2 * ripple
        yield size
        while size < _LONGEST_IN_WAVELENGTHS * 2 * longest_ripple:
            before, size = size, size + step
            yield size
            foreseen = as_foreseen(curve, size, largest)
            if not foreseen and step > 0.3 * ripple:  # into what was passed over
                yield from np.arange(before + 0.2 * ripple, size - 0.1 * ripple, 0.2 * ripple)
            step = min(2.0 * step, _LONGEST_STEP * ripple) if strides and foreseen else 0.2 * ripple
            recent = [s for s in curve.sizes if s > size - 1.5 * longest_ripple]
            low = all(curve.worst(s) < _WELL_UNDER * largest for s in recent)
            if low and size - curve.sizes[0] > 1.5 * longest_ripple:
                return

    seen: dict[float, float] = {}

    def worst(size: float) -> tuple[float, float]:
        """Worst |S11| and its bar; the farther from the limit, the coarser it may be."""
        known = sorted(seen)
        expected = np.interp(size, known, [seen[s] for s in known]) if known else 1.0 + largest
        if expect is not None:
            expected = expect(size)
        guess = float(np.clip(_DECIDES * abs(expected - largest), closest, _COARSEST))
        coarse = max(closest, _COARSE * largest)
        steps = (guess, coarse, closest) if guess > 2 * coarse else (guess, closest)
        for error in dict.fromkeys(steps):
            found, bar = worst_of(part_of(size), error)
            if abs(found - largest) > 3 * bar:
                break
        seen[size] = found
        return found, bar + _LEFT_OUT * error

    return Family(
        part_of,
        scan,
        worst,
        1e-4,
        f"over its last {length_text(1.5 * longest_ripple, 3)}, one and a half periods of the "
        f"ripple, the worst reflection stayed under {_WELL_UNDER} of the limit, and it falls with "
        "length",
    )


def gentle_radius(bend: Bend, band: Band, largest: float) -> float:
    """Return the mean radius from which the closed form's envelope stays under a |S11| [m].

    Parameters
    ----------
    bend : Bend
        Its own radius does not matter.
    band : Band
    largest : float
        [-]

    Notes
    -----
    The envelope of an arc falls as the square of the radius. That of a smooth bend falls faster
    on the whole, in lobes; it is never looked for under twice the width.
    """
    width = bend.width_in_plane
    gentle = 10.0 * width
    arc = Bend(bend.guide, bend.plane, bend.angle, gentle)
    envelope = float(np.max(bend_reflection_envelope(arc, band.frequencies)))
    top = max(gentle * math.sqrt(envelope / largest), 2.0 * width)
    if bend.profile == "constant":
        return top
    frequencies = np.linspace(band.start, band.stop, _FREQUENCIES)
    least = 2.0 * width / (1.0 - bend.onset)
    radii = np.geomspace(least, max(1.5 * top, least) / (1.0 - bend.onset), _RADII)
    for lower, upper in zip(radii[-2::-1], radii[:0:-1], strict=True):
        there = smooth_bend_envelope(replace(bend, mean_radius=float(lower)), frequencies)
        if there.max() > largest:
            return float(upper)
    return float(least)
