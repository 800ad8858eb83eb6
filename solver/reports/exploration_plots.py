"""Figures of a grid over one or two keys of a study.

Each function returns a matplotlib figure that belongs to no window, as in `solver.output.plots`.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np
from matplotlib import rc_context
from matplotlib.cm import ScalarMappable
from matplotlib.colors import Normalize
from matplotlib.figure import Figure

from solver.figures.style import (
    BOUND,
    COMPUTED,
    INK,
    SECOND,
    SOFT,
    STYLE,
    WIDTH,
    curve_figure,
    draw_limit,
    draw_with_bar,
    make_room,
    name_lines,
    strength_map,
)
from solver.judgement.quantities import amplitude_over_band
from solver.output.plots import drawn_decibels
from solver.searches.varied_keys import key_in_words, values_in_words
from solver.studies.limits import amplitude_of

if TYPE_CHECKING:
    from matplotlib.axes import Axes

    from solver.searches.exploration import Cell, Exploration
    from solver.searches.held_band import Edge
    from solver.studies.limits import Limit

#: More curves than this are told apart by a scale of colours instead of by name.
_NAMED_CURVES = 7
_DASH = (0, (6, 2))
_CURVES = (
    "-",
    (0, (7, 2)),
    (0, (3, 1.5)),
    (0, (7, 2, 1.5, 2)),
    (0, (1.2, 1.2)),
    (0, (9, 2, 3, 2)),
    "-",
)
REFLECTION, LEAKAGE = "vswr", "leakage_db"
_NAMES = {REFLECTION: ("reflection", "|S11|"), LEAKAGE: ("leakage", "leaked power")}


def figures(result: Exploration) -> dict[str, Figure]:
    """Return every figure of a grid, by the name of its file without ending.

    Curves for one key that takes several values, maps for two.
    """
    quantities = [REFLECTION, LEAKAGE] if result.leaks else [REFLECTION]
    drawn: dict[str, Figure] = {}
    if sum(len(variation.values) > 1 for variation in result.variations) == 2:
        for quantity in quantities:
            drawn[f"{_NAMES[quantity][0]}_map"] = worst_map(result, quantity)
        if _has_limit(result):
            drawn["bandwidth_map"] = bandwidth_map(result)
        return drawn
    for quantity in quantities:
        drawn[f"{_NAMES[quantity][0]}_curves"] = curves_figure(result, quantity)
        drawn[f"worst_{_NAMES[quantity][0]}"] = worst_figure(result, quantity)
    if _has_limit(result):
        drawn["band_edges"] = edges_figure(result)
    return drawn


def curves_figure(result: Exploration, quantity: str) -> Figure:
    r"""Return \|S11\| or the leakage against frequency in dB, one curve for each combination."""
    name, symbol = _NAMES[quantity]
    cells = [cell for cell in result.cells if cell.curves is not None]
    key = _long_key(result)
    places = [cell.values[key] for cell in cells]
    figure, axes = curve_figure(f"{name.capitalize()}: {symbol} / dB", "frequency / GHz")
    axes.margins(x=0)
    scale = Normalize(min(places), max(places) if max(places) > min(places) else min(places) + 1)
    few = len(cells) <= _NAMED_CURVES
    for number, (cell, place) in enumerate(zip(cells, places, strict=True)):
        assert cell.curves is not None
        amplitude, _ = amplitude_over_band(cell.curves.whole, quantity)
        axes.plot(
            cell.curves.whole.frequency / 1e9,
            drawn_decibels(amplitude),
            color=_along_map(scale(place)),
            linewidth=1.3,
            linestyle=_CURVES[number % len(_CURVES)] if few else "-",
            marker="o" if len(amplitude) < 12 else "",
            markersize=3.5,
            label=values_in_words(cell.values) if few else None,
        )
    _draw_limit(axes, result.limit, quantity)
    axes.axvline(
        result.design / 1e9, color=SOFT, linewidth=0.8, linestyle=":", label="design frequency"
    )
    top = axes.get_ylim()[1]
    axes.set_ylim(max(axes.get_ylim()[0], top - 60.0), min(top, 1.0))
    name_lines(figure, axes)
    if not few:
        _scale_below(figure, axes, scale, _label(key))
    return figure


def _along_map(share: float) -> Any:
    """Colour of one of many curves; the palest end of the map would not be seen."""
    return strength_map()(0.35 + 0.65 * float(share))


def _scale_below(figure: Figure, axes: Axes, scale: Normalize, label: str) -> None:
    """Put the scale of colours of many curves at the foot of the figure."""
    from matplotlib.colors import ListedColormap

    height = make_room(figure, axes, 0.5)
    for legend in figure.legends:
        # the names stay right below the frame
        legend.set_loc("upper left")
        legend.set_bbox_to_anchor((0.108, (axes.get_position().y0 * height - 0.42) / height))
    with rc_context(STYLE):
        room = figure.add_axes((0.58 / WIDTH, 0.36 / height, 0.6, 0.1 / height))
        shades = ListedColormap([_along_map(x) for x in np.linspace(0, 1, 128)])
        bar = figure.colorbar(ScalarMappable(scale, shades), cax=room, orientation="horizontal")
        bar.outline.set_visible(False)
        bar.set_label(label, labelpad=1.0)


def worst_figure(result: Exploration, quantity: str) -> Figure:
    """Return the worst value over the band against the key, with its bar and the limit."""
    name, symbol = _NAMES[quantity]
    key = _long_key(result)
    read = [(cell.values[key], w) for cell in result.cells if (w := _worst(cell, quantity))]
    read.sort(key=lambda item: item[0])
    x = np.array([place for place, _ in read])
    low, value, high = (
        drawn_decibels(np.array([getattr(w, end) for _, w in read]))
        for end in ("low", "value", "high")
    )
    figure, axes = curve_figure(f"Worst {name} in the band: {symbol} / dB", _label(key))
    floor = value.min() - 20.0  # a bar that reaches zero has no end in dB
    draw_with_bar(axes, x, np.maximum(low, floor), value, high, "computed")
    axes.plot(x, value, "o", color=COMPUTED, markersize=4)
    _draw_limit(axes, result.limit, quantity)
    _mark_refused_values(axes, result, key)
    name_lines(figure, axes)
    return figure


def edges_figure(result: Exploration) -> Figure:
    """Return the band in which the limits hold against the key."""
    assert result.limit is not None
    key = _long_key(result)
    figure, axes = curve_figure("Band in which the limits hold / GHz", _label(key))
    cells = sorted(result.cells, key=lambda cell: cell.values[key])
    x = np.array([cell.values[key] for cell in cells])
    held = [cell.held.sure if cell.held is not None else None for cell in cells]
    low, high = (
        np.array([pair[end].at / 1e9 if pair else np.nan for pair in held]) for end in (0, 1)
    )
    axes.fill_between(x, low, high, color=SECOND, alpha=0.25, linewidth=0, label="limits hold")
    axes.vlines(x, low, high, color=SECOND, linewidth=1.0, alpha=0.6)
    for end, line, dash in ((0, low, "-"), (1, high, "--")):
        name = ("low edge", "high edge")[end]
        axes.plot(x, line, color=COMPUTED, linewidth=1.4, linestyle=dash, label=name)
        _mark_edges(axes, x, [pair[end] if pair else None for pair in held], end == 0)
    axes.axhline(
        result.design / 1e9, color=SOFT, linewidth=0.8, linestyle=":", label="design frequency"
    )
    start, stop = result.band.start / 1e9, result.band.stop / 1e9
    room = 0.04 * (stop - start) or 0.1
    axes.set_ylim(start - room, stop + room)
    # Values without a band are shown too, as a gap.
    around = 0.04 * float(np.ptp(x)) or 0.1
    axes.set_xlim(x[0] - around, x[-1] + around)
    _mark_refused_values(axes, result, key)
    name_lines(figure, axes)
    return figure


def worst_map(result: Exploration, quantity: str) -> Figure:
    """Return the worst value over the band as a map over both keys, in dB."""
    name, symbol = _NAMES[quantity]
    values = [_worst(cell, quantity) for cell in result.cells]
    z = drawn_decibels(np.array([w.value if w else np.nan for w in values]))
    level = _limit_level(result.limit, quantity)
    return _map(result, z, f"Worst {name} in the band: {symbol} / dB", level, -1.0)


def bandwidth_map(result: Exploration) -> Figure:
    """Return the width of the band in which the limits hold as a map over both keys."""
    z = np.array([c.held.percent if c.held is not None else np.nan for c in result.cells])
    assert result.limit is not None
    title = f"Width of the band that holds, over {result.design / 1e9:.6g} GHz / %"
    return _map(result, z, title, None, 1.0)


def _map(result: Exploration, z: Any, title: str, limit: float | None, better: float) -> Figure:
    """A filled map with the computed points, the limit's line and the best point."""
    first, second = result.variations
    x, y = np.array(first.values), np.array(second.values)
    across, up = np.argsort(x), np.argsort(y)
    grid = z.reshape(len(x), len(y))[np.ix_(across, up)].T
    x, y = x[across], y[up]
    shown = np.ma.masked_invalid(grid)
    with rc_context(STYLE | {"axes.grid": False, "axes.spines.left": True}):
        figure = Figure(figsize=(WIDTH, 4.1))
        axes = figure.add_axes((0.13, 0.2, 0.65, 0.7))
        cmap = strength_map().reversed() if better > 0 else strength_map()
        low, high = float(shown.min()), float(shown.max())
        if high - low > 1e-9:
            drawn: Any = axes.contourf(x, y, shown, 14, cmap=cmap)
        else:
            drawn = axes.pcolormesh(x, y, shown, cmap=cmap, shading="nearest")
        room = figure.add_axes((0.81, 0.2, 0.028, 0.7))
        bar = figure.colorbar(drawn, cax=room)
        bar.outline.set_visible(False)
        if limit is not None and low < limit < high:
            axes.contour(x, y, shown, [limit], colors=BOUND, linewidths=1.8, linestyles=[_DASH])
            axes.plot([], [], color=BOUND, linewidth=1.8, linestyle=_DASH, label="limit")
            bar.ax.axhline(limit, color=BOUND, linewidth=1.8)
        xs, ys = np.meshgrid(x, y)
        there = np.isfinite(grid)
        _mark(axes, xs[there], ys[there], ".", INK, 2.0, "computed")
        if not there.all():
            _mark(axes, xs[~there], ys[~there], "x", SOFT, 5.0, "no part")
        if high > low:
            row, column = np.unravel_index(np.nanargmax(better * grid), grid.shape)
            _mark(axes, x[column], y[row], "o", BOUND, 9.0, "best")
        axes.set_title(title)
        axes.set_xlabel(_label(first.key), loc="right")
        axes.set_ylabel(_label(second.key))
        figure.legend(loc="lower left", bbox_to_anchor=(0.1, 0.0), frameon=False, ncols=4)
    return figure


