"""What Python users get of a run: a result that saves and shows itself."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import fields
from pathlib import Path
from typing import TYPE_CHECKING, Any

from solver.errors import StudyError
from solver.runs import run_parts
from solver.runs.part_store import PartStore
from solver.runs.run_result import RunResult
from solver.studies.band import Band
from solver.studies.limits import Limit
from solver.studies.run_study import read_run
from solver.waves.walls import Walls

if TYPE_CHECKING:
    from matplotlib.figure import Figure


class ShownRun(RunResult):
    """A `RunResult` with its files, drawing and short report.

    Notes
    -----
    In a notebook the object shows itself.
    """

    def to_json(self) -> dict[str, Any]:
        """Return the result as plain lists, numbers and text (schema 1)."""
        from solver.run_output.run_json import run_result_of

        return run_result_of(self)

    def save(self, folder: str | Path) -> tuple[Path, ...]:
        """Write report, JSON, table, drawing and Touchstone file into a folder.

        Returns
        -------
        tuple of Path
            The files.

        Raises
        ------
        OutputError
            If the folder cannot be written; what it held before stays as it was.
        """
        from solver.run_output.run_files import write_run

        return write_run(Path(folder), self)

    def plot_run(self) -> Figure:
        """Return the drawing of the whole run, to scale."""
        from solver.run_output.run_drawing import run_figure

        return run_figure(self.run)

    def __str__(self) -> str:
        from solver.run_output.run_wording import run_text

        return run_text(self)

    def _repr_html_(self) -> str:
        from solver.run_output.run_files import run_html

        return run_html(self)


def run(
    parts: Sequence[Any] | str | Path,
    band: Band | None = None,
    *,
    end_vswr: float | None = None,
    limit: Limit | None = None,
    s_error: float = 1e-4,
    walls: Walls | None = None,
    title: str = "",
    kept_in: str | Path | None = None,
    workers: int = 1,
) -> ShownRun:
    r"""Compute a run of parts over a band and judge what the transmitter sees.

    Parameters
    ----------
    parts : sequence of Part or RunPart, or str or Path
        From the transmitter on; a `RunPart` gives a part a name or turns it about the axis. Or a
        run file, which then says everything but `kept_in` and `workers`.
    band : Band
        Needed with parts.
    end_vswr : float, optional
        Of what the run ends in, of any phase; matched when absent.
    limit : Limit, optional
        What is asked of the run.
    s_error : float
        Wanted bound on the error of every S-parameter of the run [-].
    walls : Walls, optional
        Metal of the walls; lossless when absent.
    title : str
    kept_in : str or Path, optional
        Folder in which finished parts are kept, and found again.
    workers : int
        Processes that compute parts side by side.

    Returns
    -------
    ShownRun

    Raises
    ------
    StudyError
        When the parts do not fit together, or one cannot be computed.
    GeometryError, LinearSolveError, ProblemSizeError
    """
    if isinstance(parts, str | Path):
        study = read_run(parts)
        parts, band, title = study.parts, study.band, study.title
        end_vswr, limit, s_error = study.end_vswr, study.limit, study.s_error
        walls = study.walls
    if band is None:
        raise StudyError("a run of parts needs a band: run(parts, Band(8.2e9, 12.4e9))")
    result = run_parts.run(
        parts,
        band,
        end_vswr=end_vswr,
        limit=limit,
        s_error=s_error,
        walls=walls,
        title=title,
        workers=workers,
        store=PartStore(Path(kept_in)) if kept_in is not None else None,
    )
    return ShownRun(**{field.name: getattr(result, field.name) for field in fields(result)})
