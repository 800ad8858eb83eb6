"""Runs with other values of their keys: which keys there are, and what tells two runs apart."""

from __future__ import annotations

import hashlib
import json
import math
import re
from collections.abc import Mapping
from typing import Any

from solver.errors import StudyError
from solver.searches.part_curves import RECORD
from solver.searches.varied_keys import component_numbers, guide_numbers, wall_numbers
from solver.studies.messages import one_line
from solver.studies.plain_values import described_component, described_guide, file_content, plain
from solver.studies.run_study import MeasuredPart, RunPart, RunStudy
from solver.version import installed_version


def is_run(tables: Mapping[str, Any]) -> bool:
    """Whether tables are those of a run file, which lists parts."""
    return "part" in tables


def run_keys(tables: Mapping[str, Any]) -> tuple[str, ...]:
    """Return the paths of the keys that can be varied in a run file's tables.

    Parts count from 1, as in every answer: ``part.2.length_mm``.

    Parameters
    ----------
    tables : mapping
    """
    keys: list[str] = []
    parts = tables.get("part")
    for number, part in enumerate(parts if isinstance(parts, list) else [], start=1):
        if isinstance(part, Mapping):
            keys += component_numbers(part, f"part.{number}")
            keys += guide_numbers(f"part.{number}.guide", part.get("guide"))
    keys += guide_numbers("guide", tables.get("guide"))
    if isinstance(tables.get("end"), Mapping):
        keys.append("end.vswr")
    return tuple(keys + wall_numbers(tables))


def numbered_key(tables: Mapping[str, Any], key: str) -> str:
    """Return the path of a key with the number of its part where it gives the part's name.

    Parameters
    ----------
    tables : mapping
        Of a run file.
    key : str
        ``part.NAME.KEY`` or ``part.NUMBER.KEY``; other keys stay as they are.

    Raises
    ------
    StudyError
        If no part has the name, or several might be meant.

    Examples
    --------
    >>> numbered_key({"part": [{"kind": "straight"}, {"name": "riser"}]}, "part.riser.length_mm")
    'part.2.length_mm'
    """
    found = re.fullmatch(r"part\.(.+?)\.((?:to_guide\.|guide\.)?\w+)", key)
    if found is None:
        return key
    asked, own = found.groups()
    names = [_name(part) for part in tables["part"]]
    numbers = {n for n, name in enumerate(names, start=1) if name == asked}
    if asked.isdigit() and 1 <= int(asked) <= len(names):
        numbers.add(int(asked))
    if len(numbers) != 1:
        told = ", ".join(f"{n} {name}".rstrip() for n, name in enumerate(names, start=1))
        fault = "several parts may be meant" if numbers else "no part of the run"
        raise StudyError(f"{one_line(key)}: {fault}; give its number or name, of: {one_line(told)}")
    return f"part.{numbers.pop()}.{own}"


def _name(part: Any) -> str:
    return str(part.get("name", "")) if isinstance(part, Mapping) else ""


def run_fingerprint(study: RunStudy) -> str:
    """Return a short text that differs between any two runs with different curves."""
    told = {
        "version": installed_version(),
        "record": RECORD,
        "run": [_described(part) for part in study.parts],
        "frequency_hz": study.band.frequencies,
        "s_error": study.s_error,
        "conductivity": study.walls.conductivity if study.walls is not None else None,
        "end_vswr": study.end_vswr,
    }
    text = json.dumps(plain(told), sort_keys=True)
    return hashlib.sha256(text.encode("ascii")).hexdigest()[:32]


def _described(part: RunPart) -> dict[str, Any]:
    """All of a part that a curve depends on, so not its name."""
    own: Any = part.component
    place: dict[str, Any] = {"turn_deg": math.degrees(part.turn), "backwards": part.backwards}
    place["guide"] = described_guide(own.guide)
    if (content := file_content(own)) is not None:
        place["content"] = content
    if isinstance(own, MeasuredPart):
        return place | {"kind": own.kind, "file": str(own.file)}
    return place | {"component": described_component(own)}


def run_in_words(study: RunStudy) -> str:
    """Return what a run is made of, part by part, with the numbers that its keys have."""
    names = [
        part.name if part.name == f"{n} {part.component.kind}" else f"{n} {part.name}"
        for n, part in enumerate(study.parts, start=1)
    ]
    return f"run of {len(names)} parts from {study.parts[0].guides[0].label}: {', '.join(names)}"
