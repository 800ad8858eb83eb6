"""Compute a study or a run for many combinations of its keys: a grid, or a sample."""

from __future__ import annotations

import itertools
import time
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import replace
from functools import partial
from pathlib import Path
from typing import Any

import numpy as np

from solver.errors import StudyError
from solver.judgement.verdict import judge
from solver.progress import Progress, duration_text
from solver.searches.exploration import Cell, Exploration
from solver.searches.held_band import held_band
from solver.searches.part_curves import PartCurves, Refusal, curves_of
from solver.searches.point_store import PointStore
from solver.searches.shared_maps import SharedMaps, confirmed
from solver.searches.varied_keys import Variation, key_in_words, values_in_words
from solver.searches.varied_parts import all_refused, built_part, checked_keys, fingerprint_of
from solver.searches.varied_runs import run_in_words
from solver.searches.worker_pool import Compute, compute_all
from solver.studies.band import Band
from solver.studies.inches import guide_text, twin_in_mm
from solver.studies.run_study import RunStudy
from solver.studies.study import Study
from solver.version import installed_version

#: Combinations of one grid or sample, and keys that vary.
MOST_POINTS, MOST_KEYS = 100_000, 8

Varied = Study | RunStudy
Pool = Callable[[Mapping[str, Varied]], Iterator[tuple[str, PartCurves | Refusal]]]


