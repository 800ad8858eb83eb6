"""Figures of many combinations of several keys, which no curve and no map can show."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
from matplotlib import rc_context
from matplotlib.figure import Figure

from solver.figures.style import BOUND, COMPUTED, SECOND, STYLE, WIDTH
from solver.judgement.quantities import MEETS
from solver.output.plots import drawn_decibels
from solver.searches.varied_keys import key_in_words
from solver.studies.limits import amplitude_of

if TYPE_CHECKING:
    from matplotlib.axes import Axes

    from solver.searches.exploration import Exploration


def scatter_figures(result: Exploration) -> dict[str, Figure]:
    """Return every figure, by the name of its file without ending."""
    drawn = {"reflection_scatter": scatter_figure(result, False)}
    if result.leaks:
        drawn["leakage_scatter"] = scatter_figure(result, True)
    return drawn


def scatter_figure(result: Exploration, leakage: bool) -> Figure:
    """Return the worst value over the band against each key, whatever the others are.

    Parameters
    ----------
    result : Exploration
    leakage : bool
        Of the leaked power; otherwise of the reflection.
    """
    read = [(c, w) for c in result.cells if (w := c.leakage if leakage else c.reflection)]
    levels = drawn_decibels(np.array([worst.value for _, worst in read]))
    met = np.array([cell.outcome == MEETS for cell, _ in read])
    keys = [variation.key for variation in result.variations]
    with rc_context(STYLE):
        figure = Figure(figsize=(WIDTH, 2.3 * len(keys) + 0.4))
        for number, key in enumerate(keys, start=1):
            axes = figure.add_subplot(len(keys), 1, number)
            places = np.array([cell.values[key] for cell, _ in read])
            axes.plot(places[~met], levels[~met], "o", color=COMPUTED, ms=3.5, label="computed")
            if met.any():
                axes.plot(places[met], levels[met], "D", color=SECOND, ms=4, label="meets")
            _draw_limit(axes, result, leakage)
            axes.set_xlabel(" / ".join(filter(None, key_in_words(key))))
            if number == 1:
                quantity = "leakage: leaked power" if leakage else "reflection: |S11|"
                axes.set_title(f"Worst {quantity} / dB")
                axes.legend(loc="upper right", fontsize=8)
        figure.subplots_adjust(left=0.12, right=0.97, top=0.95, bottom=0.1, hspace=0.55)
    return figure


def _draw_limit(axes: Axes, result: Exploration, leakage: bool) -> None:
    values = {} if result.limit is None else result.limit.values
    allowed = [amplitude_of(q, v) for q, v in values.items() if (q == "leakage_db") == leakage]
    if allowed:
        axes.axhline(float(drawn_decibels(min(allowed))), color=BOUND, ls="--", lw=1, label="limit")
