"""Figures and page of a measured part beside the computed one."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
from markupsafe import Markup
from matplotlib import rc_context
from matplotlib.figure import Figure

from solver.figures.inline_figures import as_svg
from solver.figures.style import BOUND, COMPUTED, SECOND, STYLE, WIDTH
from solver.output.plots import drawn_decibels
from solver.reports.page_frame import answer_frame, page_frame
from solver.reports.page_templates import page_template
from solver.supplements.measurement_answer import element_name, headline_of, sentences_of

if TYPE_CHECKING:
    from solver.measured.comparison import MeasuredComparison
    from solver.reports.run_record import RunRecord

_TONES = {"yes": "meets", "no": "exceeds", "cannot tell": "undecided"}


def measurement_html(
    comparison: MeasuredComparison, title: str, version: str, record: RunRecord | None = None
) -> str:
    """Return the comparison as one HTML page; it fetches nothing."""
    page = {
        **page_frame(
            "measurement",
            f"{title}: measured and computed",
            comparison.measurement.file.name,
            "",
            record,
            version=version,
        ),
        **answer_frame(
            _TONES[comparison.consistent], headline_of(comparison), [], sentences_of(comparison)
        ),
        "causes": [(c.text[:1].upper() + c.text[1:], f"{c.share:.0%}") for c in comparison.causes],
        "overlay": Markup(as_svg(overlay_figure(comparison))),
        "difference": Markup(as_svg(difference_figure(comparison))),
    }
    return page_template("measurement.html").render(page)


def _panels(comparison: MeasuredComparison, height: float, quantity: str) -> tuple[Figure, list]:
    m = comparison.measured.shape[1]
    shown = [(0, 0)] if m == 1 else [(0, 0), (1, 0), (1, 1)]
    figure = Figure(figsize=(WIDTH, height * len(shown) + 0.6))
    panels = []
    for number, (i, j) in enumerate(shown):
        axes = figure.add_subplot(len(shown), 1, number + 1)
        axes.margins(x=0)
        axes.set_title(quantity.format(element_name(comparison, i, j)))
        panels.append((axes, i, j))
    panels[-1][0].set_xlabel("frequency / GHz")
    figure.subplots_adjust(left=0.13, right=0.97, top=0.94, bottom=0.16, hspace=0.4)
    return figure, panels


def overlay_figure(comparison: MeasuredComparison) -> Figure:
    """Return measured and computed levels in one figure, a panel for each element."""
    ghz = comparison.frequency / 1e9
    with rc_context(STYLE):
        figure, panels = _panels(comparison, 1.85, "|{}| / dB")
        for axes, i, j in panels:
            computed = np.abs(comparison.computed[:, i, j])
            measured = np.abs(comparison.measured[:, i, j])
            within = comparison.allowed[:, i, j]
            axes.fill_between(
                ghz,
                drawn_decibels(np.maximum(computed - within, 0)),
                drawn_decibels(computed + within),
                color=COMPUTED,
                alpha=0.2,
                linewidth=0,
                label="both uncertainties",
            )
            axes.plot(ghz, drawn_decibels(computed), color=COMPUTED, label="computed")
            axes.plot(ghz, drawn_decibels(measured), color=BOUND, ls="--", lw=1, label="measured")
            levels = drawn_decibels(np.concatenate([computed, measured]))
            axes.set_ylim(max(levels.min(), levels.max() - 60) - 1, levels.max() + 1)
        figure.legend(
            *panels[0][0].get_legend_handles_labels(), loc="lower left", ncols=2, frameon=False
        )
    return figure


def difference_figure(comparison: MeasuredComparison) -> Figure:
    """Return the size of the difference beside what both uncertainties allow."""
    ghz = comparison.frequency / 1e9
    with rc_context(STYLE):
        figure, panels = _panels(comparison, 1.75, "|{0} measured - {0} computed|")
        for axes, i, j in panels:
            axes.plot(ghz, comparison.difference[:, i, j], color=COMPUTED, lw=1, label="difference")
            axes.plot(
                ghz, comparison.allowed[:, i, j], color=SECOND, ls="-.", label="both uncertainties"
            )
            axes.set_ylim(bottom=0)
        figure.legend(
            *panels[0][0].get_legend_handles_labels(), loc="lower left", ncols=2, frameon=False
        )
    return figure
