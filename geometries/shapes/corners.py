"""Corners: the guide's axis turns at a point, with or without a flat cut outside."""

from __future__ import annotations

import math
from dataclasses import dataclass, field
from typing import ClassVar

from geometries.errors import InvalidDimensionError
from geometries.shapes.bends import check_plane_and_angle, width_in_plane
from geometries.shapes.guides import RectangularGuide
from geometries.shapes.part import Mirror, Part, Plane, mirrors_of_plane
from geometries.shapes.units import ANGLE, GUIDE, LENGTH, NAME

_LARGEST_CORNER = math.radians(170.0)


@dataclass(frozen=True)
class Corner(Part):
    """A corner between two straight arms, square or with one symmetric flat cut.

    Parameters
    ----------
    guide : RectangularGuide
    plane : {"E", "H"}
        Plane in which the axis turns.
    angle : float
        Angle through which the axis turns [rad], from 1 to 170 degrees.
    cut : float
        Length along each outer wall that the flat cut takes away, measured from the
        point where the outer walls would meet [m]; 0 leaves the corner square.

    Raises
    ------
    InvalidDimensionError
        Also when the cut would reach the inner edge and close the guide.
    """

    kind: ClassVar[str] = "corner"

    guide: RectangularGuide = field(metadata=GUIDE)
    plane: Plane = field(metadata=NAME)
    angle: float = field(metadata=ANGLE)
    cut: float = field(default=0.0, metadata=LENGTH)

    def __post_init__(self) -> None:
        check_plane_and_angle(self.plane, self.angle, _LARGEST_CORNER)
        if not (math.isfinite(self.cut) and 0.0 <= self.cut < self.largest_cut):
            raise InvalidDimensionError(
                "cut",
                self.cut,
                f"from 0 to less than {self.largest_cut * 1e3:.4g} mm, at the inner edge",
                "make the cut smaller",
            )

    @property
    def guides(self) -> tuple[RectangularGuide, RectangularGuide]:
        """Guide at each port."""
        return self.guide, self.guide

    @property
    def exact_plane(self) -> Plane:
        """Plane in which the axis turns; the part is uniform across it."""
        return self.plane

    @property
    def axis_length(self) -> float:
        """Length of both outer arms, twice that of the axis [m]."""
        return 2 * self.outer_arm

    @property
    def mirrors(self) -> frozenset[Mirror]:
        """The mirror across its plane."""
        return mirrors_of_plane(self.plane)

    @property
    def has_sharp_edges(self) -> bool:
        """In the E-plane; in the H-plane the field lies along the edges."""
        return self.plane == "E"

    @property
    def width_in_plane(self) -> float:
        """Inside dimension of the guide in the plane of the corner [m]."""
        return width_in_plane(self.guide, self.plane)

    @property
    def outer_arm(self) -> float:
        """Outer wall from the plane through the inner edge to the uncut outer point [m]."""
        return self.width_in_plane * math.tan(0.5 * self.angle)

    @property
    def overhang(self) -> float:
        """How far the cut reaches back behind the reference planes [m]."""
        return max(0.0, self.cut - self.outer_arm)

    @property
    def largest_cut(self) -> float:
        """Cut at which the flat would pass through the inner edge [m]."""
        return self.width_in_plane / (math.sin(0.5 * self.angle) * math.cos(0.5 * self.angle))
