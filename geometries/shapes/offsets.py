"""Offsets: two flanges joined out of line."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import ClassVar

from geometries.errors import InvalidDimensionError
from geometries.shapes.bends import Plane
from geometries.shapes.guides import RectangularGuide

_LARGEST_TURN = math.pi / 2


@dataclass(frozen=True)
class Offset:
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

    guide: RectangularGuide
    shift_x: float = 0.0
    shift_y: float = 0.0
    turn: float = 0.0

    def __post_init__(self) -> None:
        if not abs(self.turn) <= _LARGEST_TURN * (1 + 1e-12):
            raise InvalidDimensionError(
                "turn", self.turn, "from -90 to 90 degrees (-1.5708 to 1.5708 rad)"
            )
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
