"""Types of the command line's options, with messages that name the limit."""

from __future__ import annotations

import math
from collections.abc import Callable
from functools import wraps
from pathlib import Path
from typing import Any

import click

from geometries.errors import GeometryError
from geometries.shapes.guide_sizes import guide_of
from geometries.shapes.guides import CircularGuide, RectangularGuide
from solver.studies.messages import comma_hint

STUDY = click.argument("study", type=click.Path(path_type=Path))
#: Key under which a command keeps that a PDF is wanted.
PDF_WANTED = "guideproof.pdf"
_FOLDER = click.option(
    "-o", "--output", "folder", type=click.Path(path_type=Path), help="Folder for all result files."
)
_PDF = click.option(
    "--pdf", is_flag=True, help="Write report.pdf too; needs the extra guideproof[pdf]."
)
HOWEVER_LONG = click.option(
    "--however-long", is_flag=True, help="Solve also a part so long that it takes many minutes."
)
JSON = click.option("--json", "as_json", is_flag=True, help="Print one JSON object, nothing else.")

RULES = click.option(
    "--rules", "every_rule", is_flag=True, help="Show every reading of every rule of thumb."
)

#: A list of modes beyond this many first cutoffs is too long to read.
MOST_CUTOFFS = 30


class Amount(click.ParamType):
    """A finite number between two others.

    Parameters
    ----------
    above : float
        The number must be larger than this.
    most : float, optional
        The largest number allowed.
    """

    name = "number"

    def __init__(self, above: float, most: float = 1e6) -> None:
        self.above, self.most = above, most

    def convert(self, value: Any, param: Any, ctx: Any) -> float:
        """Return the number; a usage error if it is none or outside the range."""
        try:
            number = float(value)
        except ValueError:
            self.fail(f"{value} is not a number{comma_hint(str(value))}", param, ctx)
        if not (math.isfinite(number) and self.above < number <= self.most):
            limits = f"above {self.above:g} and at most {self.most:g}"
            self.fail(f"{value} must be {limits}", param, ctx)
        return number


class GuideType(click.ParamType):
    """A standard size, or inside dimensions: ``22.86x10.16`` in mm, ``0.9x0.4in``, ``27.0``."""

    name = "guide"

    def convert(self, value: Any, param: Any, ctx: Any) -> RectangularGuide | CircularGuide:
        """Return the guide; a usage error if there is no such size."""
        if not isinstance(value, str):
            return value
        try:
            return guide_of(value)
        except GeometryError as error:
            self.fail(str(error), param, ctx)


GUIDE = GuideType()


def FOLDER(command: Callable[..., Any]) -> Callable[..., Any]:  # noqa: N802 - an option
    """Add the folder for result files to a command, and whether it holds a PDF too."""

    @wraps(command)
    def with_folder(*given: Any, pdf: bool, **named: Any) -> Any:
        if pdf:
            from solver.reports.pdf_pages import check_pdf

            if named.get("folder") is None:
                raise click.UsageError("--pdf goes with -o FOLDER")
            check_pdf()
            click.get_current_context().meta[PDF_WANTED] = True
        return command(*given, **named)

    return _FOLDER(_PDF(with_folder))
