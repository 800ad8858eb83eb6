"""How a study file names or describes a guide."""

from __future__ import annotations

from typing import Annotated, Any

from pydantic import Discriminator, Field, Tag

from geometries.errors import GeometryError
from geometries.shapes.guide_sizes import guide_of
from geometries.shapes.guides import CircularGuide, RectangularGuide
from solver.studies.messages import one_line
from solver.studies.tables import Millimetres, RefusedKeyError, Table

Guide = RectangularGuide | CircularGuide


class RectangularSection(Table):
    """A rectangular guide that the catalogue does not list."""

    width_mm: Millimetres
    height_mm: Millimetres

    def build(self) -> RectangularGuide:
        """Return the guide."""
        if self.height_mm > self.width_mm:
            raise RefusedKeyError(
                "height_mm",
                self.height_mm,
                f"must be at most width_mm ({self.width_mm:g}); width_mm is the broad side",
            )
        return RectangularGuide(self.width_mm / 1000, self.height_mm / 1000)


class CircularSection(Table):
    """A circular guide."""

    diameter_mm: Millimetres

    def build(self) -> CircularGuide:
        """Return the guide."""
        return CircularGuide(self.diameter_mm / 1000)


def _kind_of_guide(value: Any) -> str | None:
    if isinstance(value, str):
        return "size"
    if isinstance(value, dict):
        return "circular" if {"diameter_mm", "diameter_in"} & set(value) else "rectangular"
    return None


GuideEntry = Annotated[
    Annotated[str, Field(min_length=1, max_length=40), Tag("size")]
    | Annotated[RectangularSection, Tag("rectangular")]
    | Annotated[CircularSection, Tag("circular")],
    Discriminator(_kind_of_guide),
]


def build_guide(key: str, entry: str | RectangularSection | CircularSection) -> Guide:
    """Return the guide that an entry names or describes.

    Raises
    ------
    RefusedKeyError
        With the key path of the entry, or of the key below it.
    """
    try:
        return guide_of(entry) if isinstance(entry, str) else entry.build()
    except RefusedKeyError as error:
        raise RefusedKeyError(f"{key}.{error.key}", error.shown, error.text) from error
    except GeometryError as error:
        shown = entry if isinstance(entry, str) else {}
        raise RefusedKeyError(key, shown, one_line(str(error))) from error
