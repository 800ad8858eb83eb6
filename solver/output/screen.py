"""Results as text for a terminal."""

from __future__ import annotations

import io
import shutil
from collections.abc import Iterable, Sequence
from typing import TYPE_CHECKING

import numpy as np

from geometries.shapes.guides import CircularGuide, RectangularGuide
from solver.output.estimate_wording import leakage_rows
from solver.output.heat_answer import heat_lines
from solver.output.periodic_answer import periodic_lines
from solver.output.radiation_answer import radiation_lines
from solver.output.rule_wording import reading_row, reading_text, rule_lines
from solver.output.wording import (
    band_text,
    gradual_text,
    headline,
    in_mm,
    loss_text,
    margin_text,
    part_text,
    peak_text,
    smallest_text,
)
from solver.studies.inches import length_text
from solver.waves.guide_modes import (
    dominant_cutoff,
    guide_wavelength,
    recommended_band,
    single_mode_band,
)
from solver.waves.guide_power import CATALOGUE_SHARE, attenuation_te10, breakdown_power_te10

if TYPE_CHECKING:
    from geometries.shapes.guides import StandardGuide
    from solver.judgement.assessment import Assessment
    from solver.rules.rules_of_thumb import RuleReading
    from solver.searches.gradual import GradualResult
    from solver.waves.guide_modes import GuideMode

#: Annealed copper [S/m], for the loss that a catalogue line shows.
COPPER = 5.8e7


def table_text(heads: Sequence[str], rows: Iterable[Sequence[str]], numbers: Sequence[int]) -> str:
    """Return a table as text that fits the terminal.

    Parameters
    ----------
    heads : sequence of str
    rows : iterable of sequences of str
    numbers : sequence of int
        Columns to set flush right and never to wrap.
    """
    from rich import box
    from rich.console import Console
    from rich.table import Table
    from rich.text import Text

    table = Table(box=box.SIMPLE_HEAD, show_edge=False, pad_edge=False)
    for index, head in enumerate(heads):
        if index in numbers:
            table.add_column(head, justify="right", no_wrap=True)
        else:
            table.add_column(head, overflow="fold")
    for row in rows:
        table.add_row(*(Text(cell) for cell in row))
    text = io.StringIO()
    width = max(shutil.get_terminal_size((100, 24)).columns, 60)
    Console(file=text, width=width, markup=False, highlight=False, emoji=False).print(table)
    return "\n".join(line.rstrip() for line in text.getvalue().splitlines())


def assessment_text(assessment: Assessment, every_rule: bool = False) -> str:
    """Return the verdict, the estimates and the rules as text.

    Parameters
    ----------
    assessment : Assessment
    every_rule : bool
        Show every reading of every rule.
    """
    verdict, scattering = assessment.verdict, assessment.scattering
    limit = assessment.limit.text if assessment.limit is not None else "no limit was set"
    error = float(np.max(scattering.error))
    parts = [
        f"{assessment.title}\n{part_text(assessment.component)}\n"
        f"{band_text(assessment.band)}; {limit}",
        "\n".join(
            [f"{headline(verdict).upper()}: {verdict.text}"]
            + [f"  - {reason}" for reason in verdict.reasons]
        ),
        f"error of every S-parameter at most {error:.2g}; asked for {assessment.wanted_error:.2g}",
    ]
    if room := margin_text(verdict, assessment.band):
        parts[1] += "\n" + room
    if loss := loss_text(assessment.over_band, absorber=assessment.heat is not None):
        parts.append(loss)
    if assessment.peak_field is not None:
        parts.append(
            f"largest electric field: {peak_text(assessment.peak_field)} "
            f"({assessment.peak_field.note})"
        )
    parts += [
        *heat_lines(assessment),
        *radiation_lines(assessment),
        *periodic_lines(assessment),
    ]
    if assessment.estimates:
        parts.append(_estimates_text(assessment))
        if rows := leakage_rows(assessment.estimates, scattering):
            heads = ("closed form", "worst leakage", "largest difference", "in its range")
            parts.append(table_text(heads, rows, (1,)))
    if assessment.rules:
        parts.append(rules_text(assessment.rules, "the part has", every_rule))
    return "\n\n".join(parts)


def _estimates_text(assessment: Assessment) -> str:
    computed = np.abs(assessment.scattering.s11)
    rows = [("computed", f"{np.abs(assessment.over_band.s11).max():.4g}", "", "")]
    for estimate in assessment.estimates:
        finite = np.isfinite(estimate.s11_abs)
        values = np.asarray(estimate.s11_abs)[finite]
        rows.append(
            (
                estimate.name,
                f"{values.max():.4g}" if values.size else "none",
                f"{np.max(np.abs(values - computed[finite])):.2g}" if values.size else "",
                "yes" if estimate.within_validity else "no",
            )
        )
    heads = ("closed form", "worst |S11|", "largest difference", "in its range")
    return table_text(heads, rows, (1, 2))


