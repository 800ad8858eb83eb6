"""The files of a grid: one JSON object, a table, figures, and a page that shows them."""

from __future__ import annotations

import csv
import io
from collections.abc import Mapping
from dataclasses import asdict
from typing import TYPE_CHECKING, Any

from markupsafe import Markup

from solver.exchange.dataset_files import netcdf_bytes
from solver.exchange.datasets import exploration_dataset
from solver.figures.inline_figures import as_svg, as_svg_file
from solver.figures.part_sheet import drawing_figure
from solver.output.drawing import drawing_of
from solver.output.exploration_wording import decibels, headline, reasons, table
from solver.output.result_json import SCHEMA, as_text, described_limit
from solver.output.scatter_plots import scatter_figures
from solver.output.wording import band_text
from solver.reports.exploration_index import index_html
from solver.reports.exploration_plots import figures
from solver.reports.page_frame import answer_frame, folder_files, page_frame
from solver.reports.page_templates import page_template
from solver.searches.exploration import Cell, Exploration, Worst
from solver.searches.held_band import Edge, HeldBand
from solver.studies.inches import in_unit_told, twin_in_mm, unit_name
from solver.studies.plain_values import plain

if TYPE_CHECKING:
    from matplotlib.figure import Figure

    from solver.reports.run_record import RunRecord

#: The page shows so many combinations; the table in the CSV file holds all.
_ROWS_SHOWN = 60
_CAPTIONS = {
    "part": "The part in the middle of the grid, in {unit}; what varies stands out with its range.",
    "reflection_curves": "One curve for each combination. What lies above the limit reflects more "
    "than was asked for.",
    "leakage_curves": "Leaked over incident power. What lies above the limit leaks more than was "
    "asked for.",
    "worst_reflection": "The largest reflection anywhere in the band, with the interval that "
    "holds the true one.",
    "worst_leakage": "The largest leakage anywhere in the band, with the interval that holds the "
    "true one.",
    "reflection_scatter": "The largest reflection anywhere in the band against each key; the other "
    "keys vary from point to point.",
    "leakage_scatter": "The largest leakage anywhere in the band against each key; the other keys "
    "vary from point to point.",
    "band_edges": "The band about the design frequency in which every limit holds, the error bar "
    "counted against the part. Triangles: it goes on past the computed band.",
    "reflection_map": "The largest reflection anywhere in the band; brighter is less. Between the "
    "computed points the colours are interpolated.",
    "leakage_map": "The largest leakage anywhere in the band; brighter is less. Between the "
    "computed points the colours are interpolated.",
    "bandwidth_map": "Width of the band about the design frequency in which every limit holds, "
    "the error bar counted against the part, over that frequency; the computed band bounds it. "
    "Between the computed points the colours are interpolated.",
}


def exploration_result_of(result: Exploration) -> dict[str, Any]:
    """Return a grid as plain lists, numbers and text."""
    return plain(
        {
            "schema": SCHEMA,
            "title": result.title,
            "study": result.tables,
            "varied": [{"key": v.key, "values": v.values} for v in result.variations],
            "sampled": result.sampled,
            "limit": described_limit(result.limit),
            "design_hz": result.design,
            "frequency_hz": result.band.frequencies,
            "spacing_hz": result.spacing,
            "s_error_wanted": result.s_error,
            "outcome": result.outcome,
            "outcomes": result.outcomes,
            "shared_basis": asdict(result.shared) if result.shared else None,
            "points": [_point(cell) for cell in result.cells],
            "version": result.version,
        }
    )


def _point(cell: Cell) -> dict[str, Any]:
    told: dict[str, Any] = {"values": cell.values, "outcome": cell.outcome}
    if cell.curves is None or cell.verdict is None:
        return told | {"reasons": [cell.reason]}
    s21 = cell.curves.s21
    return told | {
        "reasons": cell.verdict.reasons,
        "worst_s11": _worst(cell.reflection),
        "worst_leakage": _worst(cell.leakage),
        "holds": _held(cell.held),
        "s11_re": cell.curves.s11.real,
        "s11_im": cell.curves.s11.imag,
        **({} if s21 is None else {"s21_re": s21.real, "s21_im": s21.imag}),
        "shared": cell.curves.shared,
        "s_error": cell.curves.error,
        "leaked_power": cell.curves.leaked_power,
        "dissipated_power": cell.curves.dissipated_power,
    }


def _worst(worst: Worst | None) -> dict[str, float] | None:
    """Amplitude, and in dB, with the interval that holds it."""
    if worst is None:
        return None
    return {
        "amplitude": worst.value,
        "lowest": worst.low,
        "highest": worst.high,
        "db": decibels(worst.value),
        "at_hz": worst.at_hz,
    }


def _held(held: HeldBand | None) -> dict[str, Any] | None:
    if held is None:
        return None
    return {
        "at_design": held.outcome,
        "with_bar_against": _edges(held.sure),
        "with_bar_for": _edges(held.possible),
        "percent": held.percent,
    }


