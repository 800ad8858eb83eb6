"""A chart of gradualness as figure, page, table and JSON."""

from __future__ import annotations

import csv
import io
import math
from collections.abc import Mapping
from typing import Any

import numpy as np
from markupsafe import Markup
from matplotlib import rc_context
from matplotlib.figure import Figure
from matplotlib.ticker import FixedLocator

from geometries.arrays import Array
from solver.figures.inline_figures import as_svg, as_svg_file
from solver.figures.style import BOUND, INK, SOFT, STYLE, WIDTH
from solver.output.result_json import as_text
from solver.reports.page_frame import page_frame
from solver.reports.page_templates import page_template
from solver.reports.run_record import RunRecord
from solver.searches.gradualness import GradualnessChart
from solver.searches.length_charts import LengthChart
from solver.studies.limits import amplitude_of
from solver.studies.plain_values import plain
from solver.version import installed_version

#: Contours that are named, by VSWR.
LEVELS = (1.01, 1.02, 1.05, 1.10, 1.20)
_TICKS = (0.1, 0.2, 0.3, 0.5, 0.7, 1.0, 1.5, 2.0, 3.0, 5.0, 10.0)


def chart_files(chart: GradualnessChart, record: RunRecord | None = None) -> dict[str, bytes]:
    """Return the content of every file of a chart, by name."""
    return chart_pages(
        chart,
        record,
        title=f"How gradual must an {chart.plane}-plane bend be?",
        of_what=f"every rectangular guide with a/b = {chart.ratio:g}",
        kind="bend",
        figure=chart_figure(chart),
        rows=lax_rows(np.degrees(chart.angle), chart.radius, chart.worst, chart.rules),
        table=chart_csv(chart),
        result=chart_result_of(chart),
    )


def chart_pages(
    chart: GradualnessChart | LengthChart,
    record: RunRecord | None,
    *,
    title: str,
    of_what: str,
    kind: str,
    figure: Figure,
    rows: list[list[str]],
    table: str,
    result: dict[str, Any],
) -> dict[str, bytes]:
    """Return the content of every file of a chart of either sort, by name.

    Parameters
    ----------
    chart : GradualnessChart or LengthChart
    record : RunRecord or None
    title, of_what : str
        Heading of the page, and what the chart holds for.
    kind : str
        Of the parts.
    figure : Figure
    rows : list of list of str
        See `lax_rows`.
    table : str
        Of the CSV file.
    result : dict
        Of the JSON file.
    """
    svg = as_svg(figure)
    page = page_frame("chart", title, of_what, band_words(chart), record, kinds=(kind,))
    more = {
        "figure": Markup(svg),
        "rules": list(enumerate(chart.rules, start=1)),
        "between": f"{100 * chart.between:.2g}",
        "error": f"{np.nanmax(chart.error):.1g}",
        "points": chart.worst.size,
        "noun": kind,
        "heads": lax_heads(),
        "rows": rows,
    }
    return {
        "chart.html": page_template("chart.html").render(page | more).encode("utf-8"),
        "chart.svg": as_svg_file(svg),
        "chart.csv": table.encode("utf-8"),
        "chart.json": as_text(result).encode("ascii"),
    }


def band_words(chart: GradualnessChart | LengthChart) -> str:
    """Return the band in words."""
    return f"{chart.edges[0]:g} to {chart.edges[1]:g} times the cutoff frequency"


def chart_result_of(chart: GradualnessChart) -> dict[str, Any]:
    """Return a chart as plain values."""
    return plain(
        {
            "schema": 1,
            "version": installed_version(),
            "plane": chart.plane,
            "ratio": chart.ratio,
            "band_over_cutoff": chart.edges,
            "radius_over_wavelength": chart.radius,
            "guide_wavelength_over_wavelength": chart.guide_wavelength,
            "angle_deg": np.degrees(chart.angle),
            "worst_s11": chart.worst,
            "worst_s11_error": chart.error,
            "interpolation_error": chart.between,
            "rules": [{"words": words, "radius": line} for words, line in chart.rules.items()],
        }
    )


def lax_heads() -> list[str]:
    """Return the heads of `lax_rows`."""
    return ["rule", *(f"too lax for VSWR {level:.2f}" for level in LEVELS)]


