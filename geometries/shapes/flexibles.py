"""Flexible guides: a rectangular guide whose walls are pressed into convolutions."""

from __future__ import annotations

import math
from dataclasses import dataclass, field
from typing import ClassVar, Literal, get_args

import numpy as np

from geometries.arrays import Array
from geometries.errors import InvalidDimensionError
from geometries.shapes.bends import width_in_plane
from geometries.shapes.guides import RectangularGuide, positive_length
from geometries.shapes.part import BOTH_MIRRORS, Mirror, Part, Plane, mirrors_of_plane
from geometries.shapes.units import ANGLE, GUIDE, LENGTH, NAME, RATIO

FlexibleProfile = Literal["sinusoidal"]

#: Most convolutions, and the least pitch over the broad wall, that can be solved.
MOST_CONVOLUTIONS, LEAST_PITCH = 1000, 0.04
_LEAST_ANGLE, _LARGEST_ANGLE = math.radians(0.01), math.pi


@dataclass(frozen=True)
class Flexible(Part):
    """A convoluted guide, straight or bent along an arc.

    Both pairs of walls swing outward from the plain guide: the half width is
    ``broad_width/2 + convolution_depth (1 - cos(2 pi z/pitch))/2``, and likewise the half height.

    Parameters
    ----------
    guide : RectangularGuide
        The plain guide at both ends.
    pitch : float
        Length of one convolution along the axis [m].
    convolution_depth : float
        From the crests, which lie in the plain guide's walls, to the roots [m].
    count : int
        Number of convolutions.
    profile : {"sinusoidal"}
    plane : {"E", "H", ""}
        Plane in which the axis turns, with b in it (E) or a (H); empty for a straight piece.
    angle : float
        Angle through which the axis turns [rad]; 0 for a straight piece. The mean radius is
        ``count pitch / angle``.

    Raises
    ------
    InvalidDimensionError
    """

    kind: ClassVar[str] = "flexible"

    guide: RectangularGuide = field(metadata=GUIDE)
    pitch: float = field(metadata=LENGTH)
    convolution_depth: float = field(metadata=LENGTH)
    count: int = field(metadata=RATIO)
    profile: FlexibleProfile = field(default="sinusoidal", metadata=NAME)
    plane: Plane | Literal[""] = field(default="", metadata=NAME)
    angle: float = field(default=0.0, metadata=ANGLE)

    def __post_init__(self) -> None:
        for name in ("pitch", "convolution_depth"):
            object.__setattr__(self, name, positive_length(name, getattr(self, name)))
        if not 1 <= self.count <= MOST_CONVOLUTIONS:
            raise InvalidDimensionError("count", self.count, f"from 1 to {MOST_CONVOLUTIONS}")
        if self.profile not in get_args(FlexibleProfile):
            raise InvalidDimensionError("profile", self.profile, "sinusoidal")
        self._check_walls()
        self._check_arc()

    def _check_walls(self) -> None:
        least = LEAST_PITCH * self.guide.broad_width
        if self.pitch < least:
            raise InvalidDimensionError(
                "pitch",
                self.pitch,
                f"at least {LEAST_PITCH:g} of the broad wall ({least * 1e3:.4g} mm)",
                "raise the pitch",
            )
        most = min(self.pitch, self.guide.narrow_height)
        if self.convolution_depth > most:
            raise InvalidDimensionError(
                "convolution_depth",
                self.convolution_depth,
                f"at most the pitch and the guide's height ({most * 1e3:.4g} mm)",
                "press the convolutions less deep",
            )

    def _check_arc(self) -> None:
        if self.plane not in ("E", "H", ""):
            raise InvalidDimensionError("plane", self.plane, "E, H or empty")
        if not self.plane:
            if self.angle:
                raise InvalidDimensionError("angle", self.angle, "0 without a plane", "give plane")
            return
        if not _LEAST_ANGLE * (1 - 1e-12) <= self.angle <= _LARGEST_ANGLE * (1 + 1e-12):
            raise InvalidDimensionError("angle", self.angle, "from 0.01 to 180 degrees")
        least = 0.5 * width_in_plane(self.guide, self.plane) + self.convolution_depth
        if self.mean_radius <= least:
            raise InvalidDimensionError(
                "angle",
                self.angle,
                f"below {math.degrees(self.axis_length / least):.4g} degrees, or the inner walls "
                f"fold: the mean radius, now {self.mean_radius * 1e3:.4g} mm, has to be more than "
                f"half the inside width in the plane and the depth ({least * 1e3:.4g} mm)",
                "take more convolutions or a smaller angle",
            )

    @property
    def guides(self) -> tuple[RectangularGuide, RectangularGuide]:
        """Guide at each port."""
        return self.guide, self.guide

    @property
    def exact_plane(self) -> None:
        """None: its field varies in all three directions."""
        return None

    @property
    def axis_length(self) -> float:
        """Length of the axis [m]."""
        return self.count * self.pitch

    @property
    def mirrors(self) -> frozenset[Mirror]:
        """Both of a straight piece; that across its plane of a bent one."""
        return mirrors_of_plane(self.plane) if self.plane else BOTH_MIRRORS

    @property
    def has_sharp_edges(self) -> bool:
        """False: its walls are smooth, and the edges between them bulge."""
        return False

    @property
    def mean_radius(self) -> float:
        """Radius of the arc along which the axis runs [m]; infinite for a straight piece."""
        return self.axis_length / self.angle if self.angle else math.inf

    @property
    def mean_guide(self) -> RectangularGuide:
        """Plain guide of the mean width and height."""
        more = self.convolution_depth
        return RectangularGuide(self.guide.broad_width + more, self.guide.narrow_height + more)

    def swing(self, z: Array) -> tuple[Array, Array]:
        """How far each wall lies out of the plain guide's [m], and its slope, at positions [m]."""
        turn, half = 2 * np.pi / self.pitch, 0.5 * self.convolution_depth
        return half * (1.0 - np.cos(turn * z)), half * turn * np.sin(turn * z)
