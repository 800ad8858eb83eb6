"""What Python users get: an assessment that plots, saves and shows itself."""

from __future__ import annotations

from dataclasses import fields
from pathlib import Path
from typing import TYPE_CHECKING, Any

from solver.judgement import assess_part
from solver.judgement.assessment import Assessment
from solver.reports.asked_study import asked_of, check_units
from solver.studies.band import Band
from solver.studies.limits import Limit
from solver.waves.walls import Walls

if TYPE_CHECKING:
    import xarray
    from matplotlib.figure import Figure
    from skrf import Network


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

    def save_shape(self, path: str | Path) -> Path:
        """Write the inside of the part as an STL or STEP file; see `solver.save_shape`."""
        from solver.exchange.shape_files import save_shape

        return save_shape(self.component, path)

    def to_dataset(self) -> xarray.Dataset:
        """Return the result over its frequencies as an xarray dataset."""
        from solver.exchange.datasets import assessment_dataset

        return assessment_dataset(self)

    def to_network(self) -> Network:
        """Return the S-matrix as a scikit-rf network; every port mode is one of its ports."""
        from solver.exchange.touchstone import network_of

        return network_of(self)

    def __str__(self) -> str:
        from solver.output.wording import assessment_lines

        return "\n".join(assessment_lines(self))

    __repr__ = __str__

    def _repr_html_(self) -> str:
        from solver.reports.report import notebook_html

        return notebook_html(self)


def assess(
    component: Any,
    band: Band | None = None,
    *,
    limit: Limit | None = None,
    s_error: float | None = None,
    walls: Walls | None = None,
    title: str = "",
    **options: Any,
) -> ShownAssessment:
    """Compute a part over a band and judge it.

    Parameters
    ----------
    component : object, str, Path or Study
        The part, in its guide; or a study file, which says all the rest as well.
    band : Band
        Frequencies, all above the cutoff of the guide's dominant mode.
    limit : Limit, optional
        What is asked of the part.
    s_error : float, optional
        Wanted bound on the error of every S-parameter [-]; 1e-4 by default.
    walls : Walls, optional
        Metal of the walls; lossless when absent.
    title : str
    **options
        ``in_space``, ``however_long``, ``progress``: see `solver.judgement.assess_part.assess`.

    Returns
    -------
    ShownAssessment

    Raises
    ------
    GuideproofError, GeometryError

    Notes
    -----
    What is given beside a study counts instead of what it says.
    """
    asked = asked_of(component, band, limit, s_error, walls, title)
    if not options.get("however_long"):
        check_units(asked)
    found = assess_part.assessed(asked, **options)
    return ShownAssessment(**{item.name: getattr(found, item.name) for item in fields(found)})
