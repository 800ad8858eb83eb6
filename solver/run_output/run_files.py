"""The files of a run: report, JSON, table, drawing, Touchstone, and each part's own report."""

from __future__ import annotations

import csv
import io
import re
from collections.abc import Mapping
from pathlib import Path
from types import SimpleNamespace
from typing import TYPE_CHECKING, Any

import numpy as np
from markupsafe import Markup

from solver.exchange.touchstone import touchstone_name, touchstone_text
from solver.figures.inline_figures import as_svg, as_svg_file
from solver.figures.style import curve_figure, draw_limit, draw_with_bar, name_lines
from solver.output.output_folder import write_files
from solver.output.result_json import as_text
from solver.output.wording import band_text, headline
from solver.reports.page_frame import answer_frame, folder_files, page_frame, sentence
from solver.reports.page_templates import page_template
from solver.run_output.run_drawing import run_figure
from solver.run_output.run_json import run_result_of
from solver.run_output.run_wording import HEADS, row_of, summary
from solver.studies.inches import guide_text, told_in_inches
from solver.studies.limits import amplitude_of
from solver.waves.scattering import vswr_of

if TYPE_CHECKING:
    from solver.judgement.assessment import Assessment
    from solver.reports.run_record import RunRecord
    from solver.runs.run_result import RunResult

#: Folder of the parts' own reports.
PARTS = "parts"


def part_files(assessment: Assessment, *, in_inches: bool = False) -> dict[str, bytes]:
    """Return the files of a part's own report.

    Parameters
    ----------
    assessment : Assessment
    in_inches : bool
        Whether it tells lengths in inches; a process of a pool has no other word of it.
    """
    from solver.reports.report import report_html

    with told_in_inches(in_inches):
        return {"report.html": report_html(assessment).encode("utf-8")}


def run_files(
    result: RunResult, record: RunRecord | None = None, told: Mapping[str, Any] | None = None
) -> dict[str, bytes]:
    """Return the content of every file of a run, by its name below the folder.

    Parameters
    ----------
    result : RunResult
    record : RunRecord, optional
        How it came about.
    told : mapping, optional
        More keys of the JSON result.
    """
    drawn = {"run": as_svg(run_figure(result.run)), "vswr": as_svg(_vswr_figure(result))}
    links = _links(result)
    files = folder_files(
        _page(result, record, drawn, links),
        as_text(run_result_of(result) | dict(told or {})).encode("ascii"),
        _table(result),
        {name: as_svg_file(svg) for name, svg in drawn.items()},
    )
    network: Any = SimpleNamespace(
        title=result.title,
        scattering=result.scattering,
        provenance=SimpleNamespace(version=result.provenance["version"]),
    )
    files[touchstone_name(network)] = touchstone_text(network).encode("ascii")
    for line in result.parts:
        for name, content in line.files.items():
            files[f"{links[line.name].rpartition('/')[0]}/{name}"] = content
    return files


def write_run(
    folder: Path,
    result: RunResult,
    record: RunRecord | None = None,
    told: Mapping[str, Any] | None = None,
    more: Mapping[str, bytes] | None = None,
) -> tuple[Path, ...]:
    """Write the files of a run into a folder, those of its parts into folders below.

    Parameters
    ----------
    folder : Path
    result : RunResult
    record : RunRecord, optional
        How it came about.
    told : mapping, optional
        More keys of the JSON result.
    more : mapping of str to bytes, optional
        Further files of the folder.

    Returns
    -------
    tuple of Path
        The files of the run itself.

    Raises
    ------
    OutputError
        If any of them could not be written.
    """
    places: dict[str, dict[str, bytes]] = {}
    for name, content in (run_files(result, record, told) | dict(more or {})).items():
        place, _, own = name.rpartition("/")
        places.setdefault(place, {})[own] = content
    for place in sorted(places, reverse=True):
        paths = write_files(folder / place, places[place])
    return paths


