"""Guides and parts as plain values, by the keys and units of a study file."""

from __future__ import annotations

import dataclasses
import math
from collections.abc import Mapping
from pathlib import Path
from typing import Any

import numpy as np

from geometries.shapes.guides import CircularGuide, RectangularGuide


def in_millimetres(length: float) -> float:
    """Return a length [m] in mm, without the round-off of the conversion."""
    return float(f"{length * 1e3:.12g}")


def described_guide(guide: RectangularGuide | CircularGuide) -> dict[str, Any]:
    """Return a guide by the keys of a study file, and its name."""
    named = {"name": guide.name} if guide.name else {}
    if isinstance(guide, CircularGuide):
        return named | {"diameter_mm": in_millimetres(guide.diameter)}
    return named | {
        "width_mm": in_millimetres(guide.broad_width),
        "height_mm": in_millimetres(guide.narrow_height),
    }


def described_component(component: Any) -> dict[str, Any]:
    """Return a component's kind and dimensions by the keys of a study file."""
    described: dict[str, Any] = {"kind": component.kind}
    for item in dataclasses.fields(component):
        value = getattr(component, item.name)
        if item.name == "guide":
            continue
        if isinstance(value, RectangularGuide | CircularGuide):
            described[item.name] = described_guide(value)
        elif item.name in ("angle", "turn"):
            described[f"{item.name}_deg"] = float(f"{math.degrees(value):.12g}")
        elif isinstance(value, float) and not item.name.endswith("permittivity"):
            described[f"{item.name}_mm"] = in_millimetres(value)
        else:
            described[item.name] = (
                value if isinstance(value, str | bool | int | float) else str(value)
            )
    return described


def plain(value: Any) -> Any:
    """Return nested values with arrays as lists and numbers that are not finite as None."""
    if isinstance(value, Mapping):
        return {str(key): plain(item) for key, item in value.items()}
    if isinstance(value, np.ndarray):
        return plain(value.tolist())
    if isinstance(value, list | tuple):
        return [plain(item) for item in value]
    if isinstance(value, np.generic):
        value = value.item()
    if isinstance(value, float):
        return value if math.isfinite(value) else None
    if value is None or isinstance(value, bool | int | str):
        return value
    if isinstance(value, Path):
        return str(value)
    raise TypeError(f"a {type(value).__name__} has no place in a result file")
