"""A grid of parts in words, for the terminal and for the report alike."""

from __future__ import annotations

import math
from collections.abc import Sequence
from itertools import groupby

from solver.judgement.quantities import EXCEEDS, MEETS, UNDECIDED
from solver.output.screen import table_text
from solver.output.wording import band_text
from solver.searches.exploration import REFUSED, Cell, Exploration, SharedBasis, Worst
from solver.searches.held_band import HeldBand
from solver.searches.varied_keys import key_in_words, values_in_words
from solver.waves import scattering

#: A longer table is cut on the terminal; the files hold all of it.
MOST_ROWS = 40


def decibels(amplitude: float) -> float:
    """Return 20 log10 of an amplitude [dB], at least -300."""
    return float(scattering.decibels(amplitude))


def worst_text(worst: Worst | None) -> str:
    """Return a worst amplitude with its interval in dB, ``"-32.1 dB (-32.2 to -32)"``.

    A value that its bar does not tell from 0 has an upper end only.
    """
    if worst is None:
        return ""
    value, low, high = (decibels(a) for a in (worst.value, worst.low, worst.high))
    if worst.low == 0.0:
        return f"at most {high:.2f} dB"
    bar = "" if high - low < 0.01 else f" ({low:.4g} to {high:.4g})"
    return f"{value:.2f} dB{bar}"


def held_text(held: HeldBand | None) -> str:
    """Return the band in which the limit holds, ``"9.1 to 9.6 GHz (5.3 %)"``.

    An edge that is an end of the computed band reads "at most" or "at least".
    """
    if held is None:
        return ""
    if held.sure is None:
        return "undecided" if held.outcome == UNDECIDED else "none"
    low, high = held.sure
    start, stop = f"{low.at / 1e9:.5g}", f"{high.at / 1e9:.5g}"
    start = f"at most {start}" if low.beyond else start
    stop = f"at least {stop}" if high.beyond else stop
    percent = f"{'at least ' if held.at_least else ''}{held.percent:.3g} %"
    return f"{start} to {stop} GHz ({percent})"


def headline(result: Exploration) -> str:
    """Return how many combinations meet the limit."""
    count, total = result.outcomes, len(result.cells)
    if result.limit is None or not result.limit.values:
        return f"No limit was set; {total - count[REFUSED]} of {total} combinations were computed"
    return f"{count[MEETS]} of {total} combinations meet {result.limit.text}"


def reasons(result: Exploration) -> list[str]:
    """Return sentences on what was found, and on how sure it is."""
    count = result.outcomes
    rest = [
        f"{count[name]} {text}"
        for name, text in (
            (EXCEEDS, "exceeding it"),
            (UNDECIDED, "undecided"),
            (REFUSED, "that cannot be built or solved"),
        )
        if count[name]
    ]
    found = [f"The others: {', '.join(rest)}"] if rest else []
    in_a_row = len(result.variations) == 1
    if in_a_row and result.limit is not None and count[MEETS]:
        found.append(f"At the computed values it is met {_runs(result)}")
    computed = [cell for cell in result.cells if cell.reflection is not None]
    least = min(computed, key=lambda cell: cell.reflection.value if cell.reflection else 0.0)
    found.append(
        f"Least worst reflection: {worst_text(least.reflection)} at {values_in_words(least.values)}"
    )
    if result.leaks:
        tight = min(computed, key=lambda cell: cell.leakage.value if cell.leakage else math.inf)
        found.append(
            f"Least worst leakage: {worst_text(tight.leakage)} at {values_in_words(tight.values)}"
        )
    whole = [cell for cell in result.cells if cell.held is not None and cell.held.whole]
    if whole:
        found.append(f"The limit holds over the whole computed band in {len(whole)} of them")
    elif wide := widest(result):
        found.append(
            f"Widest band about {result.design / 1e9:.6g} GHz: {held_text(wide.held)} at "
            f"{values_in_words(wide.values)}"
        )
    error = max(float(cell.curves.error.max()) for cell in computed if cell.curves is not None)
    found.append(f"Error of every S-parameter at most {error:.2g}; asked for {result.s_error:.2g}")
    if result.shared is not None:
        found.append(shared_text(result.shared))
    found.append("Worst values and bands are those of the whole band, between the points too")
    return found


def shared_text(shared: SharedBasis) -> str:
    """Say what came from a basis that parts share, and what their bar holds."""
    if shared.by_modes:
        text = (
            f"{shared.answered} bends were solved by modes of the curved guide; their error is "
            "what elements of two degrees across it tell"
        )
    else:
        text = f"{shared.answered} parts were solved together on one basis"
        if shared.snapshots:
            text += f" of {shared.snapshots} snapshots, elements of order {shared.order}"
        text += (
            "; their error is what two orders and the next one tell of the elements, and what "
            "leaving out part of the basis changes, at every frequency"
        )
    if shared.alone:
        text += f"; {shared.alone} more, whose error was too large for that, were solved alone"
    if not shared.confirmed:
        return f"{text}; the best ones were solved alone in a run before"
    return (
        f"{text}; {shared.confirmed} of them, the best ones included, were solved alone as well "
        f"and agree: S differs by at most {shared.apart:.2g} of both errors together"
    )


def widest(result: Exploration) -> Cell | None:
    """Return the cell whose limits hold over the widest band; None if none does."""
    held = [cell for cell in result.cells if cell.held is not None and cell.held.sure is not None]
    return max(held, key=lambda cell: cell.held.width if cell.held else 0.0, default=None)


def table(result: Exploration) -> tuple[list[str], list[list[str]]]:
    """Return heads and rows of the table of all combinations."""
    named = [key_in_words(variation.key) for variation in result.variations]
    heads = [f"{name} / {unit}" if unit else name for name, unit in named]
    heads += ["outcome", "worst |S11|"]
    heads += ["worst leakage"] if result.leaks else []
    if result.limit is not None:
        heads.append(f"usable band about {result.design / 1e9:.6g} GHz")
    rows = []
    for cell in result.cells:
        row = [f"{value:.6g}" for value in cell.values.values()]
        row += [cell.outcome, worst_text(cell.reflection)]
        row += [worst_text(cell.leakage)] if result.leaks else []
        row += [held_text(cell.held)] if result.limit is not None else []
        if cell.outcome == REFUSED:
            row[-1] = cell.reason
        rows.append(row)
    return heads, rows


def exploration_text(result: Exploration) -> str:
    """Return the whole answer as text for a terminal."""
    heads, rows = table(result)
    cut = len(rows) - MOST_ROWS
    lines = [
        result.title,
        result.part,
        band_text(result.band),
        "",
        headline(result),
        *(f"  - {reason}" for reason in reasons(result)),
        "",
        table_text(heads, rows[:MOST_ROWS], range(len(result.variations))),
    ]
    if cut > 0:
        lines.append(f"... and {cut} more; give a folder with -o for all of them")
    return "\n".join(lines)


def _runs(result: Exploration) -> str:
    """Say for which values in a row the limit is met, with one key."""
    variation = result.variations[0]
    cells = sorted(result.cells, key=lambda cell: cell.values[variation.key])
    name, unit = key_in_words(variation.key)
    parts: Sequence[str] = [
        _run_text([cell.values[variation.key] for cell in run])
        for met, group in groupby(cells, key=lambda cell: cell.outcome == MEETS)
        if met and (run := list(group))
    ]
    return f"at {name} {', '.join(parts)} {unit}".rstrip()


def _run_text(values: Sequence[float]) -> str:
    if len(values) == 1:
        return f"{values[0]:.6g}"
    return f"{values[0]:.6g} to {values[-1]:.6g}"
