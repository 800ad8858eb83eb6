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
from geometries.shapes.profiles import check_onset, knots_of, raised_cosine, smooth, uniform
from geometries.shapes.units import ANGLE, GUIDE, LENGTH, NAME, RATIO, unsaid

TwistProfile = Literal["uniform", "raised-cosine", "smooth"]

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
    profile : {"uniform", "raised-cosine", "smooth"}
        Constant rate of twist; a rate that goes as 1 - cos(2 pi z / length); or one that rises
        as half a cosine over the part `onset` of the length, stays, and falls likewise.
    onset : float
        Part of the length, from 0.05 to 0.5, for the smooth profile only [-].

    Raises
    ------
    InvalidDimensionError
    """

    kind: ClassVar[str] = "twist"

    guide: RectangularGuide = field(metadata=GUIDE)
    angle: float = field(metadata=ANGLE)
    length: float = field(metadata=LENGTH)
    profile: TwistProfile = field(default="uniform", metadata=NAME)
    onset: float = field(default=0.0, metadata=unsaid(RATIO))

    def __post_init__(self) -> None:
        if not 0 < self.angle <= 2 * math.pi * (1 + 1e-12):
            raise InvalidDimensionError("angle", self.angle, "above 0, up to 360 degrees")
        object.__setattr__(self, "length", positive_length("length", self.length))
        check_onset(self.profile, self.onset, get_args(TwistProfile)[:2])

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

    @property
    def knots(self) -> tuple[float, ...]:
        """Fractions of the length where the rate of twist is not analytic."""
        return knots_of(self.profile, self.onset)

    @property
    def largest_rate(self) -> float:
        """Largest rate of twist [rad/m]."""
        return float(self.turned(np.array([0.5 * self.length]))[1][0])

    def turned(self, z: Array) -> tuple[Array, Array]:
        """Angle turned [rad] and rate of twist [rad/m] at positions z from 0 to `length` [m]."""
        profile = smooth(self.onset) if self.profile == "smooth" else _PROFILES[self.profile]
        turned, rate = profile(np.asarray(z, dtype=float) / self.length)
        return self.angle * turned, self.angle / self.length * rate
