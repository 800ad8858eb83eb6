"""Dents: one wall of a straight guide is pressed inwards, smoothly, over a rectangle."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import ClassVar, Literal

import numpy as np

from geometries.arrays import Array
from geometries.errors import InvalidDimensionError
from geometries.shapes.guides import RectangularGuide, positive_length
from geometries.shapes.part import Mirror, Part, mirrors_of_plane
from geometries.shapes.units import GUIDE, LENGTH, NAME

Wall = Literal["broad", "narrow"]


@dataclass(frozen=True)
class Dent(Part):
    """A smooth dent, centred on one wall of a straight length of guide.

    At a distance t from the wall's centre line and z from the middle of the length the wall lies
    deeper by depth cos^2(pi t / width) cos^2(pi z / length): raised cosines both ways, whose
    slope vanishes all round the dent.

    Parameters
    ----------
    guide : RectangularGuide
    wall : {"broad", "narrow"}
        The wall that is dented, at +b/2 or +a/2.
    depth : float
        Depth at the centre [m]; less than the distance to the opposite wall.
    length : float
        Length along the axis [m].
    width : float
        Width across the wall [m]; at most that of the wall.

    Raises
    ------
    InvalidDimensionError
    """

    kind: ClassVar[str] = "dent"

    guide: RectangularGuide = field(metadata=GUIDE)
    wall: Wall = field(metadata=NAME)
    depth: float = field(metadata=LENGTH)
    length: float = field(metadata=LENGTH)
    width: float = field(metadata=LENGTH)

    def __post_init__(self) -> None:
        if self.wall not in ("broad", "narrow"):
            raise InvalidDimensionError("wall", self.wall, "broad or narrow")
        for quantity in ("depth", "length", "width"):
            object.__setattr__(self, quantity, positive_length(quantity, getattr(self, quantity)))
        if not self.depth < self.distance:
            raise InvalidDimensionError(
                "depth",
                self.depth,
                f"less than {self.distance * 1e3:.4g} mm, the distance to the opposite wall",
                "make the dent shallower",
            )
        if self.width > self.wall_width * (1 + 1e-12):
            raise InvalidDimensionError(
                "width",
                self.width,
                f"at most {self.wall_width * 1e3:.4g} mm, the inside width of the wall",
                "make the dent narrower",
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
        return self.length

    @property
    def mirrors(self) -> frozenset[Mirror]:
        """The middle plane through the dented wall."""
        return mirrors_of_plane("E" if self.wall == "broad" else "H")

    @property
    def has_sharp_edges(self) -> bool:
        """False: its walls are smooth."""
        return False

    @property
    def wall_width(self) -> float:
        """Inside width of the dented wall [m]."""
        broad = self.wall == "broad"
        return self.guide.broad_width if broad else self.guide.narrow_height

    @property
    def distance(self) -> float:
        """Inside distance from the dented wall to the opposite one [m]."""
        broad = self.wall == "broad"
        return self.guide.narrow_height if broad else self.guide.broad_width

    def pressed(self, t: Array, z: Array) -> tuple[Array, Array, Array]:
        """Depth [m] and its slopes [-] along t and z.

        Parameters
        ----------
        t : (...) array
            Distance from the wall's centre line [m].
        z : (...) array
            Position along the axis from the first end of the dent [m].
        """
        across, slope_t = _bump(np.asarray(t) / self.width)
        along, slope_z = _bump(np.asarray(z) / self.length - 0.5)
        return (
            self.depth * across * along,
            self.depth / self.width * slope_t * along,
            self.depth / self.length * across * slope_z,
        )


def _bump(x: Array) -> tuple[Array, Array]:
    """Return cos^2(pi x) between -1/2 and 1/2, zero elsewhere, and its derivative."""
    inside = np.abs(x) < 0.5
    return (
        np.where(inside, np.cos(np.pi * x) ** 2, 0.0),
        np.where(inside, -np.pi * np.sin(2 * np.pi * x), 0.0),
    )
