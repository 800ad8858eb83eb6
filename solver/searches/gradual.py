"""How gradual must a part be to meet a limit?"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from geometries.arrays import Array
from geometries.shapes.bends import Bend
from geometries.shapes.guides import RectangularGuide
from geometries.shapes.part import Plane
from geometries.shapes.tapers import Taper
from geometries.shapes.twists import Twist
from solver.errors import StudyError, UnsupportedPartError
from solver.progress import Progress
from solver.rules.rules_of_thumb import RuleReading, rules_for
from solver.searches.point_store import PointStore
from solver.searches.search_cost import MOST_MINUTES, SearchWatch, check_accuracy
from solver.searches.size_families import Family, family_of
from solver.searches.size_search import ContradictionError, Crossing, SizeCurve, crossings
from solver.searches.sized_parts import KnownSizes
from solver.studies.band import Band
from solver.studies.inches import length_text
from solver.studies.limits import Limit, amplitude_of
from solver.waves.walls import Walls

#: Frequencies at which a size is solved; those between are looked at where it takes that.
_POINTS = 65


@dataclass(frozen=True, eq=False)
class GradualResult:
    """What a search over sizes found.

    Parameters
    ----------
    kind : str
        ``"bend"``, ``"twist"`` or ``"taper"``.
    guide : RectangularGuide
    plane : str
        Plane of a bend.
    angle : float
        Angle of a bend or twist [rad].
    band : Band
    limit : Limit
    smallest : float or None
        Size from which every larger one meets the limit [m].
    first_met : float or None
        Least size that meets it at all [m].
    uncertainty : float or None
        Bound on the error of `smallest` [m].
    first_met_uncertainty : float or None
        Bound on the error of `first_met` [m].
    sizes : (n,) array
        Sizes that were computed, ascending [m].
    worst_s11, worst_s11_error : (n,) array
        Worst |S11| over the band at each, and its bar.
    estimated_s11 : (n,) array
        The closed form's worst |S11| at each size; NaN where there is none.
    rules : sequence of RuleReading
        Rules of thumb read for the part of size `smallest`.
    reasons : sequence of str
        What limits the answer.
    part : object
        The part of size `smallest`, or the largest that was computed.
    """

    kind: str
    guide: RectangularGuide
    plane: str
    angle: float
    band: Band
    limit: Limit
    smallest: float | None
    first_met: float | None
    uncertainty: float | None
    first_met_uncertainty: float | None
    sizes: Array
    worst_s11: Array
    worst_s11_error: Array
    estimated_s11: Array
    rules: Sequence[RuleReading]
    reasons: Sequence[str]
    part: Any = None


def gradual(
    part: Any,
    band: Band,
    limit: Limit,
    *,
    s_error: float = 1e-5,
    walls: Walls | None = None,
    store: PointStore | None = None,
    most_minutes: float = MOST_MINUTES,
    progress: Progress | None = None,
) -> GradualResult:
    """Find the size from which every larger part, else like a given one, meets a limit.

    Parameters
    ----------
    part : Bend, Twist or Taper
        Its mean radius or length is what is sized; the value that it has does not matter.
    band : Band
    limit : Limit
        VSWR or return loss; the stricter counts.
    s_error : float
        Wanted bound on the error of S11 [-].
    walls : Walls, optional
        Without loss when absent.
    store : PointStore, optional
        Keeps every finished size, and gives back those of a run before.
    most_minutes : float
        A search that would take longer is refused or ended.
    progress : callable, optional

    Returns
    -------
    GradualResult

    Raises
    ------
    StudyError
        When the limit sets neither VSWR nor return loss or lies under the accuracy, or the search
        takes too long.
    UnsupportedPartError
        When parts of this kind cannot be sized.

    Notes
    -----
    Reflection is not monotone in size: a bend is invisible wherever its two ends cancel.
    So the size is scanned finely enough to show every peak of the worst reflection, from
    an inner radius of 0.02 of the width up to where the closed form's envelope, which
    falls as the square of the radius, is at most 0.8 of the limit.  Twists and tapers are
    solved in three dimensions, from 0.3 of the broad width up: twists to where the worst
    reflection has stayed well under the limit for one and a half periods of its ripple, tapers
    where their closed form, held against the lengths computed, leaves the answer open.
    """
    from threadpoolctl import threadpool_limits

    largest = reflection_limit(limit)
    check_accuracy(largest, s_error)
    # the worst of the whole band counts, however many frequencies are listed
    looked = band if band.listed else replace(band, points=min(band.points, _POINTS))
    known = KnownSizes(looked, walls, store or PointStore(None))
    family = family_of(part, looked, largest, known.worst, s_error)
    if walls is not None:
        family = replace(family, quick=None)
    watch = SearchWatch(part, family, band, most_minutes, progress)
    quick = watch.computing(family.quick) if family.quick is not None else None
    curve = SizeCurve(watch.computing(family.worst), quick)
    with threadpool_limits(1, user_api="blas"):
        try:
            scanned, last, first = _searched(curve, family, largest, watch)
        except ContradictionError:
            curve.keep_confirmed()
            scanned, last, first = _searched(curve, family, largest, watch)
    sizes = curve.sizes
    shown = family.part_of(last.size if last else float(scanned[-1]))
    return GradualResult(
        kind=part.kind,
        guide=part.guide,
        plane=getattr(part, "plane", ""),
        angle=getattr(part, "angle", 0.0),
        band=band,
        limit=limit,
        smallest=last.size if last else None,
        first_met=first.size if first else None,
        uncertainty=last.uncertainty if last else None,
        first_met_uncertainty=first.uncertainty if first else None,
        sizes=sizes,
        worst_s11=np.array([curve.worst(s) for s in sizes]),
        worst_s11_error=np.array([curve.bar(s) for s in sizes]),
        estimated_s11=np.array([_estimated(family.part_of(s), looked) for s in sizes]),
        rules=rules_for(shown, band),
        reasons=_reasons(family, last, scanned, curve),
        part=shown,
    )


def _searched(
    curve: SizeCurve, family: Family, largest: float, watch: SearchWatch
) -> tuple[Array, Crossing | None, Crossing | None]:
    """Sizes of the scan, and the last and first crossing."""
    watch.scanning(family, quickly=curve.quick is not None)
    for size in family.scan(curve):
        curve.worst(size)
    scanned = curve.sizes
    watch.closing_in()
    return scanned, *crossings(curve, largest, family.tolerance)


def find_gradual(
    guide: RectangularGuide,
    plane: Plane,
    angle: float,
    band: Band,
    limit: Limit,
    *,
    kind: str = "bend",
    to_guide: RectangularGuide | None = None,
    s_error: float = 1e-5,
    progress: Progress | None = None,
) -> GradualResult:
    """Find the smallest part from which every larger one meets a limit.

    Parameters
    ----------
    guide : RectangularGuide
    plane : {"E", "H"}
        Plane of the bend.
    angle : float
        Angle through which the axis turns [rad].
    band, limit, s_error, progress
        As those of `gradual`.
    kind : {"bend", "twist", "taper"}
        What is sized: the mean radius of a bend, the length of a twist or a linear taper.
    to_guide : RectangularGuide, optional
        The guide to which a taper leads.

    Returns
    -------
    GradualResult

    Raises
    ------
    StudyError, UnsupportedPartError
        As `gradual`; also when a taper has no second guide.
    """
    part = part_to_size(kind, guide, plane, angle, to_guide)
    return gradual(part, band, limit, s_error=s_error, progress=progress)


def part_to_size(
    kind: str,
    guide: RectangularGuide,
    plane: str = "E",
    angle: float = math.pi / 2,
    to_guide: RectangularGuide | None = None,
) -> Any:
    """Return a part of a kind, of any size, whose size `gradual` looks for.

    Parameters
    ----------
    kind, guide, plane, angle, to_guide
        As those of `find_gradual`.

    Returns
    -------
    Bend, Twist or Taper

    Raises
    ------
    StudyError, UnsupportedPartError
    """
    size = 10.0 * guide.broad_width
    if kind == "bend":
        return Bend(guide, plane, angle, size)  # type: ignore[arg-type]
    if kind == "twist":
        return Twist(guide, angle, size)
    if kind != "taper":
        raise UnsupportedPartError(f"{kind}: only bends, twists and tapers can be sized")
    if to_guide is None:
        raise StudyError("to_guide: a taper needs the guide to which it leads")
    return Taper(guide, to_guide, size)


def reflection_limit(limit: Limit) -> float:
    """Largest |S11| that a limit allows [-].

    Raises
    ------
    StudyError
        When it sets neither VSWR nor return loss.
    """
    values = [amplitude_of(q, v) for q, v in limit.values.items() if q != "leakage_db"]
    if not values:
        raise StudyError("limit: set vswr or return_loss_db to size a part by its reflection")
    return float(min(values))


def _estimated(part: Any, band: Band) -> float:
    """Worst |S11| of the first closed form for a part; NaN where there is none."""
    from solver.closed_forms.estimates import estimates_for

    estimates = estimates_for(part, band.frequencies)
    return float(estimates[0].s11_abs.max()) if estimates else math.nan


def _reasons(family: Family, last: object, scanned: Array, curve: SizeCurve) -> tuple[str, ...]:
    """What was looked at, and why no more."""
    low, high = (length_text(float(size), 4) for size in (scanned[0], scanned[-1]))
    looked = f"computed from {low} to {high}"
    by_modes = len(curve.sizes) - len(curve.confirmed)
    how = (
        f"{by_modes} sizes from modes of the curved guide; {len(curve.confirmed)} solved by "
        "elements, those on which the answer rests among them, and all of these agree",
    )
    if last is None:
        why = "the largest size is still above the limit: loosen the limit or narrow the band"
    else:
        why = family.reason
    return (f"{looked}; {why}", *(how if by_modes else ()))
