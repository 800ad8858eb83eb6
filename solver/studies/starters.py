"""A starter study of each kind of part: every key it may have, with what the key means.

Keys, choices and defaults are read from the tables that check a study; what a key of the component
means is read from the part's own description. Only the numbers to start from stand here.
"""

from __future__ import annotations

import difflib
import inspect
import re
import textwrap
from collections.abc import Iterator
from typing import Any, Literal, get_args, get_origin, get_type_hints

from pydantic.fields import FieldInfo
from pydantic_core import PydanticUndefined

from geometries.shapes.guides import CircularGuide
from solver.errors import StudyError
from solver.studies.component_keys import KNOWN_KINDS, ComponentTable
from solver.studies.kind_keys import ComponentKeys
from solver.studies.messages import kinds_text
from solver.studies.run_keys import RUN_START
from solver.studies.study_keys import StudyKeys
from solver.studies.tables import Table

#: Text before a comment behind a key, and the width of the whole.
_COLUMN, _WIDTH = 32, 96
#: Values of the component's keys to start from; a key that is left out stays a comment.
STARTS: dict[str, dict[str, Any]] = {
    "straight": {"length_mm": 50.0},
    "bend": {"plane": "E", "angle_deg": 90.0, "mean_radius_mm": 30.0},
    "corner": {"plane": "E", "angle_deg": 90.0, "cut_mm": 8.0},
    "twist": {"angle_deg": 90.0, "length_mm": 60.0},
    "taper": {"to_guide": "WR-75", "length_mm": 50.0},
    "transition": {"to_diameter_mm": 24.0, "length_mm": 50.0},
    "offset": {"shift_x_mm": 0.2, "shift_y_mm": 0.2},
    "dent": {"wall": "broad", "depth_mm": 1.0, "length_mm": 12.0, "width_mm": 8.0},
    "rotating-joint": {
        "mode": "TM01",
        "gap_mm": 0.5,
        "rim_radius_mm": 34.0,
        "groove_inner_radius_mm": 17.0,
        "groove_outer_radius_mm": 20.0,
        "groove_depth_mm": 7.5,
    },
    "choke-flange": {
        "gap_mm": 0.2,
        "rim_radius_mm": 25.0,
        "groove_inner_radius_mm": 14.0,
        "groove_outer_radius_mm": 16.0,
        "groove_depth_mm": 8.2,
    },
    "mesh": {"file": "part.msh", "units": "mm", "ports": ["port1", "port2"]},
    "flexible": {"pitch_mm": 4.0, "convolution_depth_mm": 0.5, "count": 6},
    "horn": {"aperture_width_mm": 40.0, "aperture_height_mm": 30.0, "length_mm": 30.0},
    "load": {
        "plane": "H",
        "position": "wall",
        "taper_length_mm": 120.0,
        "base_length_mm": 30.0,
        "permittivity": 3.0,
        "loss_tangent": 0.4,
    },
}
#: Values of the other tables where the usual ones take minutes, or do not suit the part.
_CHANGED: dict[str, dict[str, Any]] = {
    "taper": {"from_ghz": 10.0},
    "offset": {"s_error": 1e-3},
    "transition": {"from_ghz": 9.0, "s_error": 1e-2, "vswr": 1.2},
    "choke-flange": {"s_error": 1e-2},
    "horn": {"from_ghz": 9.0, "to_ghz": 10.0, "s_error": 4e-2, "vswr": 1.5},
    "rotating-joint": {"from_ghz": 9.3, "to_ghz": 10.7, "vswr": 1.2},
}
#: Kinds on either guide: the values of both tables above where the guide is circular.
_ON_CIRCULAR: dict[str, tuple[dict[str, Any], dict[str, Any]]] = {
    "horn": (
        {"aperture_diameter_mm": 60.0, "length_mm": 50.0},
        {"from_ghz": 9.0, "to_ghz": 10.0, "s_error": 1e-3, "vswr": 1.5},
    ),
}
#: Kinds that can leak.
_LEAKING = ("choke-flange", "rotating-joint")
#: Tables of the study but for the component: what each key means, and a value where it is active.
_ABOUT: dict[str, dict[str, tuple[str, Any]]] = {
    "band": {
        "from_ghz": ("above the cutoff of the guide", 8.2),
        "to_ghz": ("", 12.4),
        "points": ("evenly spaced; the verdict also knows what lies between them", None),
        "frequencies_ghz": ("instead of the three keys above", None),
    },
    "limit": {
        "vswr": ("largest", 1.1),
        "return_loss_db": ("smallest", None),
        "leakage_db": ("largest leaked power over incident power", None),
    },
    "accuracy": {"s_error": ("largest error allowed of any S-parameter", 1e-4)},
    "walls": {"conductivity_s_per_m": ("copper; without this table the walls are lossless", None)},
    "cooling": {
        "input_power_w": ("what enters the load", None),
        "fin_area_cm2": ("all that gives heat to the air", None),
        "convection_w_per_m2_k": ("still air about 5 to 10, a fan 25 to 100", None),
        "air_celsius": ("", None),
    },
}
_EXAMPLES = {
    "points": 201,
    "frequencies_ghz": [9.0, 10.0],
    "return_loss_db": 26.0,
    "leakage_db": -60.0,
    "conductivity_s_per_m": 5.8e7,
    "input_power_w": 100.0,
    "fin_area_cm2": 400.0,
    "convection_w_per_m2_k": 10.0,
    "air_celsius": 25.0,
    "walls": "rest",
    "material": "steel-epoxy-10ghz",
}
_SIZES = 'a standard size, "22.86x10.16" in mm, or {width_mm = 22.86, height_mm = 10.16}'
#: A run of parts to start from; it is no kind.
RUN = "run"


