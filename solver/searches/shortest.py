"""The shortest bend, twist or taper for a limit, over the shape of its profile too."""

from __future__ import annotations

import math
import time
from collections.abc import Iterator
from dataclasses import replace
from functools import singledispatch
from typing import Any

from geometries.shapes.bends import Bend
from geometries.shapes.part import kind_of
from geometries.shapes.profiles import LARGEST_ONSET, LEAST_ONSET, PLAIN_PROFILES
from geometries.shapes.tapers import Taper
from geometries.shapes.twists import Twist
from solver.errors import StudyError, UnsupportedPartError
from solver.progress import Progress
from solver.searches.gradual import reflection_limit
from solver.searches.point_store import PointStore
from solver.searches.search_cost import MOST_MINUTES, check_accuracy
from solver.searches.shortest_result import Proof, Shape, ShortestResult
from solver.searches.size_families import CLOSEST_IN_SPACE, Family, family_of
from solver.searches.size_search import Crossing, SizeCurve, last_crossing
from solver.searches.sized_parts import KnownSizes
from solver.studies.band import Band
from solver.studies.limits import Limit
from solver.waves.walls import Walls

#: Onsets that are tried first, and the steps by which the best of them is then left.
_ONSETS, _CLOSER = (0.5, 0.45, 0.4, 0.35, 0.3, 0.25, 0.2, 0.15, 0.1), (0.025, 0.0125)
#: Of a twist, which is solved in space, fewer.
_ONSETS_IN_SPACE = (0.25, 0.5)
_TAPERS = ("linear", "raised-cosine", "exponential", "klopfenstein", "hecken")
#: The found part is solved once more, this many times more accurately.
_FRESH = 10.0
#: How often a part that fails that is made longer by its uncertainty.
_LONGER = 3


def shortest(
    part: Any,
    band: Band,
    limit: Limit,
    *,
    s_error: float = 1e-5,
    walls: Walls | None = None,
    store: PointStore | None = None,
    most_minutes: float = MOST_MINUTES,
    progress: Progress | None = None,
) -> ShortestResult:
    """Find the profile with which a bend, twist or taper can be shortest for a limit.

    Parameters
    ----------
    part : Bend, Twist or Taper
        Its size and profile do not matter.
    band, limit, s_error, walls, store, most_minutes, progress
        As those of `solver.searches.gradual.gradual`; the ceiling is for all profiles together.

    Returns
    -------
    ShortestResult

    Raises
    ------
    StudyError
        As `gradual`.
    UnsupportedPartError
        When parts of this kind have no profiles.

    Notes
    -----
    For each profile the size counts from which every larger part meets the limit, as `gradual`
    finds it. Bends are looked at from the largest size down, to the first that fails. A profile
    whose part of the best length so far fails cannot be shorter, and goes no further. Near the best
    onset closer ones are tried. What is found, and the plain part, are solved afresh with
    s_error / 10 before they are told.
    """
    from threadpoolctl import threadpool_limits

    largest = reflection_limit(limit)
    check_accuracy(largest, s_error)
    search = _Search(band, limit, s_error, walls, store or PointStore(None), most_minutes, progress)
    with threadpool_limits(1, user_api="blas"):
        for shaped in profiles_of(part):
            search.look_at(shaped)
        for step in _CLOSER if isinstance(part, Bend) else ():
            for shaped in _beside(search.best, part, step):
                search.look_at(shaped)
        return search.result(part)


@singledispatch
def profiles_of(part: Any) -> tuple[Any, ...]:
    """Return the parts that differ from one in their profile, the plain one first.

    Raises
    ------
    UnsupportedPartError
        When parts of this kind have no profiles.
    """
    raise UnsupportedPartError(
        f"{kind_of(part)}: only bends, twists and tapers have profiles to choose from"
    )


@profiles_of.register
def _(part: Bend) -> tuple[Bend, ...]:
    # of such a length that every profile is a part
    plain = replace(part, profile="constant", onset=0.0, mean_radius=10.0 * part.width_in_plane)
    return (plain, *(replace(plain, profile="smooth", onset=onset) for onset in _ONSETS))


@profiles_of.register
def _(part: Twist) -> tuple[Twist, ...]:
    plain = replace(part, profile="uniform", onset=0.0)
    return (plain, *(replace(plain, profile="smooth", onset=o) for o in _ONSETS_IN_SPACE))


@profiles_of.register
def _(part: Taper) -> tuple[Taper, ...]:
    return tuple(replace(part, profile=name) for name in _TAPERS)  # type: ignore[arg-type]


def _beside(best: Shape | None, part: Bend, step: float) -> Iterator[Bend]:
    """Bends with an onset a step to either side of the best one."""
    if best is None:
        return
    plain = profiles_of(part)[0]
    for onset in (best.onset - step, best.onset + step):
        if LEAST_ONSET <= onset <= LARGEST_ONSET:
            yield replace(plain, profile="smooth", onset=round(onset, 6))


