"""The folder of a search for the profile with which a part can be shortest."""

from __future__ import annotations

from solver.output.shortest_answer import (
    found_lines,
    profile_table,
    shortest_csv,
    shortest_notes,
    shortest_result_of,
    shortest_text,
    sought_text,
)
from solver.output.wording import band_text
from solver.reports.table_report import TableAnswer
from solver.searches.shortest_result import ShortestResult


def shortest_answer(result: ShortestResult) -> TableAnswer:
    """Return what a search over profiles found, with the best part."""
    heads, rows = profile_table(result)
    first, *rest = found_lines(result)
    sure = result.best_proof is not None and result.best_proof.holds
    return TableAnswer(
        told=shortest_result_of(result),
        text=shortest_text(result),
        title=f"How short can this {result.part.kind} be?",
        part=sought_text(result),
        band=band_text(result.band),
        headline=first,
        heads=[*heads[:3], "note"],
        rows=rows,
        table=shortest_csv(result),
        notes=[*rest, *shortest_notes(result)],
        outcome="meets" if sure else "undecided",
        component=result.best_proof.part if result.best_proof is not None else None,
    )
