"""The keys of a study that a grid or a search varies, and the values they take."""

from __future__ import annotations

import copy
import math
import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any, get_args

import numpy as np

from solver.errors import StudyError
from solver.studies.component_keys import ComponentTable
from solver.studies.guide_keys import CircularSection, RectangularSection
from solver.studies.inches import twin_in_mm
from solver.studies.messages import comma_hint, one_line
from solver.studies.study import study_of
from solver.studies.study_keys import WallKeys

#: Values of one key; a finer grid shows nothing that a curve through fewer does not.
MOST_VALUES = 1000
_GRID = "KEY=FROM:TO:COUNT, or KEY=VALUE,VALUE,..."
_SPAN = "KEY=FROM:TO"
#: Of the scrambling of a sample; any number, the same in every run.
_SEED = 40127
#: Tables of the keys that are not the component's.
_TABLE_OF = dict.fromkeys(RectangularSection.model_fields, "guide")
_TABLE_OF |= dict.fromkeys(CircularSection.model_fields, "guide")
_TABLE_OF |= dict.fromkeys(WallKeys.model_fields, "walls")

#: Keys that count something.
_WHOLE = frozenset(
    name
    for table in get_args(get_args(ComponentTable)[0])
    for name, field in table.model_fields.items()
    if field.annotation is int
)


@dataclass(frozen=True)
class Variation:
    """A key and the values that it takes one after the other.

    Parameters
    ----------
    key : str
        Path of the key in the study, as ``"component.mean_radius_mm"``.
    values : tuple of float
        In the unit of the key, in the order given, none twice.
    """

    key: str
    values: tuple[float, ...]


@dataclass(frozen=True)
class Span:
    """A key and the interval in which a search may move it.

    Parameters
    ----------
    key : str
    low, high : float
        In the unit of the key; low < high.
    """

    key: str
    low: float
    high: float


def parse_variation(text: str) -> Variation:
    """Return a key with its values, from ``KEY=FROM:TO:COUNT`` or ``KEY=VALUE,VALUE,...``.

    Raises
    ------
    StudyError
        With one line that says what does not fit.

    Examples
    --------
    >>> parse_variation("component.gap_mm=0.1:0.3:3")
    Variation(key='component.gap_mm', values=(0.1, 0.2, 0.3))
    """
    key, written = _split(text, _GRID)
    if ":" not in written:
        values = tuple(_number(text, part, _GRID) for part in written.split(","))
    else:
        low, high, count = _ends(text, written, 3, _GRID)
        if not (count.is_integer() and 2 <= count <= MOST_VALUES):
            raise StudyError(
                f"{one_line(text)}: COUNT is {count:g}; it must be whole, 2 to {MOST_VALUES}"
            )
        # Twelve digits: a step of 0.1 gives 0.3, not 0.30000000000000004.
        values = tuple(float(f"{v:.12g}") for v in np.linspace(low, high, int(count)))
    if len(values) > MOST_VALUES:
        raise StudyError(f"{key}: {len(values)} values; give at most {MOST_VALUES}")
    if len(set(values)) < len(values):
        raise StudyError(f"{one_line(text)}: a value stands there twice; list each once")
    return Variation(key, values)


def parse_span(text: str) -> Span:
    """Return a key with its interval, from ``KEY=FROM:TO``.

    Raises
    ------
    StudyError

    Examples
    --------
    >>> parse_span("component.gap_mm=0.1:0.3")
    Span(key='component.gap_mm', low=0.1, high=0.3)
    """
    key, written = _split(text, _SPAN)
    low, high = _ends(text, written, 2, _SPAN)
    if low >= high:
        raise StudyError(f"{one_line(text)}: FROM must be below TO")
    return Span(key, low, high)


def sampled(spans: Sequence[Span], count: int) -> tuple[Variation, ...]:
    """Return values of several keys that together fill their intervals evenly.

    Parameters
    ----------
    spans : sequence of Span
    count : int
        Points. A larger count begins with the points of a smaller one.

    Returns
    -------
    tuple of Variation
        Of `count` values each, to be taken together.

    Notes
    -----
    A Halton sequence, scrambled by the same seed whenever the number of keys is the same.
    """
    from scipy.stats import qmc

    points = qmc.Halton(len(spans), scramble=True, seed=_SEED).random(count)
    return tuple(
        Variation(
            span.key,
            tuple(float(f"{span.low + x * (span.high - span.low):.12g}") for x in column),
        )
        for span, column in zip(spans, points.T, strict=True)
    )


def numeric_keys(tables: Mapping[str, Any]) -> tuple[str, ...]:
    """Return the paths of the keys that can be varied in a study's tables.

    Every length, angle and number of the component, of guides that are written as a table, and
    the conductivity of walls that lose. Frequencies, limits and accuracy are not among them.
    """
    component = tables.get("component")
    keys = component_numbers(component, "component") if isinstance(component, Mapping) else []
    keys += guide_numbers("guide", tables.get("guide"))
    return tuple(keys + wall_numbers(tables))


def component_numbers(component: Mapping[str, Any], path: str) -> list[str]:
    """Return the paths of the keys of one part that hold a number.

    Parameters
    ----------
    component : mapping
        Its table.
    path : str
        Of that table.
    """
    keys: list[str] = []
    for table in get_args(get_args(ComponentTable)[0]):
        if component.get("kind") in get_args(table.model_fields["kind"].annotation):
            keys += [f"{path}.{name}" for name in _numbers(table)]
    return keys + guide_numbers(f"{path}.to_guide", component.get("to_guide"))