class _Search:
    """Profiles one after the other, and the shortest so far."""

    def __init__(
        self,
        band: Band,
        limit: Limit,
        s_error: float,
        walls: Walls | None,
        store: PointStore,
        most_minutes: float,
        progress: Progress | None,
    ) -> None:
        self._band, self._limit, self._largest = band, limit, reflection_limit(limit)
        self._s_error, self._walls = s_error, walls
        self._known = KnownSizes(band, walls, store)
        self._most, self._progress = most_minutes, progress
        self._start, self._parts, self._stage = time.monotonic(), 0, ""
        self._tried: list[Shape] = []
        self._shaped: dict[Shape, Any] = {}

    @property
    def best(self) -> Shape | None:
        """The shortest so far, by the upper end of its length."""
        found = [shape for shape in self._tried if shape.length is not None]
        return min(found, key=_surely, default=None)

    def look_at(self, shaped: Any) -> None:
        """Find the least size of one profile, unless it cannot be shorter than the best."""
        profile, onset = shaped.profile, getattr(shaped, "onset", 0.0)
        if any((s.profile, s.onset) == (profile, onset) for s in self._tried):
            return
        name = f"{profile} {onset:g}" if onset else profile
        self._stage = f"profile {len(self._tried) + 1}, {name}"
        family = family_of(shaped, self._band, self._largest, self._known.worst, self._s_error)
        curve = SizeCurve(lambda size: self._worst(family, size))
        shape = self._shape_of(profile, onset, family, curve)
        self._tried.append(shape)
        self._shaped[shape] = shaped

    def _shape_of(self, profile: str, onset: float, family: Family, curve: SizeCurve) -> Shape:
        best = self.best
        if best is not None and best.size is not None:
            smallest = _smallest(family)
            if best.size <= smallest:
                return Shape(profile, onset, note="too tight to be made as short as the best")
            if curve.worst(best.size) > self._largest:
                length = _length(family, best.size) * 1e3
                return Shape(profile, onset, note=f"fails at {length:.5g} mm, the best so far")
        found = _least_size(family, curve, self._largest)
        if found is None:
            return Shape(profile, onset, note="the largest size is still above the limit")
        per_size = _length(family, found.size) / found.size
        return Shape(
            profile, onset, found.size, per_size * found.size, per_size * found.uncertainty
        )

    def _worst(self, family: Family, size: float) -> tuple[float, float]:
        self._tell(f"{size * 1e3:.4g} mm")
        found = family.worst(size)
        self._parts += 1
        return found

    def _tell(self, what: str) -> None:
        minutes = (time.monotonic() - self._start) / 60.0
        if minutes > self._most:
            raise StudyError(
                f"ended after {minutes:.0f} minutes at {self._stage}, {self._parts} parts "
                "computed: give more --most-minutes, with -o to go on from what is kept; or "
                "loosen the limit, or narrow the band"
            )
        if self._progress is not None:
            self._progress(f"{self._stage}: {what}, {self._parts} parts done")

    def result(self, part: Any) -> ShortestResult:
        """Solve the best and the plain part afresh, and return all."""
        plain = next(shape for shape in self._tried if shape.profile in PLAIN_PROFILES)
        best = self.best
        plain_proof = self._proof(plain)
        best_proof = plain_proof if best is plain else self._proof(best)
        return ShortestResult(
            part=part,
            band=self._band,
            limit=self._limit,
            plain=plain,
            best=best,
            plain_proof=plain_proof,
            best_proof=best_proof,
            tried=tuple(self._tried),
            parts=self._parts,
        )

    def _proof(self, shape: Shape | None) -> Proof | None:
        if shape is None or shape.size is None:
            return None
        shaped = self._shaped[shape]
        wanted = self._s_error / _FRESH
        if shaped.exact_plane is None:
            wanted = max(wanted, CLOSEST_IN_SPACE / _FRESH)
        fresh = KnownSizes(self._band, self._walls, PointStore(None))
        field = "mean_radius" if isinstance(shaped, Bend) else "length"
        step = shape.size * (shape.uncertainty or 0.0) / (shape.length or 1.0)
        self._stage = f"verifying, {shape.profile}"
        for count in range(1, _LONGER + 1):
            size = math.ceil((shape.size + count * step) * 1e6 - 1e-6) / 1e6
            self._tell(f"{size * 1e3:.6g} mm with s_error = {wanted:.1g}")
            made = replace(shaped, **{field: size})
            worst, bar = fresh.worst(made, wanted)
            self._parts += 1
            proof = Proof(made, worst, bar, wanted, worst + bar <= self._largest)
            if proof.holds:
                break
        return proof


def _surely(shape: Shape) -> float:
    return (shape.length or 0.0) + (shape.uncertainty or 0.0)


def _length(family: Family, size: float) -> float:
    return float(family.part_of(size).axis_length)


def _smallest(family: Family) -> float:
    """Least size of a family that can be made [m]."""
    return 0.0 if family.known_sizes is None else next(family.known_sizes())


def _least_size(family: Family, curve: SizeCurve, largest: float) -> Crossing | None:
    """Size from which every larger one meets the limit; from the top down where that is known."""
    if family.known_sizes is None:
        for size in family.scan(curve):
            curve.worst(size)
    else:
        for size in reversed(list(family.known_sizes())):
            if curve.worst(size) > largest:
                break
    return last_crossing(curve, largest, family.tolerance)
