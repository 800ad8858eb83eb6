"""Guides and parts as plain values, by the keys and units of a study file."""

from __future__ import annotations

import dataclasses
import hashlib
import math
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np

from geometries.shapes.guides import CircularGuide, RectangularGuide
from geometries.shapes.part import known_part
from geometries.shapes.units import ANGLE, GUIDE, LENGTH, goes_unsaid, measure_of
from solver.studies.inches import length_text


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


@dataclass(frozen=True)
class Dimension:
    """A dimension of a part as it is shown.

    Parameters
    ----------
    name : str
        Name of the part's field.
    unit : {"mm", "deg", ""}
        Empty for what has no unit, or has units inside.
    value : float, int, bool, str or dict
        In that unit; a guide is described by the keys of a study file.
    """

    name: str
    unit: str
    value: Any

    @property
    def key(self) -> str:
        """Key of a study file."""
        return f"{self.name}_{self.unit}" if self.unit else self.name

    @property
    def words(self) -> str:
        """The name in words."""
        return self.name.replace("_", " ")

    @property
    def text(self) -> str:
        """The value in words, with its unit."""
        if self.unit == "mm":
            return length_text(self.value / 1e3)
        if self.unit:
            return f"{self.value:.6g} {self.unit}"
        return f"{self.value:.6g}" if isinstance(self.value, float) else str(self.value)


def dimensions_of(component: Any) -> tuple[Dimension, ...]:
    """Return the dimensions of a part but for its own guide, in the units of a study file.

    Raises
    ------
    UnknownPartError
        For an object that is no `Part`.
    UndeclaredUnitError
        If a field of the part does not say its unit.
    """
    known_part(component)
    return tuple(
        _dimension(component, item)
        for item in dataclasses.fields(component)
        if item.name != "guide" and not goes_unsaid(component, item)
    )


def _dimension(component: Any, item: dataclasses.Field[Any]) -> Dimension:
    value, measure = getattr(component, item.name), measure_of(component, item)
    if measure == LENGTH:
        return Dimension(item.name, "mm", in_millimetres(value))
    if measure == ANGLE:
        return Dimension(item.name, "deg", float(f"{math.degrees(value):.12g}"))
    if measure == GUIDE:
        return Dimension(item.name, "", described_guide(value))
    return Dimension(item.name, "", value if isinstance(value, str | int | float) else str(value))


def described_component(component: Any) -> dict[str, Any]:
    """Return a component's kind and dimensions by the keys of a study file."""
    shown = {dimension.key: dimension.value for dimension in dimensions_of(component)}
    return {"kind": component.kind} | shown


def file_content(part: Any) -> str | None:
    """Return what tells a part's file from one of other content; None for a part without a file."""
    file: Path | None = getattr(part, "file", None)
    if file is None or not file.is_file():
        return None
    return hashlib.sha256(file.read_bytes()).hexdigest()


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
