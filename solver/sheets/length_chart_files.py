"""A chart of the lengths of twists or tapers as figure, page, table and JSON."""

from __future__ import annotations

from typing import Any

import numpy as np
from matplotlib.figure import Figure

from geometries.arrays import Array
from solver.reports.run_record import RunRecord
from solver.searches.length_charts import LengthChart
from solver.sheets.chart_files import chart_pages, contour_figure, lax_rows, table_of_chart
from solver.studies.plain_values import plain
from solver.version import installed_version

_ACROSS = {"twist": "angle / deg", "taper": "height at the second end / height at the first"}
_SHAPES = {"twist": "uniform twists", "taper": "linear tapers of the height alone"}


def length_chart_files(chart: LengthChart, record: RunRecord | None = None) -> dict[str, bytes]:
    """Return the content of every file of a chart, by name."""
    return chart_pages(
        chart,
        record,
        title=f"How long must a {chart.kind} be?",
        of_what=f"{_SHAPES[chart.kind]}, every rectangular guide with a/b = {chart.ratio:g}",
        kind=chart.kind,
        figure=length_chart_figure(chart),
        rows=lax_rows(_across(chart), chart.length, chart.worst, chart.rules),
        table=length_chart_csv(chart),
        result=length_chart_result_of(chart),
    )


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
    unit = "deg" if chart.kind == "twist" else "of the height"
    heads = [f"worst_s11 at {x:.6g} {unit}" for x in _across(chart)]
    return table_of_chart(["length_over_wavelength", *heads], chart.length, chart.worst)


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
