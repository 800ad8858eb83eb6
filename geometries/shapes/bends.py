"""Swept bends: the guide's axis follows a circular arc in the E- or the H-plane."""

from __future__ import annotations

import math
from dataclasses import dataclass, field
from typing import ClassVar

from geometries.errors import InvalidDimensionError
from geometries.shapes.guides import RectangularGuide
from geometries.shapes.part import Mirror, Part, Plane, mirrors_of_plane
from geometries.shapes.units import ANGLE, GUIDE, LENGTH, NAME

_LEAST_ANGLE, _LARGEST_ANGLE = math.radians(1.0), math.pi


def check_plane_and_angle(plane: str, angle: float, largest: float = _LARGEST_ANGLE) -> None:
    """Refuse a plane other than E or H, and an angle under 1 degree or above the largest.

    Parameters
    ----------
    plane : str
    angle : float
        Angle through which the axis turns [rad].
    largest : float
        Largest angle of the kind [rad]; 180 degrees by default.

    Raises
    ------
    InvalidDimensionError
    """
    if plane not in ("E", "H"):
        raise InvalidDimensionError("plane", plane, "E or H")
    if not _LEAST_ANGLE * (1 - 1e-12) <= angle <= largest * (1 + 1e-12):
        raise InvalidDimensionError(
            "angle", angle, f"from 1 to {math.degrees(largest):.4g} degrees"
        )


def width_in_plane(guide: RectangularGuide, plane: str) -> float:
    """Inside dimension of the guide that lies in the plane of a bend or corner [m].

    The narrow height b for an E-plane part, the broad width a for an H-plane part.
    """
    return guide.narrow_height if plane == "E" else guide.broad_width


@dataclass(frozen=True)
class Bend(Part):
    """A bend whose axis is an arc of a circle; the cross-section stays that of the guide.

    Parameters
    ----------
    guide : RectangularGuide
    plane : {"E", "H"}
        Plane in which the axis turns: with b in the plane (E) or with a in it (H).
    angle : float
        Angle through which the axis turns [rad], from 1 to 180 degrees.
    mean_radius : float
        Radius of the guide's axis [m]; more than half the width in the plane.

    Raises
    ------
    InvalidDimensionError
    """

    kind: ClassVar[str] = "bend"

    guide: RectangularGuide = field(metadata=GUIDE)
    plane: Plane = field(metadata=NAME)
    angle: float = field(metadata=ANGLE)
    mean_radius: float = field(metadata=LENGTH)

    def __post_init__(self) -> None:
        check_plane_and_angle(self.plane, self.angle)
        half = 0.5 * self.width_in_plane
        if not (math.isfinite(self.mean_radius) and self.mean_radius > half):
            raise InvalidDimensionError(
                "mean_radius",
                self.mean_radius,
                f"more than half the inside width in the plane of the bend ({half * 1e3:.4g} mm)",
                "raise the radius",
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
        """Length of the axis [m]."""
        return self.arc_length

    @property
    def mirrors(self) -> frozenset[Mirror]:
        """The mirror across its plane."""
        return mirrors_of_plane(self.plane)

    @property
    def has_sharp_edges(self) -> bool:
        """False: its walls are smooth."""
        return False

    @property
    def width_in_plane(self) -> float:
        """Inside dimension of the guide in the plane of the bend [m]."""
        return width_in_plane(self.guide, self.plane)

    @property
    def inner_radius(self) -> float:
        """Radius of the inner wall [m]."""
        return self.mean_radius - 0.5 * self.width_in_plane

    @property
    def arc_length(self) -> float:
        """Length of the axis [m]."""
        return self.mean_radius * self.angle
