"""Rules of thumb against the field solution: where they hold, and what they cost."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import Any

from solver.audits.audited import LEVELS, AuditedPart, Reading
from solver.progress import Progress
from solver.runs.run_curves import computing
from solver.searches.exploration import Cell, Worst
from solver.searches.explore import explore
from solver.searches.part_curves import Refusal
from solver.searches.point_store import PointStore
from solver.searches.varied_keys import Variation
from solver.searches.varied_parts import built_part
from solver.studies.band import Band
from solver.studies.limits import amplitude_of

_PATH = Path("audit")


@dataclass(frozen=True)
class Asked:
    """What one reading of a rule asks for.

    Parameters
    ----------
    name, reading : str
    size : float or None
        [m]; None where it speaks of more than one size.
    made : tuple of dict
        Values by key of the study: of the part made exactly so, then of those that its tolerance
        lets through too. The first that can be made stands for the reading.
    """

    name: str
    reading: str
    size: float | None
    made: tuple[dict[str, float], ...]


@dataclass(frozen=True)
class Case:
    """A part of which some sizes are left to the rules.

    Parameters
    ----------
    kind, group, about
        As those of `solver.audits.audited.AuditedPart`.
    band : Band
    tables : mapping
        Of a study, or of a run, with any value of those sizes.
    asked : tuple of Asked
    scanned : tuple of (float, dict)
        Further sizes [m], with their values by key, to tell the smallest that meets a limit.
        Empty where the rules ask for no length.
    per_size : float
        Length of the axis over the size [-].
    """

    kind: str
    group: str
    about: str
    band: Band
    tables: Mapping[str, Any]
    asked: tuple[Asked, ...]
    scanned: tuple[tuple[float, dict[str, float]], ...] = field(default=())
    per_size: float = 1.0


def audit(
    cases: Sequence[Case],
    *,
    workers: int = 1,
    store: PointStore | None = None,
    progress: Progress | None = None,
) -> tuple[AuditedPart, ...]:
    """Solve parts as every reading of every rule wants them, and others beside.

    Parameters
    ----------
    cases : sequence of Case
    workers : int
        Processes that compute.
    store : PointStore, optional
        Keeps every finished part.
    progress : callable, optional

    Raises
    ------
    StudyError, OutputError
    """
    store = store or PointStore(None)
    found = []
    for number, case in enumerate(cases, start=1):
        if progress:
            words = f"{case.kind}, {case.about} ({number} of {len(cases)})"
            progress(words, (number - 1) / len(cases))
        found.append(_audited(case, _computed(case, workers, store)))
    return tuple(found)


def _computed(case: Case, workers: int, store: PointStore) -> dict[tuple[float, ...], Cell]:
    """Every part that can be made, by its values."""
    wanted = {tuple(made.values()): made for asked in case.asked for made in asked.made}
    wanted |= {tuple(made.values()): made for _, made in case.scanned}
    possible = [m for m in wanted.values() if not _is_refused(case, m)]
    if not possible:
        return {}
    variations = [Variation(key, tuple(made[key] for made in possible)) for key in possible[0]]
    with computing(case.tables, None, workers=workers) as how:
        result = explore(
            case.tables,
            _PATH,
            variations,
            sampled=True,
            workers=workers,
            store=store,
            **how,
        )
    return {tuple(made.values()): cell for made, cell in zip(possible, result.cells, strict=True)}


def _is_refused(case: Case, made: Mapping[str, float]) -> bool:
    return isinstance(built_part(case.tables, _PATH, made), Refusal)


def _audited(case: Case, cells: Mapping[tuple[float, ...], Cell]) -> AuditedPart:
    readings = tuple(_reading(asked, cells) for asked in case.asked)
    worst: dict[float, Worst] = {}
    if case.scanned:
        sized = [(asked.size, asked.made[0]) for asked in case.asked if asked.size is not None]
        for size, made in (*sized, *case.scanned):
            cell = cells.get(tuple(made.values()))
            if cell is not None and (reflected := _reflection(cell)) is not None:
                worst[size] = reflected
    return AuditedPart(
        kind=case.kind,
        group=case.group,
        about=case.about,
        band=case.band,
        readings=readings,
        smallest={level: _smallest(worst, level) for level in LEVELS} if case.scanned else {},
        per_size=case.per_size,
    )


def _reading(asked: Asked, cells: Mapping[tuple[float, ...], Cell]) -> Reading:
    found = [cells.get(tuple(made.values())) for made in asked.made]
    there = [cell for cell in found if cell is not None and cell.curves is not None]
    if not there:
        return Reading(asked.name, asked.reading, asked.size, None, None)
    return Reading(
        asked.name,
        asked.reading,
        asked.size,
        _reflection(there[0]),
        _largest(_reflection(cell) for cell in there),
        _largest(cell.leakage for cell in there),
    )


def _reflection(cell: Cell) -> Worst | None:
    """Worst |S11|; a resonance that nobody can sample may reflect everything."""
    found = cell.reflection
    if found is None or cell.curves is None or not cell.curves.whole.unsampled:
        return found
    return replace(found, high=1.0)


def _largest(found: Iterable[Worst | None]) -> Worst | None:
    return max((w for w in found if w is not None), key=lambda w: w.value, default=None)


def _smallest(worst: Mapping[float, Worst], vswr: float) -> tuple[float, float] | None:
    allowed, least = amplitude_of("vswr", vswr), None
    for size in sorted(worst, reverse=True):
        if worst[size].high > allowed:
            return None if least is None else (least, least - size)
        least = size
    # the smallest part that was computed meets it as well
    return None if least is None else (least, 0.0)
