"""Twists: the cross-section turns about a straight axis."""

from __future__ import annotations

import math
from dataclasses import dataclass, field
from typing import ClassVar, Literal, get_args

import numpy as np

from geometries.arrays import Array
from geometries.errors import InvalidDimensionError
from geometries.shapes.guides import RectangularGuide, positive_length
from geometries.shapes.part import HALF_TURN, Mirror, Part
from geometries.shapes.profiles import raised_cosine, uniform
from geometries.shapes.units import ANGLE, GUIDE, LENGTH, NAME

TwistProfile = Literal["uniform", "raised-cosine"]

_PROFILES = {"uniform": uniform, "raised-cosine": raised_cosine}


@dataclass(frozen=True)
class Twist(Part):
    """A twist about the straight axis of the guide.

    Parameters
    ----------
    guide : RectangularGuide
    angle : float
        Angle through which the cross-section turns, from the broad wall's direction towards the
        narrow wall's [rad]; above 0, up to 360 degrees.
    length : float
        Length of the axis [m].
    profile : {"uniform", "raised-cosine"}
        Constant rate of twist, or a rate that goes as 1 - cos(2 pi z / length).

    Raises
    ------
    InvalidDimensionError
    """

    kind: ClassVar[str] = "twist"

    guide: RectangularGuide = field(metadata=GUIDE)
    angle: float = field(metadata=ANGLE)
    length: float = field(metadata=LENGTH)
    profile: TwistProfile = field(default="uniform", metadata=NAME)

    def __post_init__(self) -> None:
        if not 0 < self.angle <= 2 * math.pi * (1 + 1e-12):
            raise InvalidDimensionError("angle", self.angle, "above 0, up to 360 degrees")
        object.__setattr__(self, "length", positive_length("length", self.length))
        if self.profile not in get_args(TwistProfile):
            raise InvalidDimensionError("profile", self.profile, "uniform or raised-cosine")

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
        return self.length

    @property
    def mirrors(self) -> frozenset[Mirror]:
        """Half a turn about its axis."""
        return HALF_TURN

    @property
    def has_sharp_edges(self) -> bool:
        """False: its walls are smooth."""
        return False

    def turned(self, z: Array) -> tuple[Array, Array]:
        """Angle turned [rad] and rate of twist [rad/m] at positions z from 0 to `length` [m]."""
        turned, rate = _PROFILES[self.profile](np.asarray(z, dtype=float) / self.length)
        return self.angle * turned, self.angle / self.length * rate