def guide_numbers(path: str, guide: Any) -> list[str]:
    """Return the paths of the sizes of a guide that is written as a table; else none."""
    if not isinstance(guide, Mapping):
        return []
    circular = {"diameter_mm", "diameter_in"} & set(guide)
    section = CircularSection if circular else RectangularSection
    return [f"{path}.{name}" for name in _numbers(section)]


def wall_numbers(tables: Mapping[str, Any]) -> list[str]:
    """Return the paths of the numbers of walls that lose; none where there are no such walls."""
    if not isinstance(tables.get("walls"), Mapping):
        return []
    return [f"walls.{name}" for name in _numbers(WallKeys)]


def check_keys(
    tables: Mapping[str, Any],
    path: Path,
    keys: tuple[str, ...],
    known: tuple[str, ...] | None = None,
) -> None:
    """Refuse keys that the study does not have, that hold no number, or that come twice.

    Parameters
    ----------
    tables : mapping
    path : Path
    keys : tuple of str
    known : tuple of str, optional
        Those that can be varied; by default those of the study of a part.

    Raises
    ------
    StudyError
        Naming the keys that can be varied; or what is wrong with the study, if it has no part.
    """
    if known is None:
        known = numeric_keys(tables)
        if not any(key.startswith("component.") for key in known):
            study_of(tables, path)
    for key in keys:
        if twin_in_mm(key) in known:
            continue
        text = f"{one_line(key)}: no key of the study that holds a number"
        parent, _, _ = key.rpartition(".")
        is_guide = parent.rpartition(".")[-1] in ("guide", "to_guide")
        if is_guide and isinstance(_at(tables, parent), str):
            text = f"{one_line(key)}: {parent} is a size there; write it as a table, as "
            text += "{width_mm = 22.86, height_mm = 10.16}"
        raise StudyError(f"{text}; known here: {', '.join(known) or 'none'}")
    if len({twin_in_mm(key) for key in keys}) < len(keys):
        raise StudyError(f"{keys[0]}: given twice; give each key once")


def with_values(tables: Mapping[str, Any], values: Mapping[str, float]) -> dict[str, Any]:
    """Return a copy of a study's tables in which keys, by path, have other values."""
    changed = copy.deepcopy(dict(tables))
    for key, value in values.items():
        *parents, name = key.split(".")
        table: Any = changed
        for parent in parents:
            # parts of a run count from 1
            table = table[int(parent) - 1] if isinstance(table, list) else table[parent]
        for other in [other for other in table if twin_in_mm(other) == twin_in_mm(name)]:
            del table[other]
        table[name] = int(value) if name in _WHOLE and value == int(value) else value
    return changed


def key_in_words(key: str) -> tuple[str, str]:
    """Return what a key stands for, and its unit.

    Examples
    --------
    >>> key_in_words("component.mean_radius_mm"), key_in_words("guide.width_mm")
    (('mean radius', 'mm'), ('guide width', 'mm'))
    """
    words = key.removeprefix("component.").replace(".", "_")
    for ending, unit in (("_mm", "mm"), ("_in", "in"), ("_deg", "deg"), ("_s_per_m", "S/m")):
        if words.endswith(ending):
            return words.removesuffix(ending).replace("_", " "), unit
    return words.replace("_", " "), ""


def values_in_words(values: Mapping[str, float]) -> str:
    """Return values by key as text, ``"gap 0.3 mm, groove depth 8 mm"``."""
    named = ((*key_in_words(key), value) for key, value in values.items())
    return ", ".join(f"{name} {value:.6g} {unit}".rstrip() for name, unit, value in named)


def _numbers(table: Any) -> list[str]:
    return [name for name, field in table.model_fields.items() if field.annotation in (float, int)]


def _at(tables: Mapping[str, Any], path: str) -> Any:
    found: Any = tables
    for name in path.split("."):
        if isinstance(found, list) and name.isdigit() and 1 <= int(name) <= len(found):
            found = found[int(name) - 1]
        else:
            found = found.get(name) if isinstance(found, Mapping) else None
    return found


def _split(text: str, form: str) -> tuple[str, str]:
    key, sign, written = text.rpartition("=")
    if sign and re.fullmatch(r"\w+", key.strip()):
        table = _TABLE_OF.get(key.strip(), "component")
        raise StudyError(
            f"{one_line(text)}: the key needs its table before it: {table}.{one_line(text)}"
        )
    if not (sign and re.fullmatch(r"\w+(\.\w+)+|part\..+\.\w+", key.strip())):
        raise StudyError(f"{one_line(text)}: must read {form}, as component.gap_mm=...")
    return key.strip(), written


def _ends(text: str, written: str, count: int, form: str) -> tuple[float, ...]:
    parts = written.split(":")
    if len(parts) != count:
        raise StudyError(f"{one_line(text)}: must read {form}")
    return tuple(_number(text, part, form) for part in parts)


def _number(text: str, part: str, form: str) -> float:
    try:
        number = float(part)
    except ValueError:
        number = math.nan
    if not math.isfinite(number):
        hint = comma_hint(part)
        raise StudyError(
            f"{one_line(text)}: {one_line(part)!r} is no finite number{hint}; write {form}"
        )
    return number
