"""The folder of a search for the least leakage or reflection."""

from __future__ import annotations

from typing import Any

import numpy as np

from solver.output.exploration_wording import decibels
from solver.output.seek_answer import seek_headline, seek_notes, seek_result_of, seek_text
from solver.output.wording import part_text
from solver.reports.seek_plots import seek_figure
from solver.reports.table_report import TableAnswer
from solver.searches.seek_result import SeekResult
from solver.searches.varied_keys import key_in_words, values_in_words
from solver.studies.inches import in_unit_told, twin_in_mm


def seek_answer(result: SeekResult, part: Any, words: str = "") -> TableAnswer:
    """Return what a search found, with the best part.

    Parameters
    ----------
    result : SeekResult
    part : Part or None
        The best part, to be drawn.
    words : str
        What was searched, where it is no single part.
    """
    start, stop, count = result.frequencies
    named = [key_in_words(span.key) for span in result.spans]
    heads = [f"{name} / {unit}" if unit else name for name, unit in named]
    rows = [
        [*(f"{value:.6g}" for value in values.values()), _level(amplitude)]
        for values, amplitude in result.tried
    ]
    band = f"{start / 1e9:.6g} GHz" if count == 1 else f"{start / 1e9:.6g} to {stop / 1e9:.6g} GHz"
    varied = {
        twin_in_mm(span.key.removeprefix("component.")): (
            f"{in_unit_told(span.key, result.values[span.key]):.5g}"
        )
        for span in result.spans
    }
    return TableAnswer(
        told=seek_result_of(result),
        text=seek_text(result),
        title=result.title,
        part=words if part is None else part_text(part),
        band=band,
        headline=f"{seek_headline(result)} at {values_in_words(result.values)}",
        heads=[*heads, f"worst {result.quantity} / dB"],
        rows=rows,
        notes=seek_notes(result),
        outcome="meets" if result.reached else "undecided",
        component=part,
        varied=varied,
        figures={"search": (seek_figure(result), "Every part that was computed in the search.")},
    )


def _level(amplitude: float) -> str:
    return f"{decibels(amplitude):.2f}" if np.isfinite(amplitude) else "no part"
