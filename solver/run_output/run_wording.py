"""A run's result in words, for the screen and for the report."""

from __future__ import annotations

from typing import TYPE_CHECKING

from solver.output.wording import band_text, decibels_text, headline
from solver.waves.scattering import vswr_of

if TYPE_CHECKING:
    from solver.runs.run_result import PartLine, RunResult


def run_text(result: RunResult) -> str:
    """Return a run's result for a terminal."""
    verdict = result.verdict
    lines = [
        f"{result.title}: {len(result.run)} parts, {band_text(result.band)}",
        headline(verdict),
        *[f"  - {reason}" for reason in verdict.reasons],
        "",
        f"seen by the transmitter: {verdict.text}",
        *summary(result),
        "",
        *_table(result),
    ]
    for title, texts in (("near parts", result.near), ("cautions", result.cautions)):
        if texts:
            lines += ["", f"{title}:", *[f"  - {text}" for text in texts]]
    return "\n".join(lines)


def summary(result: RunResult) -> list[str]:
    """Sentences on the whole run, without what the verdict says."""
    worst = result.worst_case
    told = [
        f"worst case over unknown lengths: |S11| {worst.worst:.4g} (VSWR "
        f"{float(vswr_of(worst.worst)):.4g}) near {worst.at_hz / 1e9:.5g} GHz; likely: "
        f"{worst.likely:.4g} (VSWR {float(vswr_of(worst.likely)):.4g})"
    ]
    if result.end_vswr is not None:
        told.append(f"ends in VSWR {result.end_vswr:g} of any phase")
    if result.worst_loss_db is not None:
        walls = "" if result.walls else " with lossless walls"
        told.append(f"insertion loss: {decibels_text(result.worst_loss_db)}{walls}")
    first, weakest = result.improve_first, result.weakest_part
    if first is not None:
        told.append(
            f"improve first: {first.name}; if it did not reflect, the worst case would be "
            f"|S11| {first.without_it:.4g}"
        )
    if weakest is not None and weakest.breakdown_w is not None:
        told.append(
            f"weakest for field strength: {weakest.name}, {power_text(weakest.breakdown_w)} at "
            "breakdown in clean dry air when matched; no rating"
        )
    return told


def power_text(watts: float | None) -> str:
    """Return a power [W] with its unit; a dash where it is unknown."""
    if watts is None:
        return "-"
    for unit, size in (("MW", 1e6), ("kW", 1e3)):
        if watts >= size:
            return f"{watts / size:.3g} {unit}"
    return f"{watts:.3g} W"


def row_of(line: PartLine) -> tuple[str, ...]:
    """A part's row of the table of parts."""
    loss = "-"
    if line.worst_loss_db is not None:
        loss = decibels_text(line.worst_loss_db).removeprefix("at most ")
    reflected = "0" if not line.worst_s11 else f"{line.worst_s11:.4g}"
    return (
        line.name,
        line.kind,
        reflected,
        f"{line.worst_s11_error:.1g}" if line.worst_s11_error else "",
        loss,
        power_text(line.breakdown_w),
        f"{line.without_it:.4g}",
    )


#: Heads of the table of parts.
HEADS = ("part", "kind", "worst |S11|", "error", "loss", "breakdown", "worst case without it")


def _table(result: RunResult) -> list[str]:
    rows = [HEADS, *(row_of(line) for line in result.parts)]
    widths = [max(len(row[i]) for row in rows) for i in range(len(HEADS))]
    return [
        "  ".join(cell.ljust(width) for cell, width in zip(row, widths, strict=True)).rstrip()
        for row in rows
    ]
