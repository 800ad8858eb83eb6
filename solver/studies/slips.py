"""What somebody who wrote a study wrongly most likely meant."""

from __future__ import annotations

import re
from collections.abc import Mapping
from functools import cache
from pathlib import Path
from typing import Any, get_args

from solver.errors import StudyError
from solver.studies.component_keys import ComponentTable
from solver.studies.messages import comma_hint, one_line
from solver.studies.study_keys import StudyKeys
from solver.studies.tables import Table

#: What a file holds that is of another sort than was asked for: the key that tells, its command.
_SORTS = {
    "study": ("component", "a study of one part", "guideproof assess"),
    "run": ("part", "a run of parts", "guideproof run"),
    "sheet": ("case", "a reference sheet", "guideproof reference"),
}
#: Words that stand without quotes.
_WORDS = ("true", "false", "inf", "nan")


def refuse_other_sort(tables: Mapping[str, Any], wanted: str, name: str) -> None:
    """Refuse a file that is plainly of another sort, and say which command takes it.

    Parameters
    ----------
    tables : mapping
        What the file holds.
    wanted : {"study", "run", "sheet"}
    name : str
        Of the file, for the message.

    Raises
    ------
    StudyError
    """
    if _SORTS[wanted][0] in tables:
        return
    for key, what, command in _SORTS.values():
        if key in tables:
            raise StudyError(f"{name}: this is {what}: take it to {command}")


@cache
def homes() -> dict[str, str]:
    """Return the table of a study in which each key stands; empty for those above all tables."""
    found: dict[str, str] = {}
    for keys in get_args(get_args(ComponentTable)[0]):
        found |= dict.fromkeys(keys.model_fields, "component")
    for name, field in StudyKeys.model_fields.items():
        for table in (field.annotation, *get_args(field.annotation)):
            if isinstance(table, type) and issubclass(table, Table):
                found |= dict.fromkeys(table.model_fields, name)
    return found | {"title": "", "guide": ""}


def slip_in_text(path: Path) -> str:
    """Name the first decimal comma, or text without quotes, of a file that is no TOML.

    Returns
    -------
    str
        Empty where there is neither.
    """
    try:
        lines = path.read_text(encoding="utf-8").splitlines()
    except (OSError, ValueError):
        return ""
    for number, line in enumerate(lines, start=1):
        key, _, value = (part.strip() for part in line.partition("#")[0].partition("="))
        if hint := comma_hint(value):
            return f"; line {number}{hint}"
        if re.fullmatch(r"[A-Za-z][\w. -]*", value) and value not in _WORDS:
            return f'; line {number}: text stands in quotes: {one_line(key)} = "{one_line(value)}"'
    return ""
