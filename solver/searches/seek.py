"""Search one or two keys of a study for the least leakage or reflection."""

from __future__ import annotations

import itertools
import math
from collections.abc import Callable, Mapping, Sequence
from contextlib import suppress
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
from scipy.optimize import minimize, minimize_scalar

from geometries.arrays import Array
from solver.errors import StudyError
from solver.progress import Progress
from solver.searches.exploration import worst_over_band
from solver.searches.part_curves import PartCurves, Refusal, curves_of
from solver.searches.point_store import PointStore
from solver.searches.seek_result import (
    FLAT_DB,
    NO_PART,
    ONE_DB_MORE,
    SPAN_END,
    FlatRange,
    SeekResult,
)
from solver.searches.varied_keys import Span, values_in_words
from solver.searches.varied_parts import all_refused, built_part, checked_keys, fingerprint_of
from solver.searches.worker_pool import Compute, attempt, compute_all
from solver.studies.run_study import RunStudy
from solver.studies.study import Study

#: What is made least, by the name of the limit that speaks of it.
QUANTITIES = {"leakage": "leakage_db", "reflection": "vswr"}
#: Points of the first scan along each key, for one key and for two.
SCANNED = {1: 9, 2: 5}
#: Stands for a part that cannot be built or solved [dB]; above every real value.
_HIGHEST = 400.0
_NOTHING_LEAKS = "nothing leaks from this part: seek the least reflection instead"


def seek(
    tables: Mapping[str, Any],
    path: Path,
    spans: Sequence[Span],
    quantity: str,
    *,
    at: float | None = None,
    workers: int = 1,
    store: PointStore | None = None,
    compute: Compute = curves_of,
    prepare: Callable[[Sequence[Any]], None] | None = None,
    progress: Progress | None = None,
) -> SeekResult:
    """Find the values of one or two keys at which a part or a run leaks or reflects least.

    Parameters
    ----------
    tables : mapping
        Those of a study or a run, from `solver.studies.study.read_tables`.
    path : Path
        Its file.
    spans : sequence of Span
        One or two keys, each with the interval to search.
    quantity : {"leakage", "reflection"}
    at : float, optional
        The frequency that counts [Hz]; without it the worst over the study's band.
    workers : int
        Processes for the first scan; the rest is one part after the other.
    store : PointStore, optional
    compute, prepare
        As those of `solver.searches.explore.explore`.
    progress : callable, optional

    Returns
    -------
    SeekResult

    Raises
    ------
    StudyError
        When a key cannot be varied, no part can be built, or nothing leaks.

    Notes
    -----
    An even scan finds the neighbourhood; there a bounded scalar minimisation (golden section
    with parabolas) or, for two keys, the simplex of Nelder and Mead goes on. What it finds is
    the least nearby: a narrower dip can lie between the points of the scan. A value under the
    accuracy that was asked for counts as that accuracy, so a perfect null ends the search.
    """
    spans = tuple(spans)
    if not 1 <= len(spans) <= 2:
        raise StudyError(f"{len(spans)} keys to vary; give one or two")
    keys = checked_keys(tables, path, tuple(span.key for span in spans))
    spans = tuple(replace(span, key=key) for span, key in zip(spans, keys, strict=True))
    if at is not None:
        tables = dict(tables) | {"band": {"frequencies_ghz": [at / 1e9]}}
    search = _Search(tables, path, spans, quantity, store or PointStore(None), compute, progress)
    best = search.scan(workers, prepare)
    if len(spans) == 1:
        _refine_one(search, best)
    else:
        _refine_two(search, best)
    return search.result()