def lax_rows(x: Array, y: Array, worst: Array, rules: Mapping[str, Array]) -> list[list[str]]:
    """Return where each rule lets through more than each VSWR, in the unit of `x`.

    Parameters
    ----------
    x, y, worst, rules
        As those of `contour_figure`.

    Returns
    -------
    list of list of str
        The rule's number; then "nowhere", or the range and how many of the columns of the chart it
        is too lax in. A rule that asks for a size outside the chart says nothing there.
    """
    rows = []
    for number, line in enumerate(rules.values(), start=1):
        inside = (line >= y[0] * (1 - 1e-9)) & (line <= y[-1] * (1 + 1e-9))
        columns = np.log(worst).T
        met = [np.interp(np.log(a), np.log(y), c) for a, c in zip(line, columns, strict=True)]
        row = [str(number)]
        for level in LEVELS:
            lax = inside & (np.array(met) > math.log(amplitude_of("vswr", level)))
            if lax.any():
                ends = f"{x[lax].min():.3g} to {x[lax].max():.3g}"
                row.append(f"{ends} ({lax.sum()} of {inside.sum()})")
            else:
                row.append("nowhere" if inside.any() else "")
        rows.append(row)
    return rows


def chart_csv(chart: GradualnessChart) -> str:
    """Return one line for each radius, one column for each angle."""
    heads = [f"worst_s11 at {math.degrees(a):.6g} deg" for a in chart.angle]
    return table_of_chart(["radius_over_wavelength", *heads], chart.radius, chart.worst)


def table_of_chart(heads: list[str], size: Array, worst: Array) -> str:
    """Return one line for each size (r,), with the worst reflections (r, n), under heads."""
    text = io.StringIO()
    writer = csv.writer(text, lineterminator="\n")
    writer.writerow(heads)
    for at, row in zip(size, worst, strict=True):
        writer.writerow([f"{at:.6g}", *(f"{value:.6g}" for value in row)])
    return text.getvalue()


def chart_figure(chart: GradualnessChart) -> Figure:
    """Return contours of the worst reflection, the rules drawn in and numbered."""
    return contour_figure(
        np.degrees(chart.angle),
        chart.radius,
        chart.worst,
        chart.rules,
        chart.guide_wavelength,
        across="angle / deg",
        size="mean radius",
    )


def contour_figure(
    x: Array,
    y: Array,
    worst: Array,
    rules: Mapping[str, Array],
    guide_wavelength: float,
    *,
    across: str,
    size: str,
) -> Figure:
    """Return contours of the worst reflection, with the rules drawn in and numbered.

    Parameters
    ----------
    x : (n,) array
        Along the axis that `across` names.
    y : (r,) array
        Size over the free-space wavelength at the middle of the band.
    worst : (r, n) array
        Largest abs(S11) over the band.
    rules : mapping of str to (n,) array
        Size that each asks for, as `y`.
    guide_wavelength : float
        Over the free-space wavelength.
    across, size : str
        What is varied, in words.
    """
    levels = [amplitude_of("vswr", level) for level in LEVELS]
    with rc_context(STYLE):
        figure = Figure(figsize=(WIDTH, 5.6))
        axes = figure.add_axes((0.12, 0.1, 0.73, 0.84))
        axes.set_yscale("log")
        lines = axes.contour(
            x, y, np.log(worst), np.log(levels), colors=INK, linewidths=1.2, linestyles="-"
        )
        names = {math.log(a): f"VSWR {v:.2f}" for a, v in zip(levels, LEVELS, strict=True)}
        axes.clabel(lines, fmt=names, fontsize=8)
        for number, line in enumerate(rules.values(), start=1):
            axes.plot(x, line, color=BOUND, lw=0.9, ls="--")
            # side by side, as rules that ask for much the same would cover each other's numbers
            place = x[-1] - (number % 6) * 0.04 * (x[-1] - x[0])
            at = float(np.interp(place, x, line))
            axes.annotate(f"{number}", (place, at), color=BOUND, fontsize=8, va="bottom")
        axes.set_ylim(y[0], max(y[-1], *(line.max() for line in rules.values())))
        axes.set_xlabel(across)
        axes.set_title(f"{size.capitalize()} in wavelengths at the middle of the band")
        axes.set_ylabel(f"{size} / free-space wavelength")
        axes.yaxis.set_major_locator(FixedLocator(_TICKS))
        axes.yaxis.set_major_formatter("{x:g}")
        axes.yaxis.set_minor_formatter("")
        other = axes.secondary_yaxis(
            "right",
            functions=(
                lambda r: np.asarray(r) / guide_wavelength,
                lambda r: np.asarray(r) * guide_wavelength,
            ),
        )
        other.set_ylabel(f"{size} / guide wavelength", color=SOFT)
        other.yaxis.set_major_locator(FixedLocator(_TICKS))
        other.yaxis.set_major_formatter("{x:g}")
        other.yaxis.set_minor_formatter("")
    return figure
