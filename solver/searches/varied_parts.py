"""Parts of a study with other values of its keys: how they are built, and how refused."""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping
from pathlib import Path
from typing import Any

from solver.errors import StudyError
from solver.searches.part_curves import Refusal, fingerprint
from solver.searches.varied_keys import check_keys, with_values
from solver.searches.varied_runs import is_run, numbered_key, run_fingerprint, run_keys
from solver.studies.messages import one_line
from solver.studies.run_study import RunStudy, run_of
from solver.studies.study import Study, study_of


def checked_keys(tables: Mapping[str, Any], path: Path, keys: tuple[str, ...]) -> tuple[str, ...]:
    """Return the keys that are varied, parts of a run by their number.

    Raises
    ------
    StudyError
        As `solver.searches.varied_keys.check_keys`, and when the run has a fault of its own.
    """
    if not is_run(tables):
        check_keys(tables, path, keys)
        return keys
    run_of(tables, path)
    numbered = tuple(numbered_key(tables, key) for key in keys)
    check_keys(tables, path, numbered, run_keys(tables))
    return numbered


def fingerprint_of(study: Study | RunStudy) -> str:
    """Return a short text that differs between any two computations with different curves."""
    return run_fingerprint(study) if isinstance(study, RunStudy) else fingerprint(study)


def built_part(
    tables: Mapping[str, Any], path: Path, values: Mapping[str, float]
) -> Study | RunStudy | Refusal:
    """Return a study or a run with other values of its keys, or why there is no such part.

    Parameters
    ----------
    tables : mapping
        Those of a study or a run, from `solver.studies.study.read_tables`.
    path : Path
        Its file.
    values : mapping
        By path of the key.
    """
    try:
        changed = with_values(tables, values)
        return run_of(changed, path) if is_run(tables) else study_of(changed, path)
    except StudyError as error:
        line = str(error).removeprefix(f"{one_line(str(path))}: ")
        # parts by the number that their key has here
        return Refusal(re.sub(r"\bpart\[(\d+)\]", lambda m: f"part.{int(m[1]) + 1}", line))


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
