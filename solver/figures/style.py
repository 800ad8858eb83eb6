"""The look of every figure: colours, maps and the frame about curves.

Colours differ in lightness as well as in hue and stay apart for readers who confuse red and
green; lines differ in dash too. Figures are narrow enough to be read on a telephone, with the
names of the lines below the plot, so that it keeps its width.
"""

from __future__ import annotations

import textwrap
from functools import cache
from typing import TYPE_CHECKING, Any

import numpy as np
from matplotlib import rc_context
from matplotlib.colors import LinearSegmentedColormap
from matplotlib.figure import Figure

if TYPE_CHECKING:
    from collections.abc import Sequence

    from matplotlib.axes import Axes
    from matplotlib.legend import Legend

INK, SOFT, FAINT, PAPER = "#1d2733", "#5d6875", "#dde2e8", "#ffffff"
#: What was computed; what is marked beside it; what must not be passed.
COMPUTED, SECOND, BOUND = "#0b4a86", "#008a76", "#c2410c"
ESTIMATES = ("#8a6d00", "#7c8794", "#a45bb8")
DASHES = ("--", "-.", ":")

STYLE: dict[Any, Any] = {
    "font.size": 9.0,
    "font.family": "sans-serif",
    "font.sans-serif": ["DejaVu Sans"],
    "text.color": INK,
    "axes.labelcolor": SOFT,
    "axes.edgecolor": INK,
    "axes.linewidth": 0.9,
    "axes.spines.top": False,
    "axes.spines.right": False,
    "axes.spines.left": False,
    "axes.grid": True,
    "axes.grid.axis": "y",
    "axes.axisbelow": True,
    "axes.titlesize": 9.5,
    "axes.titleweight": "bold",
    "axes.titlelocation": "left",
    "axes.titlepad": 8.0,
    "grid.color": FAINT,
    "grid.linewidth": 0.8,
    "xtick.color": SOFT,
    "ytick.color": SOFT,
    "xtick.major.size": 3.0,
    "ytick.major.size": 0.0,
    "legend.fontsize": 8.5,
    "svg.fonttype": "none",
}
#: Width of a figure, and height of the plot without names below it [in].
WIDTH, HEIGHT = 4.8, 2.75
_LEFT, _RIGHT, _BELOW, _ABOVE, _ROW = 0.58, 0.14, 0.47, 0.32, 0.185
#: Characters of a name in one column, and the most that let two stand abreast.
_ONE_COLUMN, _TWO_COLUMNS = 58, 25


@cache
def strength_map() -> LinearSegmentedColormap:
    """Colours of a magnitude from nothing, paper, to most, ink; lightness falls steadily."""
    stops = ["#fbfaf4", "#d9e3c8", "#8fc0b4", "#3f8ea6", "#1f5a8c", "#132c54"]
    return LinearSegmentedColormap.from_list("strength", stops)


@cache
def signed_map() -> LinearSegmentedColormap:
    """Colours of a value of either sign: blue below zero, paper at zero, brown above."""
    stops = ["#08385f", "#2f7fae", "#a9cede", "#fbfaf4", "#edc083", "#bd6a1d", "#5e2a05"]
    return LinearSegmentedColormap.from_list("signed", stops)


def curve_figure(title: str, x_label: str) -> tuple[Figure, Axes]:
    """Return a figure with one frame for curves.

    Parameters
    ----------
    title : str
        What is drawn and its unit: it stands above the frame in place of a label at its side.
    x_label : str
    """
    with rc_context(STYLE):
        # Fixed margins: fitting them to the text would treble the time of a report.
        figure = Figure(figsize=(WIDTH, HEIGHT))
        axes = figure.add_axes(_frame(HEIGHT, _BELOW))
        axes.set_title(title)
        axes.set_xlabel(x_label, loc="right")
    return figure, axes


def _frame(height: float, below: float) -> tuple[float, float, float, float]:
    return (
        _LEFT / WIDTH,
        below / height,
        (WIDTH - _LEFT - _RIGHT) / WIDTH,
        (height - below - _ABOVE) / height,
    )


def name_lines(figure: Figure, axes: Axes) -> Legend | None:
    """Name the lines below the frame; the figure grows by as many rows as that takes."""
    handles, labels = axes.get_legend_handles_labels()
    if not handles:
        return None
    # what was computed is named first, whatever was drawn before it
    ranked = sorted(range(len(labels)), key=lambda i: not str(labels[i]).startswith("computed"))
    handles, labels = [handles[i] for i in ranked], [labels[i] for i in ranked]
    names = ["\n".join(_wrapped(label)) for label in labels]
    columns = 2 if max(len(name) for name in names) <= _TWO_COLUMNS else 1
    lines = [name.count("\n") + 1 for name in names]
    rows = sum(lines) if columns == 1 else -(-len(names) // 2)
    height = make_room(figure, axes, _ROW * rows + 0.08)
    with rc_context(STYLE):
        return figure.legend(
            handles,
            names,
            ncols=columns,
            loc="lower left",
            bbox_to_anchor=(_LEFT / WIDTH - 0.012, 0.02 / height),
            frameon=False,
            borderaxespad=0.0,
            borderpad=0.1,
            labelspacing=0.3,
            handlelength=2.4,
            columnspacing=1.6,
        )


def make_room(figure: Figure, axes: Axes, more: float) -> float:
    """Add a strip [in] below the frame of `curve_figure`; return the figure's new height [in]."""
    height = float(figure.get_size_inches()[1]) + more
    below = _BELOW + height - HEIGHT
    figure.set_size_inches(WIDTH, height)
    axes.set_position(_frame(height, below))
    return height


def _wrapped(label: str) -> Sequence[str]:
    return textwrap.wrap(str(label).replace("\n", " "), _ONE_COLUMN) or [""]


def draw_limit(axes: Axes, level: float, *, allowed_below: bool = True) -> None:
    """Draw a level that must not be passed; the ticks stand on the forbidden side."""
    from matplotlib.patheffects import withTickedStroke

    angle = 125.0 if allowed_below else -125.0
    axes.axhline(
        level,
        color=BOUND,
        linewidth=1.2,
        label="limit",
        path_effects=[withTickedStroke(angle=angle, spacing=9.0, length=0.6)],
    )


def draw_with_bar(
    axes: Axes, x: np.ndarray, low: np.ndarray, value: np.ndarray, high: np.ndarray, label: str
) -> None:
    """Draw a curve and the band that holds the true one."""
    axes.fill_between(x, low, high, color=COMPUTED, alpha=0.2, linewidth=0, label="error bar")
    marker = "o" if len(x) < 12 else ""
    axes.plot(x, value, color=COMPUTED, linewidth=1.8, marker=marker, markersize=4, label=label)