def starter_study(kind: str, circular: bool = False) -> str:
    """Return a study of one kind of part, with a comment on every key, ready to be changed.

    Parameters
    ----------
    kind : str
        Of a part; or `RUN` for a run of parts.
    circular : bool
        Whether a part that sits on either guide is to have a circular one.

    Returns
    -------
    str
        A study file that can be read as it is.

    Raises
    ------
    StudyError
        For a kind that is not known, or one that the guide's shape cannot be chosen for.
    """
    if circular and kind not in _ON_CIRCULAR:
        chosen = ", ".join(_ON_CIRCULAR)
        raise StudyError(f"{kind}: its guide is not chosen by --circular, which is for: {chosen}")
    if kind == RUN:
        return RUN_START
    if kind not in KNOWN_KINDS:
        near = difflib.get_close_matches(kind, KNOWN_KINDS, n=2)
        meant = f"did you mean {' or '.join(near)}? " if near else ""
        raise StudyError(f"{kind}: no such kind; {meant}{kinds_text(kind, KNOWN_KINDS)}")
    table = _tables_of_kinds()[kind]
    start, changed = STARTS[kind], _CHANGED.get(kind, {})
    if circular:
        start, changed = _ON_CIRCULAR[kind]
    circular = circular or table.takes is CircularGuide
    lines = [
        *_commented(f"{_first_line(table)} Change the numbers, then: guideproof assess FILE"),
        *_inches_line(start),
        f'title = "{kind}, to start from"',
        "guide = {diameter_mm = 27.0}" if circular else _beside('guide = "WR-90"', _SIZES),
        "",
        *_component_lines(kind, table, start),
    ]
    for name, field in StudyKeys.model_fields.items():
        if name not in ("title", "guide", "component") and (name != "cooling" or kind == "load"):
            lines += _table_lines(name, kind, field, start, changed)
    return "\n".join(line.rstrip() for line in lines) + "\n"


def _inches_line(start: dict[str, Any]) -> list[str]:
    """How the kind's first length is written in inches."""
    lengths = [key for key in start if key.endswith("_mm")]
    inches = [f"{start[key] / 25.4:.3g}" for key in lengths[:1]]
    return [
        f"# Every length in _mm may be written in inches: {key.removesuffix('mm')}in = {value}."
        for key, value in zip(lengths, inches, strict=False)
    ]


def _tables_of_kinds() -> dict[str, type[ComponentKeys]]:
    return dict(zip(KNOWN_KINDS, get_args(get_args(ComponentTable)[0]), strict=True))


def _first_line(table: type) -> str:
    return (inspect.getdoc(table) or "").partition("\n")[0]