class _Search:
    """The quantity as a function of the keys, each scaled to 0 ... 1, with a memory."""

    def __init__(
        self,
        tables: Mapping[str, Any],
        path: Path,
        spans: tuple[Span, ...],
        quantity: str,
        store: PointStore,
        compute: Compute,
        progress: Progress | None,
    ) -> None:
        self._tables, self._path, self.spans = tables, path, spans
        self._name, self._quantity = quantity, QUANTITIES[quantity]
        self._store, self._compute, self._progress = store, compute, progress
        self._found: dict[tuple[float, ...], PartCurves | Refusal] = {}
        self._title = ""
        self._wanted = 0.0

    def scan(self, workers: int, prepare: Callable[[Sequence[Any]], None] | None = None) -> Array:
        """Compute an even scan and return its best place, scaled (k,)."""
        even = np.linspace(0.0, 1.0, SCANNED[len(self.spans)])
        places = [np.array(u) for u in itertools.product(even, repeat=len(self.spans))]
        built = {self.values_at(place): self._build(self.values_at(place)) for place in places}
        studies = {v: s for v, s in built.items() if not isinstance(s, Refusal)}
        if self._name == "leakage" and studies and not any(map(_leaks, studies.values())):
            raise StudyError(_NOTHING_LEAKS)
        names = {fingerprint_of(study): values for values, study in studies.items()}
        waiting = {n: studies[v] for n, v in names.items() if self._store.get(n) is None}
        if prepare is not None and waiting:
            prepare(list(waiting.values()))
        for count, (name, outcome) in enumerate(compute_all(waiting, self._compute, workers)):
            self._store.add(name, outcome)
            self._found[names[name]] = outcome
            self._tell(f"scan, {count + 1} of {len(waiting)} points")
        values = [self.decibels(place) for place in places]
        computed = [outcome for outcome in self._found.values() if isinstance(outcome, PartCurves)]
        if not computed:
            what = f"{len(places)} points of the scan"
            raise all_refused(self._path, self._found.values(), what)
        if self._name == "leakage" and not any(c.leaked_power.any() for c in computed):
            raise StudyError(_NOTHING_LEAKS)
        return places[int(np.argmin(values))]

    def values_at(self, place: Array) -> tuple[float, ...]:
        """Values of the keys at a scaled place; ten digits are more than any shop keeps."""
        return tuple(
            float(f"{span.low + u * (span.high - span.low):.10g}")
            for span, u in zip(self.spans, np.clip(place, 0.0, 1.0), strict=True)
        )

    def decibels(self, place: Array) -> float:
        """The quantity at a scaled place [dB], not under the accuracy asked for."""
        values = self.values_at(place)
        if values not in self._found:
            self._found[values] = self._outcome(values)
            self._tell(f"{len(self._found)} parts, {values_in_words(self._named(values))}")
        return self._read(self._found[values])

    def settled(self, place: Array) -> None:
        """End a search that has come down to the accuracy asked for."""
        if self.decibels(place) <= 20.0 * math.log10(self._wanted) + 1e-9:
            raise StopIteration

    def result(self) -> SeekResult:
        """The best of all parts so far, and how flat the quantity is about it."""
        # Among parts that are alike within the accuracy, the computed value decides.
        best = min(
            (values for values, o in self._found.items() if isinstance(o, PartCurves)),
            key=lambda v: (self._read(self._found[v]), self._amplitude(self._found[v])),
        )
        flat = tuple(self._flat(best, number) for number in range(len(self.spans)))
        curves = self._found[best]
        assert isinstance(curves, PartCurves)
        frequency = curves.frequency
        return SeekResult(
            title=self._title,
            quantity=self._name,
            spans=self.spans,
            frequencies=(float(frequency[0]), float(frequency[-1]), len(frequency)),
            values=self._named(best),
            least=worst_over_band(curves.whole, self._quantity),
            error=float(curves.error.max()),
            wanted=self._wanted,
            reached=curves.reached,
            flat=flat,
            evaluations=len(self._found),
            refused=sum(isinstance(outcome, Refusal) for outcome in self._found.values()),
            tried=tuple(
                (self._named(values), self._amplitude(o)) for values, o in self._found.items()
            ),
        )

    def _flat(self, best: tuple[float, ...], number: int) -> FlatRange:
        span = self.spans[number]
        width = span.high - span.low
        centre = np.array(
            [(v - s.low) / (s.high - s.low) for v, s in zip(best, self.spans, strict=True)]
        )
        allowed = self._read(self._found[best]) + FLAT_DB

        def at(u: float) -> float:
            place = centre.copy()
            place[number] = u
            return self.decibels(place)

        low, low_end, low_within = _reach(at, float(centre[number]), 0.0, allowed)
        high, high_end, high_within = _reach(at, float(centre[number]), 1.0, allowed)
        return FlatRange(
            key=span.key,
            low=span.low + low * width,
            high=span.low + high * width,
            low_end=low_end,
            high_end=high_end,
            within=max(low_within, high_within) * width,
        )

    def _build(self, values: tuple[float, ...]) -> Study | RunStudy | Refusal:
        built = built_part(self._tables, self._path, self._named(values))
        if isinstance(built, Refusal):
            self._found[values] = built
        else:
            self._title, self._wanted = built.title, built.s_error
        return built

    def _outcome(self, values: tuple[float, ...]) -> PartCurves | Refusal:
        study = self._build(values)
        if isinstance(study, Refusal):
            return study
        name = fingerprint_of(study)
        kept = self._store.get(name)
        if kept is None:
            kept = attempt(self._compute, study)
            self._store.add(name, kept)
        return kept

    def _read(self, outcome: PartCurves | Refusal) -> float:
        if isinstance(outcome, Refusal):
            return _HIGHEST
        return 20.0 * math.log10(max(self._amplitude(outcome), self._wanted))

    def _amplitude(self, outcome: PartCurves | Refusal) -> float:
        if isinstance(outcome, Refusal):
            return math.nan
        return worst_over_band(outcome.whole, self._quantity).value

    def _named(self, values: tuple[float, ...]) -> dict[str, float]:
        return {span.key: value for span, value in zip(self.spans, values, strict=True)}

    def _tell(self, text: str) -> None:
        if self._progress is not None:
            self._progress(text)


