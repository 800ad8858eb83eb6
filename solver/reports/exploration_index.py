"""A page to look through an exploration: a table that sorts, and plots that follow it."""

from __future__ import annotations

import json
from typing import Any

import numpy as np
from markupsafe import Markup

from solver.output.exploration_wording import headline, table
from solver.output.plots import drawn_decibels
from solver.output.wording import band_text
from solver.reports.page_templates import page_template
from solver.searches.exploration import Cell, Exploration
from solver.searches.varied_keys import key_in_words
from solver.studies.limits import amplitude_of

#: Rows and points of a curve that a page holds.
MOST_ROWS, _MOST_POINTS = 2000, 101


def index_html(result: Exploration) -> str:
    """Return the page; it fetches nothing, and every part of it can be reached by keyboard."""
    heads, rows = table(result)
    cells = result.cells[:MOST_ROWS]
    page = {
        "title": result.title,
        "part": result.part,
        "band": band_text(result.band),
        "version": result.version,
        "headline": headline(result),
        "heads": heads,
        "rows": [
            (row, cell.outcome.replace(" ", "-"))
            for row, cell in zip(rows[:MOST_ROWS], cells, strict=True)
        ],
        "left_out": len(result.cells) - len(cells),
        "keys": [" / ".join(filter(None, key_in_words(v.key))) for v in result.variations],
        "data": as_script_data(_data(result, cells)),
    }
    return page_template("exploration_index.html").render(page)


def as_script_data(data: Any) -> Markup:
    """Return data as JSON that may stand inside a script element."""
    text = json.dumps(data, allow_nan=False, separators=(",", ":"))
    for sign in "<>&":
        text = text.replace(sign, f"\\u{ord(sign):04x}")
    return Markup(text)


def _data(result: Exploration, cells: tuple[Cell, ...]) -> dict[str, Any]:
    frequency = result.band.frequencies
    count = len(frequency)
    chosen = np.unique(np.linspace(0, count - 1, min(count, _MOST_POINTS)).round().astype(int))
    values = {} if result.limit is None else result.limit.values
    limits = [amplitude_of(q, v) for q, v in values.items() if q != "leakage_db"]
    return {
        "ghz": [round(float(f) / 1e9, 6) for f in frequency[chosen]],
        "limit": round(float(drawn_decibels(min(limits))), 2) if limits else None,
        "keys": [[cell.values[v.key] for cell in cells] for v in result.variations],
        "worst": [
            None if (w := cell.reflection) is None else round(float(drawn_decibels(w.value)), 2)
            for cell in cells
        ],
        "curves": [
            None
            if cell.curves is None
            else [round(float(y), 2) for y in drawn_decibels(cell.curves.s11[chosen])]
            for cell in cells
        ],
    }
