"""Swept bends: the guide's axis turns in the E- or the H-plane, evenly or with a smooth onset."""

from __future__ import annotations

import math
from dataclasses import dataclass, field
from typing import ClassVar, Literal

import numpy as np

from geometries.arrays import Array
from geometries.errors import InvalidDimensionError
from geometries.shapes.guides import RectangularGuide
from geometries.shapes.part import Mirror, Part, Plane, mirrors_of_plane
from geometries.shapes.profiles import check_onset, knots_of, smooth, uniform
from geometries.shapes.units import ANGLE, GUIDE, LENGTH, NAME, RATIO, unsaid

BendProfile = Literal["constant", "smooth"]

_LEAST_ANGLE, _LARGEST_ANGLE = math.radians(1.0), math.pi
#: Gauss points on a stretch of the axis, which turns by half a circle at most.
_POINTS, _WEIGHTS = np.polynomial.legendre.leggauss(32)


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
    """A bend; the cross-section stays that of the guide, square to the axis.

    Parameters
    ----------
    guide : RectangularGuide
    plane : {"E", "H"}
        Plane in which the axis turns: with b in the plane (E) or with a in it (H).
    angle : float
        Angle through which the axis turns [rad], from 1 to 180 degrees.
    mean_radius : float
        Radius of the guide's axis [m]; more than half the width in the plane. With a smooth
        profile it is the length of the axis over the angle, so that equal numbers mean equal
        lengths; the smallest radius, in the middle, is 1 - onset times it and has to be more than
        half the width.
    profile : {"constant", "smooth"}
        The axis is an arc of a circle; or its curvature rises from 0 as half a cosine over the
        part `onset` of the length, stays, and falls likewise.
    onset : float
        Part of the length, from 0.05 to 0.5, for the smooth profile only [-].

    Raises
    ------
    InvalidDimensionError
    """

    kind: ClassVar[str] = "bend"

    guide: RectangularGuide = field(metadata=GUIDE)
    plane: Plane = field(metadata=NAME)
    angle: float = field(metadata=ANGLE)
    mean_radius: float = field(metadata=LENGTH)
    profile: BendProfile = field(default="constant", metadata=unsaid(NAME))
    onset: float = field(default=0.0, metadata=unsaid(RATIO))

    def __post_init__(self) -> None:
        check_plane_and_angle(self.plane, self.angle)
        check_onset(self.profile, self.onset, ("constant",))
        half = 0.5 * self.width_in_plane
        if not (math.isfinite(self.mean_radius) and self.smallest_radius > half):
            least = f"half the inside width in the plane of the bend ({half * 1e3:.4g} mm)"
            change = "raise the radius"
            if self.profile != "constant":
                least += f" over 1 - onset, {half / (1.0 - self.onset) * 1e3:.4g} mm"
                change += " or lower the onset"
            raise InvalidDimensionError(
                "mean_radius", self.mean_radius, f"more than {least}", change
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
        """Radius of the inner wall where it is smallest [m]."""
        return self.smallest_radius - 0.5 * self.width_in_plane

    @property
    def smallest_radius(self) -> float:
        """Smallest radius of the axis [m]."""
        return self.mean_radius * (1.0 - self.onset)

    @property
    def arc_length(self) -> float:
        """Length of the axis [m]."""
        return self.mean_radius * self.angle

    @property
    def knots(self) -> tuple[float, ...]:
        """Fractions of the length where the curvature is not analytic, but for the ends."""
        return knots_of(self.profile, self.onset)

    def turned(self, s: Array) -> tuple[Array, Array]:
        """Angle turned [rad] and curvature [1/m] at s from 0 to `arc_length` along the axis [m]."""
        profile = smooth(self.onset) if self.profile == "smooth" else uniform
        turned, rate = profile(np.asarray(s, dtype=float) / self.arc_length)
        return self.angle * turned, rate / self.mean_radius

    def axis(self, s: Array) -> Array:
        """Points of the axis (2, ...) [m] at s from 0 to `arc_length` along it [m].

        It starts at the origin along +x and turns towards +y. A smooth one is integrated by
        Gauss's rule, to round-off.
        """
        s = np.asarray(s, dtype=float)
        if self.profile == "constant":
            turned = s / self.mean_radius
            return self.mean_radius * np.stack([np.sin(turned), 1.0 - np.cos(turned)])
        knots = self.arc_length * np.array([0.0, *(self.knots or (0.5,)), 1.0])
        first = np.clip(np.searchsorted(knots, s, side="right") - 1, 0, len(knots) - 2)
        whole = np.cumsum([0.0, *self._advance(knots[:-1], knots[1:])[:-1]])
        at = whole[first] + self._advance(knots[first], s)
        return np.stack([at.real, at.imag])

    def _advance(self, start: Array, stop: Array) -> Array:
        """Change of place x + iy between two places on one stretch of the axis [m]."""
        half = 0.5 * (stop - start)
        turned, _ = self.turned(start[..., None] + half[..., None] * (1.0 + _POINTS))
        return np.asarray(half * (np.exp(1j * turned) @ _WEIGHTS))
