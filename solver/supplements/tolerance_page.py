"""Figure and page of what tolerances do to a part."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
from markupsafe import Markup

from solver.figures.inline_figures import as_svg
from solver.figures.style import BOUND, COMPUTED, curve_figure, name_lines
from solver.output.plots import drawn_decibels
from solver.reports.page_frame import answer_frame, page_frame, sentence
from solver.reports.page_templates import page_template
from solver.supplements.tolerance_answer import (
    USES_UP,
    headline_of,
    sensitivity_rows,
    sentences_of,
)

if TYPE_CHECKING:
    from matplotlib.figure import Figure

    from solver.judgement.tolerance_box import ToleranceBox
    from solver.reports.run_record import RunRecord


def tolerance_html(
    box: ToleranceBox, title: str, part: str, version: str, record: RunRecord | None = None
) -> str:
    """Return what tolerances do as one HTML page; it fetches nothing."""
    page = {
        **page_frame("tolerances", f"{title}: tolerances", part, "", record, version=version),
        **answer_frame(box.outcome, sentence(headline_of(box)), [], sentences_of(box)),
        "rows": [(*row[:4], row[4].removesuffix(USES_UP)) for row in sensitivity_rows(box)],
        "figure": Markup(as_svg(tolerance_figure(box))),
    }
    return page_template("tolerances.html").render(page)


def tolerance_figure(box: ToleranceBox) -> Figure:
    r"""Return \|S11\| as drawn, and the range of it within the tolerances, to first order."""
    ghz = box.frequency / 1e9
    amounts = np.array([each.tolerance.amount for each in box.sensitivities])
    slopes = np.stack([each.derivative for each in box.sensitivities])
    reach = amounts @ np.abs(slopes)
    size = np.abs(box.s11)
    figure, axes = curve_figure("Reflection within the tolerances: |S11| / dB", "frequency / GHz")
    low, high = drawn_decibels(np.maximum(size - reach, 0)), drawn_decibels(size + reach)
    axes.fill_between(ghz, low, high, color=COMPUTED, alpha=0.22, lw=0, label="within tolerances")
    axes.plot(ghz, drawn_decibels(size), color=COMPUTED, lw=1.6, label="as drawn")
    if box.allowed is not None:
        axes.axhline(
            float(drawn_decibels(box.allowed)), color=BOUND, ls="--", lw=1.2, label="limit"
        )
    top = float(high.max())
    axes.set_ylim(max(top - 50, float(low.min())) - 1, top + 3)
    name_lines(figure, axes)
    return figure
