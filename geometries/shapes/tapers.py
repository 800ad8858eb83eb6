"""Tapers: a gradual change from one rectangular guide to another on the same straight axis."""

from __future__ import annotations

import math
from dataclasses import dataclass, field
from typing import ClassVar, Literal, get_args

import numpy as np

from geometries.arrays import Array
from geometries.errors import InvalidDimensionError
from geometries.shapes.guides import RectangularGuide, positive_length
from geometries.shapes.part import BOTH_MIRRORS, Mirror, Part
from geometries.shapes.profiles import hecken, klopfenstein, raised_cosine, uniform
from geometries.shapes.units import GUIDE, LENGTH, NAME

TaperProfile = Literal["linear", "exponential", "raised-cosine", "klopfenstein", "hecken"]

_PROFILES = {
    "linear": uniform,
    "exponential": uniform,
    "raised-cosine": raised_cosine,
    "klopfenstein": klopfenstein,
    "hecken": hecken,
}
#: Profiles of the logarithm of width and height; the others are those of width and height.
LOGARITHMIC_PROFILES = ("exponential", "klopfenstein", "hecken")


@dataclass(frozen=True)
class Taper(Part):
    """A taper; both guides share the axis and the directions of their walls.

    Parameters
    ----------
    guide, to_guide : RectangularGuide
        Guides at the two ends.
    length : float
        Length of the axis [m].
    profile : str
        ``"linear"``: flat walls. ``"raised-cosine"``: the slope of width and height goes as
        1 - cos(2 pi z / length). ``"exponential"``, ``"klopfenstein"``, ``"hecken"``: the
        logarithms of width and height follow a constant slope, Klopfenstein's taper without its
        two small end steps, or Hecken's; see `geometries.shapes.profiles`.

    Raises
    ------
    InvalidDimensionError
    """

    kind: ClassVar[str] = "taper"

    guide: RectangularGuide = field(metadata=GUIDE)
    to_guide: RectangularGuide = field(metadata=GUIDE)
    length: float = field(metadata=LENGTH)
    profile: TaperProfile = field(default="linear", metadata=NAME)

    def __post_init__(self) -> None:
        object.__setattr__(self, "length", positive_length("length", self.length))
        if self.profile not in get_args(TaperProfile):
            known = ", ".join(get_args(TaperProfile))
            raise InvalidDimensionError("profile", self.profile, f"one of {known}")

    @property
    def guides(self) -> tuple[RectangularGuide, RectangularGuide]:
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

    def width(self, z: Array) -> tuple[Array, Array]:
        """Broad width [m] and its slope [-] at positions z from 0 to `length` [m]."""
        return self._size(self.guide.broad_width, self.to_guide.broad_width, z)

    def height(self, z: Array) -> tuple[Array, Array]:
        """Narrow height [m] and its slope [-] at positions z from 0 to `length` [m]."""
        return self._size(self.guide.narrow_height, self.to_guide.narrow_height, z)

    def _size(self, first: float, last: float, z: Array) -> tuple[Array, Array]:
        done, rate = _PROFILES[self.profile](np.asarray(z, dtype=float) / self.length)
        if self.profile in LOGARITHMIC_PROFILES:
            ratio = math.log(last / first)
            size = first * np.exp(ratio * done)
            return size, size * ratio * rate / self.length
        return first + (last - first) * done, (last - first) * rate / self.length
