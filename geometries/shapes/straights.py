"""A straight length of guide."""

from __future__ import annotations

import math
from dataclasses import dataclass, field
from typing import ClassVar

from geometries.errors import InvalidDimensionError
from geometries.shapes.guides import CircularGuide, RectangularGuide
from geometries.shapes.part import BOTH_MIRRORS, Guide, Mirror, Part, Plane
from geometries.shapes.units import GUIDE, LENGTH


@dataclass(frozen=True)
class Straight(Part):
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

    guide: RectangularGuide | CircularGuide = field(metadata=GUIDE)
    length: float = field(metadata=LENGTH)

    def __post_init__(self) -> None:
        if not (math.isfinite(self.length) and self.length > 0):
            raise InvalidDimensionError("length", self.length, "a positive length in metres")

    @property
    def guides(self) -> tuple[Guide, Guide]:
        """Guide at each port."""
        return self.guide, self.guide

    @property
    def exact_plane(self) -> Plane | None:
        """Either plane in rectangular guide, of which H is taken; none in circular guide."""
        return "H" if isinstance(self.guide, RectangularGuide) else None

    @property
    def axis_length(self) -> float:
        """Length of the axis [m]."""
        return self.length

    @property
    def mirrors(self) -> frozenset[Mirror]:
        """Both: a guide is its own image in its two middle planes."""
        return BOTH_MIRRORS

    @property
    def has_sharp_edges(self) -> bool:
        """False: its walls are smooth."""
        return False
