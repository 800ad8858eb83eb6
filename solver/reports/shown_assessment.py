"""What Python users get: an assessment that plots, saves and shows itself."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import fields
from functools import wraps
from pathlib import Path
from typing import TYPE_CHECKING, Any, ParamSpec

from solver.judgement import assess_part
from solver.judgement.assessment import Assessment

if TYPE_CHECKING:
    from matplotlib.figure import Figure

_Arguments = ParamSpec("_Arguments")


class ShownAssessment(Assessment):
    """An `Assessment` with its figures, files and short report.

    Notes
    -----
    In a notebook the object shows itself. Figures and files load their libraries when asked for.
    """

    def to_json(self) -> dict[str, Any]:
        """Return the result as plain lists, numbers and text (schema 1)."""
        from solver.output.result_json import result_of

        return result_of(self)

    def save(self, folder: str | Path) -> tuple[Path, ...]:
        """Write result.json, the Touchstone file, the field and the report into a folder.

        Returns
        -------
        tuple of Path
            The files.

        Raises
        ------
        OutputError
            If the folder cannot be written; what it held before stays as it was.
        """
        from solver.output.output_folder import write_files
        from solver.reports.report import result_files

        return write_files(folder, result_files(self))

    def plot_reflection(self) -> Figure:
        r"""Return a figure of \|S11\| beside the closed forms."""
        from solver.output.plots import reflection_figure

        return reflection_figure(self)

    def plot_vswr(self) -> Figure:
        """Return a figure of the VSWR with its error bar and limit."""
        from solver.output.plots import vswr_figure

        return vswr_figure(self)

    def plot_field(self) -> Figure:
        """Return a figure of the field.

        Raises
        ------
        ValueError
            If the result holds no field.
        """
        from solver.figures.field_figures import field_figure

        if self.field is None:
            raise ValueError("the result holds no field to plot")
        return field_figure(self.field)

    def _repr_html_(self) -> str:
        from solver.reports.report import notebook_html

        return notebook_html(self)


def _shown(assess: Callable[_Arguments, Assessment]) -> Callable[_Arguments, ShownAssessment]:
    """Let a function that returns an assessment return one that shows itself."""

    @wraps(assess)
    def assess_and_show(*given: _Arguments.args, **named: _Arguments.kwargs) -> ShownAssessment:
        found = assess(*given, **named)
        return ShownAssessment(**{item.name: getattr(found, item.name) for item in fields(found)})

    return assess_and_show


assess = _shown(assess_part.assess)
