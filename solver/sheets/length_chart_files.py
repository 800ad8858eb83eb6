"""A chart of the lengths of twists or tapers as figure, page, table and JSON."""

from __future__ import annotations

import csv
import io
from typing import Any

import numpy as np
from markupsafe import Markup
from matplotlib.figure import Figure

from geometries.arrays import Array
from solver.figures.inline_figures import as_svg, as_svg_file
from solver.output.result_json import as_text
from solver.reports.page_frame import page_frame
from solver.reports.page_templates import page_template
from solver.reports.run_record import RunRecord
from solver.searches.length_charts import LengthChart
from solver.sheets.chart_files import contour_figure, lax_heads, lax_rows
from solver.studies.plain_values import plain
from solver.version import installed_version

_ACROSS = {"twist": "angle / deg", "taper": "height at the second end / height at the first"}
_SHAPES = {"twist": "uniform twists", "taper": "linear tapers of the height alone"}


def length_chart_files(chart: LengthChart, record: RunRecord | None = None) -> dict[str, bytes]:
    """Return the content of every file of a chart, by name."""
    svg = as_svg(length_chart_figure(chart))
    page = page_frame(
        "chart",
        f"How long must a {chart.kind} be?",
        f"{_SHAPES[chart.kind]}, every rectangular guide with a/b = {chart.ratio:g}",
        f"{chart.edges[0]:g} to {chart.edges[1]:g} times the cutoff frequency",
        record,
        kinds=(chart.kind,),
    )
    more = {
        "figure": Markup(svg),
        "rules": list(enumerate(chart.rules, start=1)),
        "between": f"{100 * chart.between:.2g}",
        "error": f"{np.nanmax(chart.error):.1g}",
        "points": chart.worst.size,
        "noun": chart.kind,
        "heads": lax_heads(),
        "rows": lax_rows(_across(chart), chart.length, chart.worst, chart.rules),
    }
    return {
        "chart.html": page_template("chart.html").render(page | more).encode("utf-8"),
        "chart.svg": as_svg_file(svg),
        "chart.csv": length_chart_csv(chart).encode("utf-8"),
        "chart.json": as_text(length_chart_result_of(chart)).encode("ascii"),
    }


def _across(chart: LengthChart) -> Array:
    return np.degrees(chart.change) if chart.kind == "twist" else chart.change


def length_chart_result_of(chart: LengthChart) -> dict[str, Any]:
    """Return a chart as plain values."""
    name = "angle_deg" if chart.kind == "twist" else "height_over_first"
    return plain(
        {
            "schema": 1,
            "version": installed_version(),
            "kind": chart.kind,
            "ratio": chart.ratio,
            "band_over_cutoff": chart.edges,
            "length_over_wavelength": chart.length,
            "guide_wavelength_over_wavelength": chart.guide_wavelength,
            name: _across(chart),
            "worst_s11": chart.worst,
            "worst_s11_error": chart.error,
            "interpolation_error": chart.between,
            "rules": [{"words": words, "length": line} for words, line in chart.rules.items()],
        }
    )


def length_chart_csv(chart: LengthChart) -> str:
    """Return one line for each length, one column for each angle or height."""
    text = io.StringIO()
    writer = csv.writer(text, lineterminator="\n")
    unit = "deg" if chart.kind == "twist" else "of the height"
    writer.writerow(
        ["length_over_wavelength", *(f"worst_s11 at {x:.6g} {unit}" for x in _across(chart))]
    )
    for length, row in zip(chart.length, chart.worst, strict=True):
        writer.writerow([f"{length:.6g}", *(f"{value:.6g}" for value in row)])
    return text.getvalue()


def length_chart_figure(chart: LengthChart) -> Figure:
    """Return contours of the worst reflection, the rules drawn in and numbered."""
    return contour_figure(
        _across(chart),
        chart.length,
        chart.worst,
        chart.rules,
        chart.guide_wavelength,
        across=_ACROSS[chart.kind],
        size="length",
    )
