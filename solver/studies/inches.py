"""Lengths in inches: every key that ends in ``_mm`` may be written with ``_in`` instead."""

from __future__ import annotations

import re
from collections.abc import Collection, Iterator, Mapping
from contextlib import contextmanager
from contextvars import ContextVar
from typing import Any

from pydantic_core import PydanticCustomError

from geometries.shapes.guides import MILLIMETRES_PER_INCH

_INCHES, _MILLIMETRES = "_in", "_mm"
#: Sides of a guide, of which one at least has its inches behind it.
_SIZE = re.compile(r"[\d.][\d. x×X*]*(in|\")[\d. x×X*]*(in|\")? *", re.IGNORECASE)
_told_in_inches: ContextVar[bool] = ContextVar("told_in_inches", default=False)


@contextmanager
def told_in_inches(wanted: bool) -> Iterator[None]:
    """Let lengths be written in inches within, for users who write them so themselves.

    Parameters
    ----------
    wanted : bool
        Whether they do; else lengths stay in mm.
    """
    before = _told_in_inches.set(wanted)
    try:
        yield
    finally:
        _told_in_inches.reset(before)


def length_unit() -> str:
    """Return the unit in which lengths are told: ``"mm"`` or ``"in"``."""
    return "in" if _told_in_inches.get() else "mm"


def unit_name() -> str:
    """Return the same as a sentence says it: ``"mm"`` or ``"inches"``."""
    return "inches" if _told_in_inches.get() else "mm"


def in_length_unit(lengths: Any) -> Any:
    """Return lengths [m], a number or an array, in the unit in which they are told."""
    return lengths * 1e3 / (MILLIMETRES_PER_INCH if _told_in_inches.get() else 1.0)


def length_number(length: float, digits: int | None = None) -> str:
    """Return a length [m] as a number in the unit in which lengths are told.

    By default 6 digits in mm, 5 in inches.
    """
    if _told_in_inches.get():
        return f"{float(f'{in_length_unit(length):.12g}'):.{digits or 5}g}"
    return f"{length * 1e3:.{digits or 6}g}"


def length_text(length: float, digits: int | None = None) -> str:
    """Return the same with its unit.

    Examples
    --------
    >>> length_text(0.0381)
    '38.1 mm'
    >>> with told_in_inches(True):
    ...     length_text(0.0381)
    '1.5 in'
    """
    return f"{length_number(length, digits)} {length_unit()}"


def guide_text(guide: Any, *, sized: bool = False) -> str:
    """Return a guide's standard name, or its inside dimensions in the unit of lengths.

    Parameters
    ----------
    guide : RectangularGuide or CircularGuide
    sized : bool
        Whether the dimensions stand behind a name too.

    Examples
    --------
    >>> from geometries.shapes.guides import standard_guide
    >>> guide_text(standard_guide("WR-90"), sized=True)
    'WR-90 (22.86 by 10.16 mm)'
    """
    if guide.name and not sized:
        return str(guide.name)
    if hasattr(guide, "diameter"):
        size = f"diameter {length_text(guide.diameter)}"
    else:
        size = f"{length_number(guide.broad_width)} by {length_text(guide.narrow_height)}"
    return f"{guide.name} ({size})" if guide.name else size


def twin_in_mm(key: str) -> str:
    """Return the key in millimetres of one in inches, ``"gap_in"`` to ``"gap_mm"``.

    Any other key comes back as it is.
    """
    if key.endswith(_INCHES):
        return key.removesuffix(_INCHES) + _MILLIMETRES
    return key


def millimetres(inches: float) -> float:
    """Return a length in inches in mm, without the round-off of the conversion.

    Examples
    --------
    >>> millimetres(0.9)
    22.86
    """
    return float(f"{inches * MILLIMETRES_PER_INCH:.12g}")


def in_unit_told(key: str, value: float) -> float:
    """Return the value of a key in the unit in which lengths are told.

    Any key that is no length keeps its value.
    """
    if not key.endswith((_INCHES, _MILLIMETRES)):
        return value
    length = (millimetres(value) if key.endswith(_INCHES) else value) / 1e3
    return float(f"{in_length_unit(length):.9g}")


def table_in_mm(table: Mapping[str, Any], known: Collection[str]) -> dict[str, Any]:
    """Return a table of a study with its lengths in inches as millimetres.

    Parameters
    ----------
    table : mapping
        As the file gives it.
    known : collection of str
        Keys that the table may have.

    Returns
    -------
    dict

    Raises
    ------
    PydanticCustomError
        When a length is given in both units.
    """
    found = dict(table)
    for key in table:
        twin = twin_in_mm(key)
        if key in known or twin not in known:
            continue
        if twin in table:
            raise PydanticCustomError("both_units", "both units", {"key": key, "twin": twin})
        value = found.pop(key)
        number = isinstance(value, int | float) and not isinstance(value, bool)
        found[twin] = millimetres(value) if number else value
    return found


def as_written(tables: Mapping[str, Any], key: str, shown: object) -> tuple[str, object]:
    """Return a key path and its value as the file writes them, in inches if it does.

    Parameters
    ----------
    tables : mapping
        What the file holds.
    key : str
        Path of a key, as ``"component.gap_mm"``.
    shown : object
        Its value in mm.

    Returns
    -------
    str, object
    """
    if not key.endswith(_MILLIMETRES):
        return key, shown
    table: Any = tables
    *parents, name = re.split(r"\.", key)
    for parent in parents:
        table = table.get(parent) if isinstance(table, Mapping) else None
    own = name.removesuffix(_MILLIMETRES) + _INCHES
    if isinstance(table, Mapping) and own in table and name not in table:
        return ".".join([*parents, own]), table[own]
    return key, shown


def uses_inches(tables: Any) -> bool:
    """Return whether a study, or a key of it, gives a length in inches."""
    if isinstance(tables, Mapping):
        return any(
            key.endswith(_INCHES) or size_in_inches(value) or uses_inches(value)
            for key, value in tables.items()
        )
    if isinstance(tables, list):
        return any(uses_inches(item) for item in tables)
    return False


def size_in_inches(value: Any) -> bool:
    """Return whether a value is a guide's size in inches, as ``"0.9x0.4in"``."""
    return isinstance(value, str) and _SIZE.fullmatch(value.strip()) is not None
