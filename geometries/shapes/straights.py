"""A straight length of guide."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import ClassVar

from geometries.errors import InvalidDimensionError
from geometries.shapes.guides import CircularGuide, RectangularGuide


@dataclass(frozen=True)
class Straight:
    """A straight length of guide, the reference against which every part is read.

    Parameters
    ----------
    guide : RectangularGuide or CircularGuide
    length : float
        Length along the axis [m].

    Raises
    ------
    InvalidDimensionError
        When the length is not a positive finite number.
    """

    kind: ClassVar[str] = "straight"

    guide: RectangularGuide | CircularGuide
    length: float

    def __post_init__(self) -> None:
        if not (math.isfinite(self.length) and self.length > 0):
            raise InvalidDimensionError("length", self.length, "a positive length in metres")