def run_html(result: RunResult) -> str:
    """Return the report of a run as one HTML page; it fetches nothing."""
    drawn = {"run": as_svg(run_figure(result.run)), "vswr": as_svg(_vswr_figure(result))}
    return _page(result, None, drawn, {})


def _links(result: RunResult) -> dict[str, str]:
    """Address of each part's own report, by its name."""
    found = {}
    for number, line in enumerate(result.parts, start=1):
        if line.files:
            plain = re.sub(r"[^a-z0-9]+", "-", line.name.lower()).strip("-") or line.kind
            plain = re.sub(rf"^{number}-", "", plain)
            found[line.name] = f"{PARTS}/{number:02d}-{plain[:40]}/report.html"
    return found


def _page(
    result: RunResult,
    record: RunRecord | None,
    drawn: Mapping[str, str],
    links: Mapping[str, str],
) -> str:
    made = result.provenance
    limit = result.limit.text if result.limit is not None else "none was set"
    facts = [
        ("Seen by the transmitter", result.verdict.text),
        ("Limit", limit),
        *_split(summary(result)),
    ]
    rows = [
        {
            "cells": row_of(line),
            "link": links.get(line.name, ""),
            "number": number,
        }
        for number, line in enumerate(result.parts, start=1)
    ]
    page = {
        **page_frame(
            "run",
            result.title,
            f"{len(result.run)} parts from {guide_text(result.run[0].guides[0])}",
            band_text(result.band),
            record,
            kinds=[part.component.kind for part in result.run],
            version=made["version"],
        ),
        **answer_frame(
            result.verdict.outcome, headline(result.verdict), facts, result.verdict.reasons
        ),
        "drawing": Markup(drawn["run"]),
        "vswr": Markup(drawn["vswr"]),
        "heads": HEADS,
        "rows": rows,
        "near": [sentence(text) for text in result.near],
        "notes": [sentence(text) for text in result.cautions],
        "method": sentence(made["method"]),
        "error": f"{float(np.max(result.listed.error)):.2g}",
        "wanted": f"{result.wanted_error:.2g}",
        "frequencies": made["frequencies_followed"],
    }
    return page_template("run_report.html").render(page)


def _split(lines: list[str]) -> list[tuple[str, str]]:
    facts = []
    for line in lines:
        name, _, text = line.partition(": ")
        facts.append((name[:1].upper() + name[1:], text) if text else ("The run", line))
    return facts


def _vswr_figure(result: RunResult) -> Any:
    curve = result.whole
    ghz, size = curve.frequency / 1e9, np.abs(curve.s11)
    figure, axes = curve_figure("VSWR seen by the transmitter", "frequency / GHz")
    axes.margins(x=0)
    low, high = np.maximum(size - curve.error, 0.0), np.minimum(size + curve.error, 0.999)
    draw_with_bar(axes, ghz, vswr_of(low), vswr_of(size), vswr_of(high), "computed")
    limits = result.limit.values if result.limit is not None else {}
    for quantity in ("vswr", "return_loss_db"):
        if quantity in limits:
            draw_limit(axes, float(vswr_of(amplitude_of(quantity, limits[quantity]))))
    name_lines(figure, axes)
    return figure


def _table(result: RunResult) -> str:
    """The whole run at the listed frequencies, as comma-separated values."""
    text = io.StringIO()
    writer = csv.writer(text, lineterminator="\n")
    scattering, listed = result.scattering, result.listed
    row = scattering.transmitted
    writer.writerow(
        ["frequency_hz", "input_s11_abs", "input_s11_error", "s11_abs", "s21_abs", "s_error"]
    )
    passed = np.abs(scattering.s[:, row, 0]) if row is not None else np.zeros(len(listed.error))
    for values in zip(
        scattering.frequency,
        np.abs(listed.s11),
        listed.error,
        np.abs(scattering.s11),
        passed,
        scattering.error,
        strict=True,
    ):
        writer.writerow([f"{value:.9g}" for value in values])
    return text.getvalue()