def rules_text(rules: Iterable[RuleReading], actual: str, every: bool) -> str:
    """Return a table with one line for each rule, or for each of its readings.

    Parameters
    ----------
    rules : iterable of RuleReading
    actual : str
        Head of the column of what there is.
    every : bool
        Whether each reading has a line.
    """
    lines = rule_lines(rules)
    if every:
        rows = [
            (f"{line.name}: {reading_text(rule)}", *reading_row(rule))
            for line in lines
            for rule in line.readings
        ]
    else:
        rows = [(line.name, line.asks, line.has, line.holds, line.change) for line in lines]
    heads = ("rule of thumb", "asks for", actual, "holds", "to follow it")
    table = table_text(heads, rows, (1, 2, 4) if every else ())
    count = sum(len(line.readings) for line in lines)
    return table if every or count == len(lines) else f"{table}\n(--rules: all {count} readings)"


def gradual_result_text(result: GradualResult, every_rule: bool = False) -> str:
    """Return the size that was found, and the rules beside it, as text."""
    first = result.first_met
    lines = [gradual_text(result), band_text(result.band), "", smallest_text(result)]
    if first is not None:
        lines.append(f"The first that meets it at all: {length_text(first, 5)}")
    lines += [f"  - {reason}" for reason in result.reasons]
    if result.rules:
        lines += ["", rules_text(result.rules, "found", every_rule)]
    return "\n".join(lines)


def guides_text(sizes: Iterable[StandardGuide]) -> str:
    """Return the catalogue as text, one line for each size."""
    rows = [
        (
            size.guide.name,
            size.iec,
            size.rcsc,
            f"{size.guide.broad_width * 1e3:.6g}",
            f"{size.guide.narrow_height * 1e3:.6g}",
            f"{dominant_cutoff(size.guide) / 1e9:.4g}",
            f"{size.band[0] / 1e9:g} to {size.band[1] / 1e9:g}",
            size.confidence,
        )
        for size in sizes
    ]
    heads = ("EIA", "IEC", "RCSC", "a / mm", "b / mm", "cutoff / GHz", "band / GHz", "confidence")
    return table_text(heads, rows, (3, 4, 5, 6))


def guide_text(size: StandardGuide) -> str:
    """Return one size of the catalogue as text."""
    guide, (low, high) = size.guide, size.band
    centre = (low + high) / 2
    loss = 8.685889638 * attenuation_te10(guide, [low, high], COPPER)
    power = np.asarray(breakdown_power_te10(guide, [low, high])) / 1e6
    single, iec = single_mode_band(guide), recommended_band(guide)
    rows = [
        ("names", ", ".join(size.names)),
        ("inside", f"{in_mm(guide.broad_width)} by {in_mm(guide.narrow_height)}"),
        ("cutoff of TE10", f"{dominant_cutoff(guide) / 1e9:.6g} GHz"),
        ("next mode from", f"{single[1] / 1e9:.6g} GHz"),
        ("recommended band (EIA)", f"{low / 1e9:g} to {high / 1e9:g} GHz"),
        ("1.25 to 1.9 times the cutoff (IEC)", f"{iec[0] / 1e9:.5g} to {iec[1] / 1e9:.5g} GHz"),
        (
            f"guide wavelength at {centre / 1e9:g} GHz",
            in_mm(float(f"{float(guide_wavelength(guide, centre)):.6g}")),
        ),
        ("loss in smooth copper, band ends", f"{loss[0]:.3g} to {loss[1]:.3g} dB/m"),
        (
            "field limit in dry air at sea level, 30 kV/cm, band ends",
            f"{power[0]:.3g} to {power[1]:.3g} MW; the quarter that catalogues use: "
            f"{CATALOGUE_SHARE * power[0]:.3g} to {CATALOGUE_SHARE * power[1]:.3g} MW",
        ),
        ("sources: size; band; names", "; ".join(size.sources)),
        ("confidence", size.confidence + (f" ({size.note})" if size.note else "")),
    ]
    return table_text((size.guide.name, ""), rows, ())


def modes_rows(
    guide: RectangularGuide | CircularGuide, modes: Iterable[GuideMode]
) -> tuple[tuple[str, ...], list[tuple[str, ...]]]:
    """Return heads and rows of a table of a guide's modes."""
    first = dominant_cutoff(guide)
    rows: list[tuple[str, ...]] = [
        (m.label, f"{m.cutoff / 1e9:.6f}", f"{m.cutoff / first:.4f}") for m in modes
    ]
    return (f"mode in {guide.label}", "cutoff / GHz", "over the first"), rows


def modes_text(guide: RectangularGuide | CircularGuide, modes: Iterable[GuideMode]) -> str:
    """Return the modes of a guide as text."""
    heads, rows = modes_rows(guide, modes)
    return table_text(heads, rows, (1, 2))
