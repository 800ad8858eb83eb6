"""Grids and searches from Python: `explore`, `seek`, `gradual`; results that show themselves."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import fields
from pathlib import Path
from typing import TYPE_CHECKING, Any, TypeVar

from solver.output.exploration_wording import headline, reasons, table, worst_text
from solver.output.seek_answer import seek_text
from solver.output.wording import band_text, gradual_text, smallest_text
from solver.reports.asked_study import asked_of, check_units
from solver.reports.notebook_views import notebook_view
from solver.runs.run_curves import computing
from solver.searches import explore as explorations
from solver.searches import gradual as sizes
from solver.searches import seek as optima
from solver.searches.exploration import Exploration
from solver.searches.gradual import GradualResult
from solver.searches.point_store import PointStore
from solver.searches.seek_result import SeekResult
from solver.searches.varied_keys import Span, Variation, sampled, values_in_words
from solver.studies.band import Band
from solver.studies.limits import Limit
from solver.studies.study import read_tables
from solver.waves.walls import Walls

if TYPE_CHECKING:
    import xarray

    from solver.progress import Progress

#: Names a study file that is not there: its tables were given themselves.
_NO_FILE = Path("study")
_Shown = TypeVar("_Shown")


class ShownExploration(Exploration):
    """An `Exploration` that prints and shows itself."""

    def to_dataset(self) -> xarray.Dataset:
        """Return the grid over its keys as an xarray dataset."""
        from solver.exchange.datasets import exploration_dataset

        return exploration_dataset(self)

    def __str__(self) -> str:
        found = [f"  - {reason}" for reason in reasons(self)]
        return "\n".join([self.title, self.part, band_text(self.band), headline(self), *found])

    __repr__ = __str__

    def _repr_html_(self) -> str:
        heads, rows = table(self)
        return notebook_view(self.title, [self.part, headline(self), *reasons(self)], heads, rows)


class ShownGradual(GradualResult):
    """A `GradualResult` that prints and shows itself."""

    def to_dataset(self) -> xarray.Dataset:
        """Return the worst reflection against size as an xarray dataset."""
        from solver.exchange.datasets import gradual_dataset

        return gradual_dataset(self)

    def __str__(self) -> str:
        reasons = [f"  - {reason}" for reason in self.reasons]
        lines = [gradual_text(self), band_text(self.band), smallest_text(self), *reasons]
        return "\n".join(lines)

    __repr__ = __str__

    def _repr_html_(self) -> str:
        return notebook_view(gradual_text(self), [smallest_text(self), *self.reasons])


class ShownSeek(SeekResult):
    """A `SeekResult` that prints and shows itself."""

    def to_dataset(self) -> xarray.Dataset:
        """Return every part that was tried as an xarray dataset."""
        from solver.exchange.datasets import seek_dataset

        return seek_dataset(self)

    def __str__(self) -> str:
        return seek_text(self)

    __repr__ = __str__

    def _repr_html_(self) -> str:
        least = f"Least {self.quantity}: {worst_text(self.least)} at {values_in_words(self.values)}"
        notes = [line[4:] for line in seek_text(self).splitlines() if line.startswith("  - ")]
        return notebook_view(self.title, [least, *notes])


def explore(
    study: str | Path | Mapping[str, Any],
    vary: Mapping[str, Sequence[float]],
    *,
    sample: int | None = None,
    at: float | None = None,
    folder: str | Path | None = None,
    workers: int = 1,
    engine: str | None = None,
    progress: Progress | None = None,
) -> ShownExploration:
    """Compute a study for every combination of values of some of its keys, or for a sample.

    Parameters
    ----------
    study : str, Path or mapping
        A study or run file, or its tables.
    vary : mapping
        Values by key, each in the unit of its key: ``{"component.cut_mm": [7.6, 8.0, 8.4]}``.
    sample : int, optional
        Number of points that together fill intervals evenly; `vary` then gives the two ends of
        each.
    at : float, optional
        Frequency about which bands are looked for [Hz]; by default the band's centre.
    folder : str or Path, optional
        Keeps every finished point beside it, in ``FOLDER.partial``; the same call goes on there.
    workers : int
        Processes; with more than one, a script needs ``if __name__ == "__main__":``.
    engine : str, optional
        Address of a running dask scheduler that computes instead of this machine.
    progress : callable, optional

    Returns
    -------
    ShownExploration

    Raises
    ------
    StudyError, OutputError
    """
    tables, path = _tables(study)
    if sample is None:
        variations = tuple(Variation(k, tuple(map(float, values))) for k, values in vary.items())
    else:
        spans = [Span(k, float(low), float(high)) for k, (low, high) in vary.items()]
        variations = sampled(spans, sample)
    place = None if folder is None else Path(folder)
    with computing(
        tables, place, workers=workers, engine=engine is not None, progress=progress
    ) as how:
        found = explorations.explore(
            tables,
            path,
            variations,
            sampled=sample is not None,
            design=at,
            workers=workers,
            engine=engine,
            store=PointStore(place),
            progress=progress,
            **how,
        )
    return _as(ShownExploration, found)


def seek(
    study: str | Path | Mapping[str, Any],
    vary: Mapping[str, tuple[float, float]],
    least: str,
    *,
    at: float | None = None,
    folder: str | Path | None = None,
    workers: int = 1,
    progress: Progress | None = None,
) -> ShownSeek:
    """Find the values of one or two keys of a study at which it leaks or reflects least.

    Parameters
    ----------
    study : str, Path or mapping
        A study or run file, or its tables.
    vary : mapping
        The interval to search by key, in the unit of the key: ``{"component.cut_mm": (5, 13)}``.
    least : {"leakage", "reflection"}
    at : float, optional
        The frequency that counts [Hz]; by default the worst over the band.
    folder, workers, progress
        As those of `explore`.

    Returns
    -------
    ShownSeek

    Raises
    ------
    StudyError, OutputError
    """
    tables, path = _tables(study)
    place = None if folder is None else Path(folder)
    with computing(tables, place, workers=workers, progress=progress) as how:
        found = optima.seek(
            tables,
            path,
            [Span(key, float(low), float(high)) for key, (low, high) in vary.items()],
            least,
            at=at,
            workers=workers,
            store=PointStore(place),
            progress=progress,
            **how,
        )
    return _as(ShownSeek, found)


def gradual(
    part: Any,
    band: Band | None = None,
    limit: Limit | None = None,
    *,
    s_error: float | None = None,
    walls: Walls | None = None,
    folder: str | Path | None = None,
    most_minutes: float = sizes.MOST_MINUTES,
    progress: Progress | None = None,
) -> ShownGradual:
    """Find the radius or length from which every larger part, else like a given one, meets a limit.

    Parameters
    ----------
    part : Bend, Twist, Taper, str, Path or Study
        A part, whose own size does not matter, or a study.
    band : Band, optional
        That of the study, if there is one.
    limit : Limit, optional
        Likewise.
    s_error : float, optional
        Wanted bound on the error of S11 [-]; that of the study, else 1e-5.
    walls : Walls, optional
    folder : str or Path, optional
        As that of `explore`.
    most_minutes : float
        A search that would take longer is refused or ended.
    progress : callable, optional

    Returns
    -------
    ShownGradual

    Raises
    ------
    StudyError, UnsupportedPartError, OutputError
    """
    asked = asked_of(part, band, limit, s_error, walls, accuracy=1e-5)
    check_units(asked)
    found = sizes.gradual(
        asked.component,
        asked.band,
        asked.limit or Limit(),
        s_error=asked.s_error,
        walls=asked.walls,
        store=PointStore(None if folder is None else Path(folder)),
        most_minutes=most_minutes,
        progress=progress,
    )
    return _as(ShownGradual, found)


def _tables(study: str | Path | Mapping[str, Any]) -> tuple[Mapping[str, Any], Path]:
    if isinstance(study, Mapping):
        return study, _NO_FILE
    return read_tables(Path(study)), Path(study)


def _as(shown: type[_Shown], found: Any) -> _Shown:
    """Return data as the class that shows it."""
    return shown(**{item.name: getattr(found, item.name) for item in fields(found)})