def _component_lines(kind: str, table: type[ComponentKeys], start: dict[str, Any]) -> Iterator[str]:
    """The component's keys: those to start from, then the others as comments."""
    built = get_type_hints(table.build)["return"]
    about: dict[str, str] = {}
    for part in get_args(built) or (built,):
        about |= _described(part)
    yield "[component]"
    yield f'kind = "{kind}"'
    fields = {name: field for name, field in table.model_fields.items() if name != "kind"}
    missing = [name for name, f in fields.items() if f.is_required() and name not in start]
    if missing:
        raise StudyError(f"{kind}: the starter study has no value for {', '.join(missing)}")
    before = ""
    for name, field in fields.items():
        text = about.get(re.sub("_(mm|deg)$", "", name), "")
        choices = _choices(field.annotation)
        if choices and not all(choice.strip('"') in text for choice in choices):
            text = f"{text} One of: {', '.join(choices)}.".lstrip()
        yield from _commented(text if text != before else "")
        before = text
        if name in start:
            yield f"{name} = {_toml(start[name])}"
        else:
            yield f"# {name} = {_toml(_EXAMPLES.get(name, field.default))}"


def _table_lines(
    name: str, kind: str, field: FieldInfo, start: dict[str, Any], changed: dict[str, Any]
) -> Iterator[str]:
    """A table of the study; one of which nothing is active is a comment as a whole."""
    table = next((t for t in (field.annotation, *get_args(field.annotation)) if _is_table(t)), None)
    if table is None:
        yield from _tolerance_lines(start) if name == "tolerance" else ()
        return
    about = _ABOUT.get(name, {})
    active = any(value is not None for _, value in about.values())
    yield ""
    yield _beside(f"[{name}]" if active else f"# [{name}]", _first_line(table).rstrip("."))
    for key, declared in table.model_fields.items():
        if key == "leakage_db" and kind not in _LEAKING:
            continue
        text, value = about.get(key, ("", None))
        value = changed.get(key, value)
        default = None if declared.default is PydanticUndefined else declared.default
        shown = value if value is not None else _EXAMPLES.get(key, default)
        yield _beside(f"{'' if value is not None else '# '}{key} = {_toml(shown)}", text)


def _tolerance_lines(start: dict[str, Any]) -> Iterator[str]:
    """The table of tolerances, whose keys are the component's own."""
    numbers = [key for key, value in start.items() if isinstance(value, float)]
    if numbers:
        yield ""
        yield _beside("# [tolerance]", "How far each key of the component may be off, either way")
        yield f"# {numbers[-1]} = 0.05"


def _is_table(annotation: Any) -> bool:
    return isinstance(annotation, type) and issubclass(annotation, Table)


def _choices(annotation: Any) -> list[str]:
    """Values of a key that has only a few."""
    for each in (annotation, *get_args(annotation)):
        if get_origin(each) is Literal:
            return [_toml(value) for value in get_args(each)]
    return []


def _described(part: type) -> dict[str, str]:
    """What each field of a part means, by name, from the part's own description."""
    text = (inspect.getdoc(part) or "").partition("Parameters\n---")[2]
    text = re.split(r"\n\n\w+\n---", text)[0]
    found: dict[str, str] = {}
    for names, meaning in re.findall(r"^(\w[\w, ]*) : .*\n((?: {4}.*\n?)*)", text, re.MULTILINE):
        plain = " ".join(meaning.split()).replace("`", "")
        plain = re.sub(r" *\[(m|rad|-)\]|[;,]? see geometries[\w.]*\w", "", plain).lstrip("; ")
        plain = plain[:1].upper() + plain[1:]
        found |= dict.fromkeys(names.split(", "), plain)
    return found


def _commented(text: str) -> list[str]:
    return [f"# {line}" for line in textwrap.wrap(text, _WIDTH - 2)]


def _beside(line: str, comment: str) -> str:
    return f"{line:<{_COLUMN - 1}} # {comment}" if comment else line


def _toml(value: Any) -> str:
    """A value as a study file writes it."""
    if isinstance(value, str):
        return f'"{value}"'
    if isinstance(value, bool):
        return str(value).lower()
    if isinstance(value, list | tuple):
        return f"[{', '.join(_toml(item) for item in value)}]"
    if value is None or value is PydanticUndefined:
        return "..."
    if isinstance(value, float) and not 1e-3 <= abs(value) < 1e6 and value:
        digits, power = f"{value:e}".split("e")
        return f"{float(digits):g}e{int(power)}"
    return f"{value}"
