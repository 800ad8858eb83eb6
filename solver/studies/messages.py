"""One line for each way in which a study file can be wrong."""

from __future__ import annotations

import difflib
import re
from collections.abc import Mapping, Sequence
from typing import Any

from pydantic import ValidationError

from solver.studies.inches import as_written, twin_in_mm

_LONGEST_VALUE = 60

#: Stands for a value that the file does not give.
MISSING: Any = type("Missing", (), {})()
#: Stands for a table that is refused as a whole, none of its keys more than another.
WHOLE_TABLE: Any = type("WholeTable", (), {})()

#: Keys whose value is one of several tables, told apart by its kind.
CHOICES = ("guide", "component", "to_guide")

#: Texts by pydantic's error type; braces take the error's own context.
TEXTS = {
    "missing": "add it",
    "float_type": "must be a number, without quotes",
    "int_type": "must be a whole number, without quotes",
    "int_from_float": "must be a whole number",
    "string_type": "must be text in quotes",
    "list_type": "must be a list in square brackets",
    "model_type": "must be a table of keys",
    "model_attributes_type": "must be a table of keys",
    "dict_type": "must be a table of keys",
    "finite_number": "must be a finite number",
    "greater_than": "must be above {gt:g}",
    "greater_than_equal": "must be at least {ge:g}",
    "less_than": "must be below {lt:g}",
    "less_than_equal": "must be at most {le:g}",
    "literal_error": "must be {expected}",
    "string_too_long": "must be at most {max_length} characters; shorten it",
    "string_too_short": "must not be empty",
    "too_short": "must not be empty",
    "too_long": "must have at most {max_length} entries; use fewer",
    "value_error": "{error}",
    "union_tag_not_found": "must be a size in quotes, {{width_mm, height_mm}} or {{diameter_mm}}",
    "both_units": "{twin} says the same in millimetres; give one of the two",
    "by_material": "material says it already; give one of the two",
    "unknown_kind": "{known}",
}


#: Kinds by other names of the trade (common practice, no source).
_OTHER_NAMES = {
    "elbow": 'a "bend" (swept) or a "corner" (with a cut)',
    "mitre": 'a "corner"',
    "miter": 'a "corner"',
    "termination": 'a "load"',
    "dummy-load": 'a "load"',
    "adapter": 'a "transition" or a "taper"',
    "step": 'a "taper"',
    "antenna": 'a "horn"',
    "rotary-joint": 'a "rotating-joint"',
    "choke": 'a "choke-flange"',
    "flange": 'a "choke-flange", or an "offset" of two plain ones',
    "flex": 'a "flexible"',
    "waveguide": 'a "straight"',
}


def kinds_text(kind: object, known: Sequence[str]) -> str:
    """Say what another name of a part is here, and which kinds there are.

    Examples
    --------
    >>> kinds_text("elbow", ("straight", "bend"))
    'here that is a "bend" (swept) or a "corner" (with a cut); must be one of: straight, bend'
    """
    plain = re.sub("[ _]", "-", str(kind).strip().lower())
    meant = f"here that is {_OTHER_NAMES[plain]}; " if plain in _OTHER_NAMES else ""
    return f"{meant}must be one of: {', '.join(known)}"


def one_line(text: str) -> str:
    r"""Return the text with every character that could break a line or a terminal escaped.

    Examples
    --------
    >>> one_line("a\nb")
    'a\\nb'
    """
    return "".join(
        c if c.isprintable() else c.encode("unicode_escape", "surrogatepass").decode("ascii")
        for c in text
    )


def shown_value(value: object) -> str:
    """Return a value from a study file as one short line, much as the file writes it."""
    if isinstance(value, Mapping):
        return "a table"
    if isinstance(value, list):
        return "a list" if value else "[]"
    if isinstance(value, bool):
        return str(value).lower()
    if isinstance(value, int) and abs(value) >= 10**_LONGEST_VALUE:
        return "a whole number with too many digits"
    text = f'"{value}"' if isinstance(value, str) else f"{value}"
    text = one_line(text)
    return text if len(text) <= _LONGEST_VALUE else text[: _LONGEST_VALUE - 3] + "..."


