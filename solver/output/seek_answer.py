"""What a search found, as text for a terminal and as plain values."""

from __future__ import annotations

from typing import Any

from solver.output.exploration_wording import decibels, worst_text
from solver.output.result_json import SCHEMA
from solver.searches.seek import SCANNED
from solver.searches.seek_result import FLAT_DB, ONE_DB_MORE, FlatRange, SeekResult
from solver.searches.varied_keys import key_in_words, values_in_words
from solver.studies.plain_values import plain


def seek_result_of(result: SeekResult) -> dict[str, Any]:
    """Return what a search found as plain lists, numbers and text."""
    least = result.least
    return plain(
        {
            "schema": SCHEMA,
            "title": result.title,
            "least": result.quantity,
            "searched": [{"key": s.key, "from": s.low, "to": s.high} for s in result.spans],
            "from_hz": result.frequencies[0],
            "to_hz": result.frequencies[1],
            "points": result.frequencies[2],
            "values": result.values,
            "amplitude": least.value,
            "lowest": least.low,
            "highest": least.high,
            "db": decibels(least.value),
            "at_hz": least.at_hz,
            "s_error": result.error,
            "s_error_wanted": result.wanted,
            "resolved": result.resolved,
            "at_ends": result.at_ends,
            f"within_{FLAT_DB:g}_db": [
                {
                    "key": flat.key,
                    "from": flat.low,
                    "to": flat.high,
                    "from_ends_by": flat.low_end,
                    "to_ends_by": flat.high_end,
                    "uncertainty": flat.within,
                }
                for flat in result.flat
            ],
            "evaluations": result.evaluations,
            "refused": result.refused,
            "tried": [[values, amplitude] for values, amplitude in result.tried],
        }
    )


def seek_headline(result: SeekResult) -> str:
    """Return the least value and where it lies, in words."""
    start, stop, count = result.frequencies
    where = f"at {start / 1e9:.6g} GHz"
    if count > 1:
        where = f"worst over {start / 1e9:.6g} to {stop / 1e9:.6g} GHz, {count} points"
    return f"Least {result.quantity} ({where}): {worst_text(result.least)}"


def seek_notes(result: SeekResult) -> list[str]:
    """Return sentences on how flat, how sure and how well searched the least value is."""
    scanned = SCANNED[len(result.spans)] ** len(result.spans)
    base = "it" if result.resolved or not result.reached else f"{decibels(result.wanted):.1f} dB"
    notes = [
        f"Within {FLAT_DB:g} dB of {base}: {'; '.join(_flat_text(flat) for flat in result.flat)}",
        f"Error of every S-parameter there at most {result.error:.2g}",
    ]
    if not result.reached:
        notes.append("The accuracy asked for was not reached there: ask for a larger s_error")
    elif not result.resolved:
        notes.append(
            f"It lies under the accuracy asked for, {decibels(result.wanted):.1f} dB, and counts "
            "as that; a smaller s_error tells deeper ones apart"
        )
    notes += [
        f"The best {key_in_words(key)[0]} lies at an end of its interval: widen it"
        for key in result.at_ends
    ]
    refused = f", {result.refused} of them no part that can be" if result.refused else ""
    notes.append(
        f"{result.evaluations} parts computed{refused}; the least near the best of {scanned} "
        "scanned: a narrower dip can lie between them"
    )
    return notes


def seek_text(result: SeekResult) -> str:
    """Return what a search found as text for a terminal."""
    return "\n".join(
        [
            result.title,
            seek_headline(result),
            f"at {values_in_words(result.values)}",
            "",
            *(f"  - {note}" for note in seek_notes(result)),
            "  - A calculation for the stated geometry, never a clearance",
        ]
    )


def _flat_text(flat: FlatRange) -> str:
    name, unit = key_in_words(flat.key)
    ends = [end for end in (flat.low_end, flat.high_end) if end != ONE_DB_MORE]
    note = f" ({', '.join(dict.fromkeys(ends))})" if ends else ""
    # As many digits as tell a narrow range's ends apart.
    digits = next(d for d in range(5, 13) if f"{flat.low:.{d}g}" != f"{flat.high:.{d}g}" or d == 12)
    low, high = f"{flat.low:.{digits + 1}g}", f"{flat.high:.{digits + 1}g}"
    return f"{name} {low} to {high} {unit}".rstrip() + note