def _leaks(study: Study | RunStudy) -> bool:
    """Whether power can leave a part but through its ports."""
    if isinstance(study, RunStudy):
        parts: list[Any] = [part.component for part in study.parts]
    else:
        parts = [study.component]
    return any(getattr(p, "rim", "none") != "closed" and hasattr(p, "rim_radius") for p in parts)


def _refine_one(search: _Search, best: Array) -> None:
    """Close in on the least value between the neighbours of the scan's best point."""
    step, centre = 1.0 / (SCANNED[1] - 1), float(best[0])

    def value(u: float) -> float:
        search.settled(np.array([u]))
        return search.decibels(np.array([u]))

    bounds = (max(centre - step, 0.0), min(centre + step, 1.0))
    with suppress(StopIteration):
        minimize_scalar(value, bounds=bounds, method="bounded", options={"xatol": 1e-4})


def _refine_two(search: _Search, best: Array) -> None:
    """Go downhill from the scan's best point with a simplex of half the scan's step."""
    step = 0.5 / (SCANNED[2] - 1)
    inward = np.where(best > 0.5, -step, step)
    simplex = np.vstack([best, best + np.diag(inward)])
    minimize(
        search.decibels,
        best,
        method="Nelder-Mead",
        bounds=[(0.0, 1.0), (0.0, 1.0)],
        callback=search.settled,
        options={"initial_simplex": simplex, "xatol": 2e-3, "fatol": 0.01, "maxfev": 120},
    )


def _reach(
    at: Callable[[float], float], centre: float, bound: float, allowed: float
) -> tuple[float, str, float]:
    """How far from the centre towards a bound the value stays allowed; what ends it; within."""
    inside, step = centre, math.copysign(0.02, bound - centre)
    while True:
        if inside == bound:
            return bound, SPAN_END, 0.0
        outside = centre + step
        if (outside - bound) * step >= 0.0:
            outside = bound
        if (value := at(outside)) > allowed:
            break
        inside, step = outside, 2.0 * step
    for _ in range(5):
        middle = 0.5 * (inside + outside)
        if (found := at(middle)) > allowed:
            outside, value = middle, found
        else:
            inside = middle
    return inside, NO_PART if value == _HIGHEST else ONE_DB_MORE, abs(outside - inside)
