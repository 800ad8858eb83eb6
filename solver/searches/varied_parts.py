"""Parts of a study with other values of its keys: how they are built, and how refused."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from pathlib import Path
from typing import Any

from solver.errors import StudyError
from solver.searches.part_curves import Refusal
from solver.searches.varied_keys import with_values
from solver.studies.messages import one_line
from solver.studies.study import Study, study_of


def built_part(
    tables: Mapping[str, Any], path: Path, values: Mapping[str, float]
) -> Study | Refusal:
    """Return a study with other values of its keys, or why there is no such part.

    Parameters
    ----------
    tables : mapping
        The study's tables, from `solver.studies.study.read_tables`.
    path : Path
        The study's file.
    values : mapping
        By path of the key.
    """
    try:
        return study_of(with_values(tables, values), path)
    except StudyError as error:
        return Refusal(str(error).removeprefix(f"{one_line(str(path))}: "))


def all_refused(path: Path, results: Iterable[Any], what: str) -> StudyError:
    """Return the error of a study of which no part can be computed.

    Parameters
    ----------
    path : Path
        The study's file.
    results : iterable
        With at least one `Refusal`, of which the first is told.
    what : str
        All that was asked for, in words.
    """
    reason = next(result.reason for result in results if isinstance(result, Refusal))
    return StudyError(
        f"{one_line(str(path))}: {reason} (so for the first of {what}; all are refused)"
    )
