"""The pattern of a horn in both principal planes."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from solver.figures.style import COMPUTED, SECOND, curve_figure, name_lines

if TYPE_CHECKING:
    from matplotlib.figure import Figure

    from solver.waves.radiation import Radiation

#: Depth below the largest directivity down to which a pattern is drawn [dB].
_DEPTH = 35.0


def pattern_figure(radiation: Radiation) -> Figure:
    """Return the directivity in both planes at the middle of the band, with its error bar."""
    at, angle = len(radiation.at) // 2, np.degrees(radiation.angle)
    figure, axes = curve_figure(
        f"Directivity at {radiation.at[at] / 1e9:.6g} GHz / dBi",
        "angle from the axis / deg",
    )
    top = 10 * np.log10(radiation.largest.max())
    error = radiation.pattern_error[at]
    for name, power, colour, dashes in (
        ("E-plane", radiation.e_plane[at], COMPUTED, "-"),
        ("H-plane", radiation.h_plane[at], SECOND, "--"),
    ):
        low, middle, high = (
            np.maximum(10 * np.log10(np.maximum(level, 1e-30)), top - _DEPTH - 10)
            for level in (power - error, power, power + error)
        )
        axes.fill_between(angle, low, high, color=colour, alpha=0.25, linewidth=0)
        axes.plot(angle, middle, color=colour, linestyle=dashes, label=name)
    axes.set_ylim(top - _DEPTH, top + 2)
    axes.margins(x=0)
    name_lines(figure, axes)
    return figure
