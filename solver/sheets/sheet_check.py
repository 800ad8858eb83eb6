"""Compute a written sheet again and say what moved."""

from __future__ import annotations

import json
import math
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from solver.errors import StudyError
from solver.progress import Progress
from solver.sheets.certain_digits import uncertainty_text
from solver.sheets.sheet import computed_sheet
from solver.sheets.sheet_files import SHEET_JSON, described_value
from solver.sheets.sheet_keys import sheet_of
from solver.studies.messages import one_line
from solver.version import installed_version

#: Round-off that no stated uncertainty of an exact value allows for, relative.
_ROUND_OFF = 1e-12


@dataclass(frozen=True)
class Checked:
    """One value beside what it was.

    Parameters
    ----------
    name, wanted, unit : str
    before, now : float
    uncertainty : float
        That was stated.
    """

    name: str
    wanted: str
    unit: str
    before: float
    now: float
    uncertainty: float

    @property
    def moved(self) -> float:
        """How far it moved; angles the short way round."""
        moved = abs(self.now - self.before)
        return min(moved, abs(360 - moved)) if self.unit == "deg" else moved

    @property
    def holds(self) -> bool:
        """Whether it moved by no more than the uncertainty that was stated."""
        slack = _ROUND_OFF * abs(self.before)
        return math.isfinite(self.now) and self.moved <= self.uncertainty + slack


@dataclass(frozen=True)
class SheetCheck:
    """A sheet computed again.

    Parameters
    ----------
    title : str
    version : str
        That wrote it.
    values : tuple of Checked
    """

    title: str
    version: str
    values: tuple[Checked, ...]

    @property
    def moved(self) -> tuple[Checked, ...]:
        """Values that moved by more than was stated."""
        return tuple(value for value in self.values if not value.holds)


def check_sheet(folder: Path, progress: Progress | None = None) -> SheetCheck:
    """Compute the sheet of a folder again.

    Parameters
    ----------
    folder : Path
        As ``reference SHEET -o FOLDER`` wrote it.

    Raises
    ------
    StudyError
        If there is no sheet in it, or one that cannot be used.
    """
    path = folder / SHEET_JSON
    if not path.is_file():
        raise StudyError(f"{one_line(str(folder))}: {_not_a_sheet(folder)}")
    written = _written(path)
    try:
        tables, values = written["sheet"], written["values"]
        stated = [
            (v["case"], v["wanted"], float(v["value"]), float(v["uncertainty"])) for v in values
        ]
    except (KeyError, TypeError, ValueError) as error:
        raise StudyError(
            f"{one_line(str(path))}: not a reference sheet; write it again with -o"
        ) from error
    sheet = computed_sheet(sheet_of(tables, path), progress, second_paths=False)
    now = {
        (number, value.wanted.text): described_value(case, value, number)
        for number, case in enumerate(sheet.cases)
        for value in case.values
    }
    checked = []
    for number, wanted, before, uncertainty in stated:
        found = now.get((number, wanted))
        checked.append(
            Checked(
                name=found["name"] if found else f"case {number + 1}",
                wanted=wanted,
                unit=found["unit"] if found else "",
                before=before,
                now=float(found["value"]) if found else math.nan,
                uncertainty=uncertainty,
            )
        )
    return SheetCheck(sheet.request.title, str(written.get("version", "")), tuple(checked))


def _not_a_sheet(folder: Path) -> str:
    """Say what a path without a sheet in it is, and what to give instead."""
    ask = "name a folder that reference SHEET -o FOLDER has written"
    if not folder.exists():
        return f"there is no such folder; {ask}"
    if folder.is_file() and folder.name == SHEET_JSON:
        return f"is the sheet's file; name its folder, {one_line(str(folder.parent))}"
    if not folder.is_dir():
        return f"is a file, not the folder of a sheet; {ask}"
    return f"this folder holds no reference sheet ({SHEET_JSON} is missing); {ask}"


def _written(path: Path) -> dict[str, Any]:
    name = one_line(str(path))
    try:
        written = json.loads(path.read_text(encoding="ascii"))
    except OSError as error:
        reason = error.strerror or str(error)
        raise StudyError(f"{name}: cannot be read: {one_line(reason)}; name the folder") from error
    except ValueError as error:
        raise StudyError(f"{name}: not a reference sheet; write it again with -o") from error
    if not isinstance(written, dict):
        raise StudyError(f"{name}: not a reference sheet; write it again with -o")
    return written


def check_text(check: SheetCheck) -> str:
    """Return the check as text for a terminal."""
    count = len(check.values)
    head = (
        f"{check.title}: {count - len(check.moved)} of {count} values hold (written by guideproof "
        f"{check.version}, computed again by {installed_version()})"
    )
    lines = [
        f"  - {v.name}: {v.wanted} was {v.before:.9g} {v.unit}, known to "
        f"{uncertainty_text(v.uncertainty)}, is {v.now:.9g}"
        for v in check.moved
    ]
    return "\n".join([head, *lines])