def _edges(edges: tuple[Edge, Edge] | None) -> dict[str, Any] | None:
    if edges is None:
        return None
    low, high = edges
    return {
        "low_hz": low.at,
        "low_within_hz": low.within,
        "low_at_least": low.beyond,
        "high_hz": high.at,
        "high_within_hz": high.within,
        "high_at_least": high.beyond,
    }


def exploration_csv(result: Exploration) -> str:
    """Return the table of all combinations as comma-separated values.

    Amplitudes are those of waves, relative to the incident one; an empty field has no value.
    """
    text = io.StringIO()
    writer = csv.writer(text, lineterminator="\n")
    writer.writerow(
        [v.key for v in result.variations]
        + ["outcome"]
        + [
            f"worst_{name}_{column}"
            for name in ("s11", "leakage")
            for column in ("amplitude", "lowest", "highest", "db", "at_ghz")
        ]
        + ["holds_from_ghz", "holds_from_at_least", "holds_to_ghz", "holds_to_at_least"]
        + ["holds_percent", "s_error", "reason"]
    )
    for cell in result.cells:
        error = f"{cell.curves.error.max():.3g}" if cell.curves is not None else ""
        writer.writerow(
            [
                *(f"{value:.12g}" for value in cell.values.values()),
                cell.outcome,
                *_worst_columns(cell.reflection),
                *_worst_columns(cell.leakage),
                *_held_columns(cell.held),
                error,
                cell.reason,
            ]
        )
    return text.getvalue()


def _worst_columns(worst: Worst | None) -> list[str]:
    if worst is None:
        return [""] * 5
    amplitudes = [f"{a:.9g}" for a in (worst.value, worst.low, worst.high)]
    return [*amplitudes, f"{decibels(worst.value):.4f}", f"{worst.at_hz / 1e9:.9g}"]


def _held_columns(held: HeldBand | None) -> list[str]:
    if held is None or held.sure is None:
        return ["", "", "", "", "0" if held is not None else ""]
    low, high = held.sure
    ends = [t for e in (low, high) for t in (f"{e.at / 1e9:.9g}", "yes" if e.beyond else "no")]
    return [*ends, f"{held.percent:.6g}"]


def exploration_files(result: Exploration, record: RunRecord | None = None) -> dict[str, bytes]:
    """Return the content of every file of a grid, by name.

    Parameters
    ----------
    result : Exploration
    record : RunRecord, optional
        How it came about.
    """
    drawn = {name: as_svg(figure) for name, figure in _figures(result).items()}
    if (sheet := _varied_drawing(result)) is not None:
        drawn = {"part": as_svg(sheet)} | drawn
    return folder_files(
        _page(result, drawn, record),
        as_text(exploration_result_of(result)).encode("ascii"),
        exploration_csv(result),
        {name: as_svg_file(svg) for name, svg in drawn.items()},
    ) | {
        "index.html": index_html(result).encode("utf-8"),
        "dataset.nc": netcdf_bytes(exploration_dataset(result)),
    }


def _figures(result: Exploration) -> dict[str, Figure]:
    return scatter_figures(result) if result.scattered else figures(result)


def _varied_drawing(result: Exploration) -> Figure | None:
    """The part in the middle of the grid, with what varies standing out; None if none is there."""
    if result.middle is None:
        return None
    varied = {}
    for variation in result.variations:
        key = variation.key.removeprefix("component.")
        low, high = (
            f"{in_unit_told(key, end):.6g}"
            for end in (min(variation.values), max(variation.values))
        )
        varied[twin_in_mm(key)] = low if low == high else f"{low} to {high}"
    return drawing_figure(drawing_of(result.middle), varied)


def _kinds(tables: Mapping[str, Any]) -> tuple[str, ...]:
    """Kinds of the part, or of all parts of a run."""
    return tuple(str(t.get("kind", "")) for t in tables.get("part", [tables.get("component", {})]))


def _page(result: Exploration, drawn: dict[str, str], record: RunRecord | None) -> str:
    heads, rows = table(result)
    shown = f"{min(len(rows), _ROWS_SHOWN)} of {len(rows)} combinations"
    limited = result.limit is not None and bool(result.limit.values)
    page = {
        **page_frame(
            "explore",
            result.title,
            result.part,
            band_text(result.band),
            record,
            kinds=_kinds(result.tables),
            version=result.version,
        ),
        **answer_frame(
            result.outcome if limited else "undecided", headline(result), [], reasons(result)
        ),
        "figures": [
            (Markup(svg), _CAPTIONS[name].format(unit=unit_name())) for name, svg in drawn.items()
        ],
        "heads": heads,
        "rows": rows[:_ROWS_SHOWN],
        "rows_note": f"{shown}; table.csv and result.json hold them all, the curves included.",
    }
    return page_template("exploration_report.html").render(page)
