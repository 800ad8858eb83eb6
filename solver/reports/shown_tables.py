"""Tables from Python: `modes` and `reference`, which print, show and hand themselves on."""

from __future__ import annotations

import csv
import io
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np

from geometries.shapes.choke_flanges import ChokeFlange
from geometries.shapes.guide_sizes import guide_of
from geometries.shapes.guides import CircularGuide, RectangularGuide
from geometries.shapes.rotating_joints import RotatingJoint
from solver.output.reference_values import reference_columns
from solver.output.wording import part_text
from solver.reports.asked_study import asked_of, check_units
from solver.reports.notebook_views import notebook_view
from solver.reports.shown_assessment import ShownAssessment, assess
from solver.studies.band import Band
from solver.waves.guide_modes import dominant_cutoff, mode_cutoffs

if TYPE_CHECKING:
    import xarray
    from skrf import Network

    from solver.progress import Progress
    from solver.studies.study import Study

#: Rows that a table prints of itself.
_PRINTED = 8


@dataclass(frozen=True, eq=False)
class ShownTable:
    """Columns of equal length that print and show themselves.

    Parameters
    ----------
    title : str
    axis : str
        Name of the column that orders the others.
    columns : dict of str to array
    notes : tuple of str
    """

    title: str
    axis: str
    columns: dict[str, Any]
    notes: tuple[str, ...] = ()

    def __getitem__(self, name: str) -> Any:
        return self.columns[name]

    def __len__(self) -> int:
        return len(self.columns[self.axis])

    @property
    def rows(self) -> list[list[str]]:
        """The table as text, to seven digits."""
        return [[_text(value) for value in row] for row in zip(*self.columns.values(), strict=True)]

    def to_csv(self) -> str:
        """Return the table as comma-separated values with one line of names."""
        text = io.StringIO()
        writer = csv.writer(text, lineterminator="\n")
        writer.writerow(self.columns)
        for row in zip(*self.columns.values(), strict=True):
            writer.writerow([f"{v:.12g}" if isinstance(v, float) else v for v in row])
        return text.getvalue()

    def to_dataset(self) -> xarray.Dataset:
        """Return the columns along their axis as an xarray dataset."""
        from solver.exchange.datasets import columns_dataset

        return columns_dataset(self.axis, self.columns, {"title": self.title})

    def __str__(self) -> str:
        from solver.output.screen import table_text

        rows, heads = self.rows, list(self.columns)
        lines = [self.title, table_text(heads, rows[:_PRINTED], range(len(heads)))]
        if len(rows) > _PRINTED:
            lines.append(f"and {len(rows) - _PRINTED} more rows")
        return "\n".join([*lines, *self.notes])

    __repr__ = __str__

    def _repr_html_(self) -> str:
        return notebook_view(self.title, self.notes, list(self.columns), self.rows)


@dataclass(frozen=True, eq=False, repr=False)
class ReferenceTable(ShownTable):
    """Reference values, with the assessment that they come from.

    Parameters
    ----------
    title, axis, columns, notes
        As those of `ShownTable`.
    assessment : ShownAssessment or None
    """

    assessment: ShownAssessment | None = None

    def to_network(self) -> Network:
        """Return the S-matrix as a scikit-rf network."""
        assert self.assessment is not None
        return self.assessment.to_network()


def modes(
    what: Any,
    band: Band | None = None,
    *,
    up_to: float | None = None,
    count: int = 6,
    progress: Progress | None = None,
) -> ShownTable:
    """List the modes of a guide, or the resonances of a part.

    Parameters
    ----------
    what : guide, part, Study, str or Path
        A guide or its size, as ``"WR-90"``; or a part or a study file (NAME.toml).
    band : Band, optional
        Of a part: the resonances about its middle are listed; of a joint with a gap, the trapped
        ones in it.
    up_to : float, optional
        Highest cutoff of a guide's modes [Hz]; by default three times the first.
    count : int
        Resonances of a closed part.
    progress : callable, optional

    Returns
    -------
    ShownTable

    Raises
    ------
    GuideproofError, GeometryError
    """
    if isinstance(what, str) and not (Path(what).suffix == ".toml" or Path(what).exists()):
        what = guide_of(what)
    if isinstance(what, RectangularGuide | CircularGuide):
        first = dominant_cutoff(what)
        listed = mode_cutoffs(what, 3.0 * first if up_to is None else up_to)
        columns = {
            "mode": [mode.label for mode in listed],
            "cutoff_hz": np.array([mode.cutoff for mode in listed]),
        }
        return ShownTable(f"modes of {what.label}", "mode", columns)
    asked = asked_of(what, band)
    check_units(asked)
    if isinstance(asked.component, ChokeFlange | RotatingJoint):
        return _trapped(asked, progress)
    return _closed(asked, count, progress)


def _closed(asked: Study, count: int, progress: Progress | None) -> ShownTable:
    from solver.resonances.cavity_modes import cavity_modes

    conductivity = asked.walls.conductivity if asked.walls is not None else None
    found = cavity_modes(
        asked.component, count, near=asked.band.centre, conductivity=conductivity, progress=progress
    )
    columns: dict[str, Any] = {
        "frequency_hz": np.array([mode.frequency for mode in found]),
        "error_hz": np.array([mode.error for mode in found]),
        "multiplicity": np.array([mode.multiplicity for mode in found]),
    }
    if conductivity is not None:
        columns["q_walls"] = np.array([mode.q_walls for mode in found])
    title = f"resonances of a {part_text(asked.component)}"
    return ShownTable(title, "frequency_hz", columns, ("closed at its reference planes",))


def _trapped(asked: Study, progress: Progress | None) -> ShownTable:
    from solver.parts.joint_resonances import joint_resonances

    part: Any = asked.component
    found = joint_resonances(part, asked.band.frequencies, max(asked.s_error, 1e-3), progress)
    columns = {
        "frequency_hz": np.array([one.frequency for one in found.listed]),
        "error_hz": np.array([one.error for one in found.listed]),
        "q": np.array([one.quality for one in found.listed]),
        "fields": [one.about for one in found.listed],
    }
    notes = ["waves leave through both guides and past the rim"]
    if found.not_resolved:
        notes.append(f"left out, not resolved: {found.not_resolved}")
    if found.not_searched:
        notes.append(f"not searched: {'; '.join(found.not_searched)}")
    title = f"trapped resonances of a {part_text(part)}"
    return ShownTable(title, "frequency_hz", columns, tuple(notes))


def reference(component: Any, band: Band | None = None, **options: Any) -> ReferenceTable:
    """Compute reference values for a part: S-parameters with their error, and closed forms.

    Parameters
    ----------
    component : object, str, Path or Study
    band : Band, optional
    **options
        As those of `solver.assess`.

    Returns
    -------
    ReferenceTable

    Raises
    ------
    GuideproofError, GeometryError
    """
    assessment = assess(component, band, **options)
    reached = assessment.provenance.accuracy_reached
    notes = [f"{e.name}: {e.source.citation}" for e in assessment.estimates]
    if not reached:
        notes.insert(0, "the accuracy asked for was not reached")
    title = assessment.title or part_text(assessment.component)
    columns = {name: np.asarray(v) for name, v in reference_columns(assessment).items()}
    return ReferenceTable(title, "frequency_ghz", columns, tuple(notes), assessment)


def _text(value: Any) -> str:
    return f"{value:.7g}" if isinstance(value, float) else f"{value}"
