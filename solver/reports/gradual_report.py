"""The files of a search for the most compact part: JSON, table, figure and page."""

from __future__ import annotations

import csv
import io
from typing import TYPE_CHECKING

import numpy as np
from markupsafe import Markup

from solver.figures.inline_figures import as_svg, as_svg_file
from solver.output import plots
from solver.output.result_json import as_text, gradual_result_of
from solver.output.rule_wording import rules_frame
from solver.output.wording import band_text, gradual_text, size_name, smallest_text
from solver.reports.page_frame import answer_frame, folder_files, page_frame
from solver.reports.page_templates import page_template
from solver.studies.inches import length_text
from solver.waves.guide_modes import guide_wavelength

if TYPE_CHECKING:
    from solver.reports.run_record import RunRecord
    from solver.searches.gradual import GradualResult


def gradual_files(
    result: GradualResult, version: str, record: RunRecord | None = None
) -> dict[str, bytes]:
    """Return the content of every file of a search, by name."""
    svg = _curve(result)
    return folder_files(
        _page(result, version, record, svg),
        as_text(gradual_result_of(result)).encode("ascii"),
        gradual_csv(result),
        {"worst_reflection": as_svg_file(svg)},
    )


def gradual_html(result: GradualResult, version: str, record: RunRecord | None = None) -> str:
    """Return the search as one HTML page; it fetches nothing."""
    return _page(result, version, record, _curve(result))


def gradual_csv(result: GradualResult) -> str:
    """Return the sizes that were computed as comma-separated values."""
    text = io.StringIO()
    writer = csv.writer(text, lineterminator="\n")
    name = size_name(result.kind).replace(" ", "_")
    writer.writerow([f"{name}_mm", "worst_s11_abs", "worst_s11_error", "estimated_s11_abs"])
    for row in zip(
        np.asarray(result.sizes) * 1e3,
        result.worst_s11,
        result.worst_s11_error,
        result.estimated_s11,
        strict=True,
    ):
        writer.writerow([f"{value:.9g}" if np.isfinite(value) else "" for value in row])
    return text.getvalue()


def _curve(result: GradualResult) -> str:
    wavelength = float(guide_wavelength(result.guide, result.band.centre))
    return as_svg(plots.gradual_figure(result, wavelength))


def _page(result: GradualResult, version: str, record: RunRecord | None, svg: str) -> str:
    found, size = result.smallest is not None, size_name(result.kind)
    first = length_text(result.first_met, 5) if result.first_met is not None else ""
    page = {
        **page_frame(
            "gradual",
            f"How gradual must this {result.kind} be?",
            gradual_text(result),
            band_text(result.band),
            record,
            kinds=(result.kind,),
            version=version,
        ),
        **answer_frame(
            "meets" if found else "undecided",
            smallest_text(result),
            [
                ("Limit", result.limit.text),
                (f"First {size} that meets it at all", first),
                ("Sizes computed", f"{len(result.sizes)}"),
            ],
            result.reasons,
        ),
        "curve": Markup(svg),
        **rules_frame(result.rules, "Found"),
    }
    return page_template("gradual_report.html").render(page)