def first_problem(
    error: ValidationError,
    tables: Mapping[str, Any] | None = None,
    homes: Mapping[str, str] | None = None,
) -> str:
    """Return the most telling of pydantic's errors as ``key = value: limit``.

    Parameters
    ----------
    error : ValidationError
    tables : mapping, optional
        What the file holds, for keys that it gives in inches.
    homes : mapping of str to str, optional
        Table in which each key of the file stands; empty for those above all tables.
    """
    problems = error.errors(include_url=False)
    # A misspelt key gives two errors; the unknown key says more than the missing one.
    problems.sort(key=lambda problem: problem["type"] != "unknown_key")
    first = problems[0]
    context = first.get("ctx", {})
    if first["type"] == "unknown_key":
        home = (homes or {}).get(twin_in_mm(context["key"]))
        # of the very table that refuses it, the key belongs to another kind
        here = home == (first["loc"][0] if first["loc"] else "")
        context = {**context, "home": None if here else home}
    line = _describe(first["type"], first["loc"], first["input"], context, tables or {})
    more = len(problems) - 1
    return f"{line} (and {more} more)" if more else line


def _describe(
    kind: str,
    location: Sequence[str | int],
    value: object,
    context: Mapping[str, Any],
    tables: Mapping[str, Any],
) -> str:
    """Key path, value and text of one of pydantic's errors."""
    # pydantic names the chosen kind of guide or component in the path; the file does not.
    keys = [part for i, part in enumerate(location) if i == 0 or location[i - 1] not in CHOICES]
    if kind == "unknown_key":
        path = key_path([*keys, context["key"]])
        return refusal(
            path, context["value"], unknown_key(context["key"], context["known"], context["home"])
        )
    if kind == "greater_than_equal" and 0 < context["ge"] < 1e-3 and value <= 0:  # type: ignore[operator]
        # The least size only keeps arithmetic sound; who gives zero is told the plain rule.
        kind, context = "greater_than", {"gt": 0.0}
    text = TEXTS[kind].format(**context)
    if isinstance(value, str):
        text += comma_hint(value)
    if kind == "unknown_kind":
        keys, value = [*keys, "kind"], context["kind"]
    if kind in ("both_units", "by_material"):
        keys, value = [*keys, context["key"]], value[context["key"]]  # type: ignore[index]
    if kind == "missing":
        return refusal(key_path(keys), MISSING, text)
    path, written = as_written(tables, key_path(keys), value)
    if path.endswith("_in") and kind.startswith(("greater_than_", "less_than")):
        text += " mm"
    return refusal(path, written, text)


def refusal(key: str, value: object, text: str) -> str:
    """Return ``key = value: text``, or ``key: missing; text`` where the file gives no value.

    A `WHOLE_TABLE` is not told from what it holds: ``key: text``.
    """
    if value is MISSING:
        return f"{key}: missing; {text}"
    if value is WHOLE_TABLE:
        return f"{key}: {text}"
    return f"{key} = {shown_value(value)}: {text}"


def key_path(location: Sequence[str | int]) -> str:
    """Return a key path as ``component.angle_deg`` or ``band.frequencies_ghz[3]``."""
    path = ""
    for part in location:
        path += f"[{part}]" if isinstance(part, int) else f".{one_line(part)[:_LONGEST_VALUE]}"
    return path.removeprefix(".")


def comma_hint(text: str) -> str:
    """Say how a number with a decimal comma is written; empty for any other text.

    Examples
    --------
    >>> comma_hint("45,5")
    '; write a decimal point: 45.5'
    """
    written = re.fullmatch(r"\s*([-+]?\d+),(\d+)\s*", text)
    return f"; write a decimal point: {written[1]}.{written[2]}" if written else ""


def unknown_key(key: str, known: Sequence[str], home: str | None = None) -> str:
    """Say which key was probably meant, or in which table it stands.

    Parameters
    ----------
    key : str
    known : sequence of str
        Keys that the table may have.
    home : str, optional
        Another table that has this key; empty for those above all tables.
    """
    if home is not None:
        place = f"under [{home}]" if home else "above the first table in brackets"
        return f"unknown key here; it stands {place}; known here: {', '.join(known)}"
    near = difflib.get_close_matches(key, known, n=1, cutoff=0.5)
    hint = f"did you mean {near[0]}?" if near else "remove it;"
    return f"unknown key; {hint} known here: {', '.join(known)}"
