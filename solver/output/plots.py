"""Figures of a result.

Each function returns a matplotlib figure that belongs to no window: the caller saves or shows it.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np
from matplotlib import rc_context

from solver.figures.style import (
    BOUND,
    COMPUTED,
    DASHES,
    ESTIMATES,
    SECOND,
    SOFT,
    STYLE,
    curve_figure,
    draw_limit,
    draw_with_bar,
    name_lines,
)
from solver.output.estimate_wording import range_text
from solver.output.wording import size_name
from solver.studies.inches import in_length_unit, length_unit
from solver.studies.limits import amplitude_of
from solver.waves.scattering import decibels, vswr_of

if TYPE_CHECKING:
    from collections.abc import Callable

    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

    from solver.judgement.assessment import Assessment
    from solver.loads.heat_profile import HeatProfile
    from solver.searches.gradual import GradualResult


def drawn_decibels(amplitude: Any) -> np.ndarray:
    """Return amplitudes as levels [dB], none below what a figure need show."""
    return decibels(amplitude, least=1e-9)


def _over_band(title: str) -> tuple[Figure, Axes]:
    figure, axes = curve_figure(title, "frequency / GHz")
    axes.margins(x=0)
    return figure, axes


def _with_bar(
    axes: Axes,
    ghz: np.ndarray,
    amplitude: np.ndarray,
    error: np.ndarray,
    shown: Callable[[np.ndarray], np.ndarray],
    label: str,
) -> None:
    """Draw a curve and the band that holds the true one."""
    low, high = shown(np.maximum(amplitude - error, 0.0)), shown(amplitude + error)
    draw_with_bar(axes, ghz, low, shown(amplitude), high, label)


def reflection_figure(assessment: Assessment) -> Figure:
    r"""Return \|S11\| in dB with its error bar, the closed forms, and the limit."""
    scattering = assessment.over_band
    ghz, s11 = scattering.frequency / 1e9, np.abs(scattering.s11)
    listed = assessment.scattering.frequency / 1e9
    figure, axes = _over_band("Reflection |S11| / dB")
    for number, estimate in enumerate(assessment.estimates):
        outside = "" if estimate.within_validity else "\n(outside its range)"
        _draw_estimate(axes, listed, number, estimate.s11_abs, estimate.name + outside)
    _with_bar(axes, ghz, s11, scattering.error, drawn_decibels, "computed |S11|")
    limits = assessment.limit.values if assessment.limit is not None else {}
    for quantity in ("vswr", "return_loss_db"):
        if quantity in limits:
            level = 20 * np.log10(amplitude_of(quantity, limits[quantity]))
            draw_limit(axes, level)
    _mark_resonances(axes, assessment)
    top = (
        max(float(np.max(drawn_decibels(s11))), *axes.get_ylim()) if limits else axes.get_ylim()[1]
    )
    axes.set_ylim(max(axes.get_ylim()[0], top - 60.0), min(top + 1.0, 1.0))
    name_lines(figure, axes)
    return figure


def reflection_caption(assessment: Assessment) -> str:
    """What `reflection_figure` shows, in one sentence."""
    beside = any(np.isfinite(estimate.s11_abs).any() for estimate in assessment.estimates)
    return (
        "The computed reflection beside the closed forms."
        if beside
        else "The computed reflection; no closed form is known for this part."
    )


def leakage_figure(assessment: Assessment) -> Figure:
    """Return the leaked power in dB with its error bar, the closed forms, and the limit."""
    scattering = assessment.over_band
    listed = assessment.scattering.frequency / 1e9
    ghz, leaked = scattering.frequency / 1e9, np.sqrt(scattering.leaked_power)
    figure, axes = _over_band("Leakage: power past the rim over incident power / dB")
    for number, estimate in enumerate(assessment.estimates):
        if estimate.leaked_power is not None:
            inside = range_text(estimate.leakage_in_range, listed)
            where = {"yes": "", "no": "\n(outside its range)"}.get(
                inside, "\n(partly in its range)"
            )
            amplitude = np.sqrt(estimate.leaked_power)
            _draw_estimate(axes, listed, number, amplitude, estimate.name + where)
    bar = np.sqrt(scattering.leaked_power + scattering.leaked_bar) - leaked
    _with_bar(axes, ghz, leaked, bar, drawn_decibels, "computed leakage")
    if assessment.limit is not None and assessment.limit.leakage_db is not None:
        draw_limit(axes, assessment.limit.leakage_db)
    _mark_resonances(axes, assessment)
    name_lines(figure, axes)
    return figure


def _draw_estimate(
    axes: Axes, ghz: np.ndarray, number: int, amplitude: np.ndarray, label: str
) -> None:
    """Draw one of several closed forms, unless none of its values is finite."""
    if np.isfinite(amplitude).any():
        axes.plot(
            ghz,
            drawn_decibels(amplitude),
            color=ESTIMATES[number % len(ESTIMATES)],
            linestyle=DASHES[number % len(DASHES)],
            linewidth=1.1,
            label=label,
        )


def _mark_resonances(axes: Axes, assessment: Assessment) -> None:
    """Draw a line at each resonance."""
    for number, found in enumerate(assessment.resonances):
        label = "resonance" if number == 0 else None
        at = found.frequency / 1e9
        axes.axvline(at, color=SECOND, linewidth=1.0, linestyle=":", label=label)


def heat_figure(heat: HeatProfile) -> Figure:
    """Return the heat along the axis of an absorber for each watt that enters."""
    unit, at = length_unit(), heat.frequency / 1e9
    figure, axes = curve_figure(
        f"Heat for 1 W at {at:.6g} GHz / (W/{unit})", f"distance behind the tip / {unit}"
    )
    axes.margins(x=0)
    place, fraction = in_length_unit(heat.place), heat.fraction / in_length_unit(1.0)
    axes.fill_between(place, fraction, alpha=0.2, color=BOUND, linewidth=0)
    axes.plot(place, fraction, color=BOUND)
    axes.set_ylim(bottom=0.0)
    return figure


def transmission_figure(assessment: Assessment) -> Figure | None:
    """Return every element of the first column of S other than S11, in dB; None if none is there.

    A part with one port and one mode passes nothing on.
    """
    scattering = assessment.over_band
    ghz = scattering.frequency / 1e9
    if len(scattering.port_modes) == 1:
        return None
    figure, axes = _over_band("Transmitted power, by port and mode / dB")
    rows = [row for row in range(1, len(scattering.port_modes)) if scattering.s[:, row, 0].any()]
    names = list(dict.fromkeys(mode.name for mode in scattering.port_modes))
    colours = [COMPUTED, SECOND, *ESTIMATES]
    for row in rows:
        mode, wave = scattering.port_modes[row], scattering.s[:, row, 0]
        axes.plot(
            ghz,
            drawn_decibels(np.where(wave == 0.0, np.nan, wave)),  # nothing to show below a cutoff
            color=colours[names.index(mode.name) % len(colours)],
            linestyle="--" if mode.port == 1 else "-",
            marker="o" if len(ghz) < 12 else "",
            label=f"into {mode.name}, port {mode.port}",
        )
    axes.ticklabel_format(axis="y", useOffset=False)
    # Losses too small for any meter look as small as they are.
    bottom = min(max(axes.get_ylim()[0], -80.0), -0.01)
    axes.set_ylim(bottom, max(axes.get_ylim()[1], -0.04 * bottom))
    if rows:
        name_lines(figure, axes)
    return figure


def vswr_figure(assessment: Assessment) -> Figure:
    """Return the VSWR with its error bar and its limit."""
    scattering = assessment.over_band
    ghz, s11 = scattering.frequency / 1e9, np.abs(scattering.s11)
    figure, axes = _over_band("Standing-wave ratio (VSWR) at port 1")
    _with_bar(axes, ghz, s11, scattering.error, vswr_of, "computed VSWR")
    limits = assessment.limit.values if assessment.limit is not None else {}
    for quantity in ("vswr", "return_loss_db"):
        if quantity in limits:
            level = float(vswr_of(amplitude_of(quantity, limits[quantity])))
            draw_limit(axes, level)
    worst = assessment.verdict
    if worst.quantity != "leakage_db":
        at = int(np.argmax(s11))
        axes.plot(ghz[at], vswr_of(s11[at]), "o", color=BOUND, markersize=5, label="worst")
    axes.set_ylim(1.0, min(axes.get_ylim()[1], 20.0))
    name_lines(figure, axes)
    return figure


def gradual_figure(result: GradualResult, wavelength: float) -> Figure:
    """Return the worst reflection against size, with the limit and the sizes found.

    Parameters
    ----------
    result : GradualResult
    wavelength : float
        Guide wavelength at the centre of the band [m], for the upper scale.
    """
    sizes = in_length_unit(np.asarray(result.sizes))
    worst = np.asarray(result.worst_s11)
    name = size_name(result.kind)
    figure, axes = curve_figure("Worst |S11| in the band / dB", f"{name} / {length_unit()}")
    order = np.argsort(sizes)
    axes.plot(
        sizes[order], drawn_decibels(worst[order]), color=COMPUTED, linewidth=1.6, label="computed"
    )
    estimated = np.asarray(result.estimated_s11)[order]
    if np.isfinite(estimated).any():
        axes.plot(
            sizes[order],
            drawn_decibels(estimated),
            color=ESTIMATES[0],
            linestyle="--",
            linewidth=1.1,
            label="closed form",
        )
    for quantity, value in result.limit.values.items():
        if quantity != "leakage_db":
            level = 20 * np.log10(amplitude_of(quantity, value))
            draw_limit(axes, level)
    for size, label, dash in (
        (result.smallest, "every larger one meets the limit", "-"),
        (result.first_met, "first that meets it", ":"),
    ):
        if size is not None:
            look: dict[str, Any] = {
                "color": SECOND,
                "linewidth": 1.2,
                "linestyle": dash,
                "label": label,
            }
            axes.axvline(in_length_unit(size), **look)
    _mark_rules(axes, result, sizes)
    _scale_in_wavelengths(axes, wavelength)
    name_lines(figure, axes)
    return figure


def _mark_rules(axes: Axes, result: GradualResult, sizes: np.ndarray) -> None:
    """Mark the sizes that rules of thumb ask for, where they fall inside the curve."""
    measure = "mean radius" if result.kind == "bend" else "mean length"
    required = [in_length_unit(rule.required) for rule in result.rules if rule.measure == measure]
    asked = [size for size in required if sizes.min() < size <= sizes.max()]
    for number, size in enumerate(asked):
        label = "rules of thumb" if number == 0 else None
        axes.axvline(size, color=SOFT, linewidth=0.8, zorder=0, label=label)


def _scale_in_wavelengths(axes: Axes, wavelength: float) -> None:
    """Add a scale in guide wavelengths above one of lengths."""
    one = in_length_unit(wavelength)

    def in_wavelengths(lengths: Any) -> Any:
        return np.asarray(lengths) / one

    def in_lengths(wavelengths: Any) -> Any:
        return np.asarray(wavelengths) * one

    with rc_context(STYLE):
        upper = axes.secondary_xaxis("top", functions=(in_wavelengths, in_lengths))
    upper.spines["top"].set_visible(False)
    upper.tick_params(direction="in", pad=-11, labelsize=7.5, colors=SOFT)
    # named in the plot, where the curve has fallen
    upper.set_xlabel("")
    axes.text(
        0.995,
        0.9,
        "in guide wavelengths at band centre",
        transform=axes.transAxes,
        ha="right",
        va="top",
        fontsize=7.5,
        color=SOFT,
    )
