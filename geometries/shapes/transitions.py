"""Transitions from a rectangular to a circular guide on the same straight axis."""

from __future__ import annotations

import math
from dataclasses import dataclass, field
from typing import ClassVar

from geometries.shapes.guides import CircularGuide, RectangularGuide, positive_length
from geometries.shapes.part import BOTH_MIRRORS, Mirror, Part
from geometries.shapes.units import GUIDE, LENGTH


@dataclass(frozen=True)
class Transition(Part):
    """A ruled loft from a rectangle to a circle.

    Straight generators join the rectangle to the circle. The point at the fraction eta in [-1, 1]
    along a side goes to the circle's angle, counted from the broad wall's direction: phi_c eta on
    the narrow sides, 90 degrees - (90 degrees - phi_c) eta on the broad sides, and the same turned
    by 180 degrees on the opposite ones; phi_c = atan(b/a), so that the rectangle's corners go to
    the points of the circle in their own direction.

    Parameters
    ----------
    guide : RectangularGuide
    to_diameter : float
        Diameter of the circular guide [m].
    length : float
        Length of the axis [m].

    Raises
    ------
    InvalidDimensionError
    """

    kind: ClassVar[str] = "transition"

    guide: RectangularGuide = field(metadata=GUIDE)
    to_diameter: float = field(metadata=LENGTH)
    length: float = field(metadata=LENGTH)

    def __post_init__(self) -> None:
        for quantity in ("to_diameter", "length"):
            object.__setattr__(self, quantity, positive_length(quantity, getattr(self, quantity)))

    @property
    def guides(self) -> tuple[RectangularGuide, CircularGuide]:
        """Guide at each port."""
        return self.guide, self.to_guide

    @property
    def exact_plane(self) -> None:
        """None: its field varies in all three directions."""
        return None

    @property
    def axis_length(self) -> float:
        """Length of the axis [m]."""
        return self.length

    @property
    def mirrors(self) -> frozenset[Mirror]:
        """Both: its two guides share their middle planes."""
        return BOTH_MIRRORS

    @property
    def has_sharp_edges(self) -> bool:
        """False: its walls are smooth."""
        return False

    @property
    def to_guide(self) -> CircularGuide:
        """The circular guide."""
        return CircularGuide(self.to_diameter)

    @property
    def corner_angle(self) -> float:
        """Angle phi_c of the circle's point to which a corner goes [rad]."""
        return math.atan2(self.guide.narrow_height, self.guide.broad_width)
