"""Figure of a search for the least leakage or reflection: every part that was tried."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from solver.figures.style import (
    BOUND,
    COMPUTED,
    SECOND,
    curve_figure,
    name_lines,
    strength_map,
)
from solver.output.plots import drawn_decibels
from solver.searches.varied_keys import key_in_words

if TYPE_CHECKING:
    from matplotlib.figure import Figure

    from solver.searches.seek_result import SeekResult


def seek_figure(result: SeekResult) -> Figure:
    """Return the value of every part that was tried, with the best; a map of two keys."""
    tried = [(v, drawn_decibels(np.array(a))) for v, a in result.tried if np.isfinite(a)]
    levels = np.array([level for _, level in tried])
    places = np.array([[values[span.key] for span in result.spans] for values, _ in tried]).T
    best = [result.values[span.key] for span in result.spans]
    labels = [" / ".join(filter(None, key_in_words(span.key))) for span in result.spans]
    if len(result.spans) == 1:
        figure, axes = curve_figure(f"Worst {result.quantity} / dB", labels[0])
        order = np.argsort(places[0])
        axes.plot(
            places[0][order], levels[order], "o-", color=COMPUTED, linewidth=1.0, markersize=3.5,
            label="tried",
        )  # fmt: skip
        for flat in result.flat:
            axes.axvspan(
                flat.low, flat.high, color=SECOND, alpha=0.15, linewidth=0, label="within 1 dB"
            )
        axes.plot(best[0], drawn_decibels(np.array(result.least.value)), "D", color=BOUND,
                  markersize=6, label="best")  # fmt: skip
        name_lines(figure, axes)
        return figure
    figure, axes = curve_figure(f"Worst {result.quantity} / dB; up: {labels[1]}", labels[0])
    low, high = axes.get_position().x0, axes.get_position().width
    axes.set_position((low, axes.get_position().y0, 0.86 * high, axes.get_position().height))
    axes.grid(True, axis="both")
    drawn = axes.scatter(
        places[0], places[1], c=levels, cmap=strength_map(), s=26, edgecolors="#888", lw=0.4
    )
    axes.plot(
        best[0], best[1], "D", color=BOUND, markersize=7, markerfacecolor="none", label="best"
    )
    bar = figure.colorbar(drawn, ax=axes, pad=0.02, fraction=0.05)
    bar.outline.set_visible(False)
    return figure