def _mark(axes: Axes, x: Any, y: Any, marker: str, colour: str, size: float, label: str) -> None:
    """Mark points of a map, those on its rim in full."""
    axes.plot(
        x, y, marker, color=colour, markerfacecolor="none", markersize=size, clip_on=False,
        label=label,
    )  # fmt: skip


def _mark_edges(axes: Axes, x: Any, edges: list[Edge | None], low: bool) -> None:
    """Mark crossings with their uncertainty, and with a triangle what lies past the band's end."""
    found = [(at, e) for at, e in zip(x, edges, strict=True) if e is not None]
    crossed = [(at, e) for at, e in found if not e.beyond]
    beyond = [(at, e) for at, e in found if e.beyond]
    if crossed:
        axes.errorbar(
            [at for at, _ in crossed],
            [e.at / 1e9 for _, e in crossed],
            yerr=[e.within / 1e9 for _, e in crossed],
            fmt="o", color=COMPUTED, markersize=3, linewidth=0.8,
        )  # fmt: skip
    if beyond:
        axes.plot(
            [at for at, _ in beyond], [e.at / 1e9 for _, e in beyond], "v" if low else "^",
            color=COMPUTED, markersize=6, label="at least as far" if low else None,
        )  # fmt: skip


def _mark_refused_values(axes: Axes, result: Exploration, key: str) -> None:
    for number, cell in enumerate(cell for cell in result.cells if cell.curves is None):
        label = "no part" if number == 0 else None
        axes.axvline(
            cell.values[key],
            color=SOFT,
            linewidth=1.0,
            linestyle=(0, (1, 2)),
            zorder=0,
            label=label,
        )


def _draw_limit(axes: Axes, limit: Limit | None, quantity: str) -> None:
    level = _limit_level(limit, quantity)
    if level is not None:
        draw_limit(axes, level)


def _limit_level(limit: Limit | None, quantity: str) -> float | None:
    """The strictest limit on reflection or leakage [dB]; None if none was set."""
    values = limit.values if limit is not None else {}
    levels = [
        drawn_decibels(amplitude_of(name, value))
        for name, value in values.items()
        if (name == LEAKAGE) == (quantity == LEAKAGE)
    ]
    return float(min(levels)) if levels else None


def _worst(cell: Cell, quantity: str) -> Any:
    return cell.leakage if quantity == LEAKAGE else cell.reflection


def _has_limit(result: Exploration) -> bool:
    return result.limit is not None and bool(result.limit.values)


def _long_key(result: Exploration) -> str:
    """The key with the most values: the one to draw against."""
    return max(result.variations, key=lambda variation: len(variation.values)).key


def _label(key: str) -> str:
    name, unit = key_in_words(key)
    return f"{name} / {unit}" if unit else name
