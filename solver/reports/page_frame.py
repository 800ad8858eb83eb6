"""What every page has in common: heading, answer, cautions and how it came about."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from solver.output.cautions import CAUTIONS_SOURCE, cautions_for, other_cautions
from solver.reports.run_record import RunRecord
from solver.version import installed_version


def page_frame(
    command: str,
    title: str,
    part: str,
    band: str,
    record: RunRecord | None,
    *,
    kinds: Sequence[str] = (),
    version: str = "",
) -> dict[str, Any]:
    """Return what `page.html` and its head need.

    Parameters
    ----------
    command : str
        Name of the command, as ``"assess"``.
    title, part, band : str
        Lines of the heading.
    record : RunRecord or None
        None for a result that was asked for from Python.
    kinds : sequence of str
        Kinds of the parts, for the cautions that concern them.
    version : str
        Of guideproof; the installed one by default.
    """
    return {
        "kind_of_page": f"guideproof {command}",
        "title": title,
        "part": part,
        "band": band,
        "version": version or installed_version(),
        "record": record or RunRecord.now(),
        "cautions": cautions_for(kinds),
        "general_caution": other_cautions(kinds),
        "cautions_source": CAUTIONS_SOURCE,
    }


def answer_frame(
    outcome: str,
    headline: str,
    facts: Sequence[tuple[str, str]],
    reasons: Sequence[str] = (),
    steps: Sequence[Any] = (),
) -> dict[str, Any]:
    """Return what `answer.html` needs, the box that alone answers.

    Parameters
    ----------
    outcome : str
        ``"meets"``, ``"exceeds"``, ``"undecided"`` or ``"no limit"``: it sets the colour.
    headline : str
        The answer in a few words.
    facts : sequence of (str, str)
        What a reader needs to know beside it, by name; empty ones are left out.
    reasons : sequence of str
        Sentences without their full stop.
    steps : sequence of NextStep
        What to do next.
    """
    return {
        "outcome": outcome.replace(" ", "-"),
        "headline": headline,
        "facts": [(name, text) for name, text in facts if text],
        "reasons": [sentence(reason) for reason in reasons],
        "steps": steps,
    }


def sentence(text: str) -> str:
    """Return a text that starts as a sentence does, without its full stop."""
    return (text[:1].upper() + text[1:]).rstrip(".")


def folder_files(
    page: str, result: bytes, table: str, figures: Mapping[str, bytes]
) -> dict[str, bytes]:
    """Return the files that every command writes, by name.

    Parameters
    ----------
    page : str
        The report.
    result : bytes
        The JSON object.
    table : str
        Comma-separated values.
    figures : mapping of str to bytes
        SVG files by their name without ending.
    """
    return {
        "report.html": page.encode("utf-8"),
        "result.json": result,
        "table.csv": table.encode("utf-8"),
        **{f"{name}.svg": svg for name, svg in figures.items()},
    }
