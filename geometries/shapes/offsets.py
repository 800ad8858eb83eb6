"""Offsets: two flanges joined out of line."""

from __future__ import annotations

import math
from dataclasses import dataclass, field
from typing import ClassVar

from geometries.errors import InvalidDimensionError
from geometries.shapes.guides import RectangularGuide
from geometries.shapes.part import (
    HALF_TURN,
    NO_MIRRORS,
    Mirror,
    Part,
    Plane,
    mirrors_of_plane,
)
from geometries.shapes.units import ANGLE, GUIDE, LENGTH

_LARGEST_TURN = math.pi / 2


@dataclass(frozen=True)
class Offset(Part):
    """A joint between two lengths of one guide whose axes are parallel but out of line.

    The second guide is turned about its own axis, then shifted, both as seen in the first guide's
    frame; the overlap of the two cross-sections is the opening.

    Parameters
    ----------
    guide : RectangularGuide
    shift_x, shift_y : float
        Shift of the second axis along the first guide's broad and narrow wall [m].
    turn : float
        Turn of the second guide [rad], from -90 to 90 degrees.

    Raises
    ------
    InvalidDimensionError
        Also when the openings do not overlap.
    """

    kind: ClassVar[str] = "offset"

    guide: RectangularGuide = field(metadata=GUIDE)
    shift_x: float = field(default=0.0, metadata=LENGTH)
    shift_y: float = field(default=0.0, metadata=LENGTH)
    turn: float = field(default=0.0, metadata=ANGLE)

    def __post_init__(self) -> None:
        if not abs(self.turn) <= _LARGEST_TURN * (1 + 1e-12):
            raise InvalidDimensionError("turn", self.turn, "from -90 to 90 degrees")
        for quantity in ("shift_x", "shift_y"):
            value = getattr(self, quantity)
            limit = self._extent(quantity)
            if not abs(value) < limit:
                raise InvalidDimensionError(
                    quantity,
                    value,
                    f"less than {limit * 1e3:.4g} mm either way, or the openings do not meet",
                    "shift the guide less",
                )
        if not self._overlap():
            raise InvalidDimensionError(
                "shift_x", self.shift_x, "small enough for the openings to meet", "shift less"
            )

    def _extent(self, quantity: str) -> float:
        """Shift along one wall at which the two openings part [m]."""
        a, b = self.guide.broad_width, self.guide.narrow_height
        cos, sin = abs(math.cos(self.turn)), abs(math.sin(self.turn))
        if quantity == "shift_x":
            return 0.5 * (a + a * cos + b * sin)
        return 0.5 * (b + a * sin + b * cos)

    def _overlap(self) -> bool:
        """Whether the rectangles overlap: neither frame has an axis along which they are apart."""
        cos, sin = math.cos(self.turn), math.sin(self.turn)
        along = cos * self.shift_x + sin * self.shift_y
        up = -sin * self.shift_x + cos * self.shift_y
        return abs(along) < self._extent("shift_x") and abs(up) < self._extent("shift_y")

    @property
    def plane(self) -> Plane | None:
        """Plane of the shift if the joint is uniform across it, and None otherwise."""
        if self.turn or (self.shift_x and self.shift_y):
            return None
        return "E" if self.shift_y else "H"

    @property
    def guides(self) -> tuple[RectangularGuide, RectangularGuide]:
        """Guide at each port."""
        return self.guide, self.guide

    @property
    def exact_plane(self) -> Plane | None:
        """Plane of the shift if the joint is uniform across it, and None otherwise."""
        return self.plane

    @property
    def axis_length(self) -> float:
        """0: both reference planes lie in the joint [m]."""
        return 0.0

    @property
    def has_sharp_edges(self) -> bool:
        """Unless the shift is along the broad wall alone: there the field lies along the edges."""
        return self.plane != "H"

    @property
    def mirrors(self) -> frozenset[Mirror]:
        """The mirror across the plane of the shift; half a turn for a joint that only turns."""
        if self.plane is not None:
            return mirrors_of_plane(self.plane)
        return NO_MIRRORS if self.shift_x or self.shift_y else HALF_TURN
