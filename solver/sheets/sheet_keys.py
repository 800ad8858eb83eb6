"""The keys of a reference sheet: its cases, and the values wanted of each."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import Annotated, Any

from pydantic import AfterValidator, Field, ValidationError

from solver.errors import StudyError
from solver.sheets.quantities import QUANTITIES, Wanted
from solver.studies.guide_keys import Guide, GuideEntry, build_guide
from solver.studies.messages import first_problem, one_line, refusal, unknown_key
from solver.studies.study import Study, read_tables, study_of
from solver.studies.study_keys import LONGEST_TITLE, one_line_of_text
from solver.studies.tables import RefusedKeyError, Table

_WANTED = re.compile(r"(\w+)(?: of (\w+))?(?: at ([0-9.eE+-]+) GHz)?")

Line = Annotated[
    str, Field(min_length=1, max_length=LONGEST_TITLE), AfterValidator(one_line_of_text)
]


class PrintedKeys(Table):
    """A value that a source prints."""

    value: Line
    text: Line
    source: Annotated[str, Field(min_length=1, max_length=400)]


class CaseKeys(Table):
    """One part, or one guide, and the values wanted of it."""

    name: Line
    study: str | dict[str, Any] | None = None
    guide: GuideEntry | None = None
    values: Annotated[list[Line], Field(min_length=1, max_length=50)]
    second_path: bool = True
    printed: Annotated[list[PrintedKeys], Field(default_factory=list)]


class SheetKeys(Table):
    """A whole sheet."""

    title: Line
    note: Annotated[str, Field(max_length=2000)] = ""
    case: Annotated[list[CaseKeys], Field(min_length=1, max_length=200)]


@dataclass(frozen=True)
class Case:
    """One part, or one guide, and the values wanted of it.

    Parameters
    ----------
    name : str
    study : Study or None
    guide : RectangularGuide or CircularGuide
    wanted : tuple of Wanted
    second_path : bool
        Whether to compute each value in a second way, where there is one.
    printed : dict of str to (str, str)
        Text and source of printed values, by what was wanted.
    """

    name: str
    study: Study | None
    guide: Guide
    wanted: tuple[Wanted, ...]
    second_path: bool = True
    printed: dict[str, tuple[str, str]] = field(default_factory=dict)


@dataclass(frozen=True)
class SheetRequest:
    """What a sheet asks for.

    Parameters
    ----------
    title, note : str
    cases : tuple of Case
    tables : dict
        All of it as plain tables, those of the studies included, so that it can be asked again.
    """

    title: str
    note: str
    cases: tuple[Case, ...]
    tables: dict[str, Any]


def is_sheet(tables: Mapping[str, Any]) -> bool:
    """Return whether the tables of a file are those of a sheet, and not of a study."""
    return "case" in tables


def sheet_of(tables: Mapping[str, Any], path: Path) -> SheetRequest:
    """Check the tables of a sheet.

    Parameters
    ----------
    tables : mapping
    path : Path
        The file, for messages and for the studies it names.

    Raises
    ------
    StudyError
        With one line that names the file, the key, the value and what to change.
    """
    name = one_line(str(path))
    try:
        keys = SheetKeys.model_validate(tables)
    except ValidationError as error:
        raise StudyError(f"{name}: {first_problem(error)}") from error
    try:
        built = [_case(case, number, path) for number, case in enumerate(keys.case)]
    except RefusedKeyError as error:
        raise StudyError(f"{name}: {refusal(error.key, error.shown, error.text)}") from error
    plain = dict(tables) | {"case": [told for _, told in built]}
    return SheetRequest(keys.title, keys.note, tuple(case for case, _ in built), plain)


def _case(keys: CaseKeys, number: int, path: Path) -> tuple[Case, dict[str, Any]]:
    key = f"case[{number}]"
    told = keys.model_dump(exclude_none=True)
    if (keys.study is None) == (keys.guide is None):
        raise RefusedKeyError(key, keys.name, "give either a study or a guide")
    study = None
    if keys.study is not None:
        tables: Any = keys.study
        origin = path
        if isinstance(tables, str):
            origin = path.parent / tables
            tables = read_tables(origin)
        study = study_of(tables, origin)
        told["study"] = tables
    guide = build_guide(f"{key}.guide", keys.guide) if keys.guide else study.component.guide  # type: ignore[union-attr]
    wanted = tuple(_wanted(text, key, study) for text in keys.values)
    printed = {p.value: (p.text, p.source) for p in keys.printed}
    for text in printed:
        if text not in keys.values:
            raise RefusedKeyError(f"{key}.printed", text, "must be one of the values of the case")
    return Case(keys.name, study, guide, wanted, keys.second_path, printed), told


def _wanted(text: str, key: str, study: Study | None) -> Wanted:
    match = _WANTED.fullmatch(text)
    key = f"{key}.values"
    if match is None:
        raise RefusedKeyError(key, text, "must be as vswr, or as s21_phase_deg at 10.0 GHz")
    name, mode, at = match[1], match[2] or "", match[3]
    if name not in QUANTITIES:
        raise RefusedKeyError(key, text, unknown_key(name, list(QUANTITIES)))
    quantity = QUANTITIES[name]
    if quantity.at_frequency != (at is not None):
        needs = "needs a frequency, as" if quantity.at_frequency else "takes no frequency: write"
        example = f"{name} at 10.0 GHz" if quantity.at_frequency else name
        raise RefusedKeyError(key, text, f"{needs} {example}")
    if quantity.of_part and study is None:
        raise RefusedKeyError(key, text, "needs a study, not a guide alone")
    frequency = None
    if at is not None:
        try:
            frequency = float(at) * 1e9
        except ValueError:
            raise RefusedKeyError(key, text, "its frequency is not a number") from None
        if study is not None and not study.band.start <= frequency <= study.band.stop:
            raise RefusedKeyError(key, text, "its frequency must lie within the study's band")
    return Wanted(text, name, frequency, mode)