def explore(
    tables: Mapping[str, Any],
    path: Path,
    variations: Sequence[Variation],
    *,
    sampled: bool = False,
    design: float | None = None,
    workers: int = 1,
    store: PointStore | None = None,
    compute: Compute = curves_of,
    prepare: Callable[[Sequence[Any]], None] | None = None,
    engine: str | None = None,
    progress: Progress | None = None,
) -> Exploration:
    """Compute a study, or a run, for every combination of some keys.

    Parameters
    ----------
    tables : mapping
        Those of a study or a run, from `solver.studies.study.read_tables`.
    path : Path
        Its file.
    variations : sequence of Variation
        Up to eight keys.
    sampled : bool
        Take the values of all keys together, the first of each, then the second; otherwise every
        value of one with every value of the others.
    design : float, optional
        Frequency about which bands are looked for [Hz]; the centre of the band by default.
    workers : int
        Processes that compute.
    store : PointStore, optional
        Keeps every finished point, and gives back those of a run before.
    compute : callable
        Gives the curves of a study; that of a run is in `solver.runs.run_curves`.
    prepare : callable, optional
        Is given all studies that have to be computed, before any is.
    engine : str, optional
        Address of a running scheduler of dask whose workers compute; this machine by default.
    progress : callable, optional

    Returns
    -------
    Exploration

    Raises
    ------
    StudyError
        When a key cannot be varied, or no combination gives a part.
    OutputError, EngineError
    """
    variations = _checked_grid(tables, path, tuple(variations), sampled)
    columns = [v.values for v in variations]
    rows = zip(*columns, strict=True) if sampled else itertools.product(*columns)
    keys = [v.key for v in variations]
    grid = [dict(zip(keys, values, strict=True)) for values in rows]
    built = [built_part(tables, path, values) for values in grid]
    studies = [study for study in built if not isinstance(study, Refusal)]
    if not studies:
        raise all_refused(path, built, f"{len(built)} combinations")
    first = studies[0]
    design = _design(design, first.band)
    run, store = _pool(compute, workers, engine), store or PointStore(None)
    shared = SharedMaps(run, workers, progress)
    # how other functions compute, or other machines, is not known here
    together = engine is None and compute is curves_of
    outcomes = _computed(studies, shared if together else run, store, prepare, progress)
    found = iter(outcomes)
    results = [study if isinstance(study, Refusal) else next(found) for study in built]
    if not any(isinstance(result, PartCurves) for result in results):
        raise all_refused(path, results, f"{len(results)} combinations")
    exploration = Exploration(
        title=first.title,
        part=_part(first, tables, variations),
        tables=dict(tables),
        variations=variations,
        sampled=sampled,
        band=first.band,
        limit=first.limit,
        design=design,
        s_error=first.s_error,
        cells=tuple(
            _cell(values, result, first, design)
            for values, result in zip(grid, results, strict=True)
        ),
        version=installed_version(),
        middle=getattr(studies[len(studies) // 2], "component", None),
        shared=shared.told,
    )

    def cell_of(number: int, result: PartCurves | Refusal) -> Cell:
        return _cell(grid[number], result, first, design)

    return confirmed(exploration, built, cell_of, run, store, progress)


def _checked_grid(
    tables: Mapping[str, Any], path: Path, variations: tuple[Variation, ...], sampled: bool
) -> tuple[Variation, ...]:
    if not 1 <= len(variations) <= MOST_KEYS:
        raise StudyError(f"{len(variations)} keys to vary; give one to {MOST_KEYS}")
    keys = checked_keys(tables, path, tuple(variation.key for variation in variations))
    lengths = [len(variation.values) for variation in variations]
    if sampled and len(set(lengths)) > 1:
        raise StudyError("the keys of a sample take as many values each; make the lists equal")
    count = lengths[0] if sampled else int(np.prod(lengths))
    if count > MOST_POINTS:
        raise StudyError(f"{count} combinations; at most {MOST_POINTS} fit: use fewer values")
    return tuple(replace(v, key=key) for v, key in zip(variations, keys, strict=True))


def _design(design: float | None, band: Band) -> float:
    chosen = band.centre if design is None else design
    if not band.start <= chosen <= band.stop:
        raise StudyError(
            f"design frequency {chosen / 1e9:g} GHz: must lie in the band of the study, "
            f"{band.start / 1e9:g} to {band.stop / 1e9:g} GHz"
        )
    return chosen


def _pool(compute: Compute, workers: int, engine: str | None) -> Pool:
    """What computes many studies: processes of this machine, or a cluster."""
    if engine is None:
        return partial(compute_all, compute=compute, workers=workers)
    from solver.searches.cluster_pool import compute_on_cluster

    return partial(compute_on_cluster, compute=compute, address=engine)


def _computed(
    studies: Sequence[Varied],
    run: Pool,
    store: PointStore,
    prepare: Callable[[Sequence[Any]], None] | None,
    progress: Progress | None,
) -> list[PartCurves | Refusal]:
    """Outcome of each study, taken from the store or computed and put there."""
    names = [fingerprint_of(study) for study in studies]
    kept = {name: outcome for name in names if (outcome := store.get(name)) is not None}
    todo = {n: study for n, study in zip(names, studies, strict=True) if n not in kept}
    fresh: dict[str, PartCurves | Refusal] = {}
    total, start = len(kept) + len(todo), time.monotonic()

    def tell() -> None:
        if progress is None or not todo:
            return
        done = len(kept) + len(fresh)
        text = f"{done} of {total} points"
        if fresh:
            left = (time.monotonic() - start) / len(fresh) * (total - done)
            text += f", about {duration_text(left)} left"
        progress(text, done / total)

    if prepare is not None and todo:
        prepare(list(todo.values()))
    tell()
    for name, outcome in run(todo):
        store.add(name, outcome)
        fresh[name] = outcome
        tell()
    found = kept | fresh
    return [found[name] for name in names]


def _part(study: Varied, tables: Mapping[str, Any], variations: Sequence[Variation]) -> str:
    """The part in words: what stays, and the range of what varies."""
    ranges = []
    for variation in variations:
        name, unit = key_in_words(variation.key)
        low, high = min(variation.values), max(variation.values)
        ranges.append(f"{name} {low:.6g} to {high:.6g} {unit}".rstrip())
    text = run_in_words(study) if isinstance(study, RunStudy) else _stays(study, tables, variations)
    return f"{text}; varied: {', '.join(ranges)}"


def _stays(study: Study, tables: Mapping[str, Any], variations: Sequence[Variation]) -> str:
    varied = {twin_in_mm(variation.key) for variation in variations}
    stays = []
    for name, value in tables["component"].items():
        key = f"component.{name}"
        if isinstance(value, float | int):
            stays += [values_in_words({key: value})] if twin_in_mm(key) not in varied else []
        elif isinstance(value, str) and name != "kind":
            stays.append(f"{name.replace('_', ' ')} {value}")
    own = any(key.startswith("guide.") for key in varied)
    guide = "a guide of its own" if own else guide_text(study.component.guide)
    return f"{study.component.kind} in {guide}: {', '.join(stays)}".rstrip(": ")


def _cell(
    values: dict[str, float], result: PartCurves | Refusal, study: Varied, design: float
) -> Cell:
    if isinstance(result, Refusal):
        return Cell(values, None, None, None, result.reason)
    verdict = judge(
        result.whole,
        study.limit,
        result.reached,
        wanted_error=study.s_error,
        resonances=result.whole.resonances,
        unsampled=result.whole.unsampled,
    )
    return Cell(values, result, verdict, held_band(result.whole, study.limit, design))
