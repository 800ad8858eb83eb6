"""Choke flanges: two flanges of rectangular guide, a gap and a circular groove."""

from __future__ import annotations

import math
from dataclasses import dataclass, field
from functools import cached_property
from typing import ClassVar, Literal, get_args

from geometries.errors import InvalidDimensionError
from geometries.shapes.grooves import Groove, checked_grooves
from geometries.shapes.guides import RectangularGuide
from geometries.shapes.part import BOTH_MIRRORS, Mirror, Part
from geometries.shapes.units import GUIDE, LENGTH, NAME, RATIO

Rim = Literal["open", "closed"]
_LARGEST_PERMITTIVITY = 100.0


@dataclass(frozen=True)
class ChokeFlange(Part):
    """A choke flange and its cover flange, which leave a thin gap.

    The gap lies between the planes z = 0, the end of the guide of port 1, and z = gap. Beyond an
    open rim it goes on as a matched radial line: what gets there has leaked. A closed rim is metal
    all round from flange to flange.

    Parameters
    ----------
    guide : RectangularGuide
    gap : float
        Distance of the two flanges [m].
    rim_radius : float
        Outer radius of the flanges [m].
    groove_inner_radius, groove_outer_radius, groove_depth : float
        Groove in the flange of port 2, open to the gap [m]; a depth of 0 is no groove.
    rim : {"open", "closed"}
    gasket_permittivity : float
        Relative permittivity of what fills the gap outside `gasket_inner_radius` [-].
    gasket_inner_radius : float
        [m]; it counts only where the permittivity is not 1.

    Raises
    ------
    InvalidDimensionError
    """

    kind: ClassVar[str] = "choke-flange"
    second_groove_inner_radius: ClassVar[float] = 0.0
    second_groove_outer_radius: ClassVar[float] = 0.0
    second_groove_depth: ClassVar[float] = 0.0
    second_groove_flange: ClassVar[int] = 1

    guide: RectangularGuide = field(metadata=GUIDE)
    gap: float = field(metadata=LENGTH)
    rim_radius: float = field(metadata=LENGTH)
    groove_inner_radius: float = field(default=0.0, metadata=LENGTH)
    groove_outer_radius: float = field(default=0.0, metadata=LENGTH)
    groove_depth: float = field(default=0.0, metadata=LENGTH)
    rim: Rim = field(default="open", metadata=NAME)
    gasket_permittivity: float = field(default=1.0, metadata=RATIO)
    gasket_inner_radius: float = field(default=0.0, metadata=LENGTH)

    def __post_init__(self) -> None:
        if self.rim not in get_args(Rim):
            raise InvalidDimensionError("rim", self.rim, "open or closed")
        checked_grooves(self, self.opening_radius)
        if not 1.0 <= self.gasket_permittivity <= _LARGEST_PERMITTIVITY:
            raise InvalidDimensionError(
                "gasket_permittivity", self.gasket_permittivity, "from 1 to 100"
            )
        if self.gasket_permittivity > 1.0 and not (
            self.opening_radius < self.gasket_inner_radius < self.rim_radius
        ):
            raise InvalidDimensionError(
                "gasket_inner_radius",
                self.gasket_inner_radius,
                f"between the corners of the guide, {self.opening_radius * 1e3:.6g} mm, and the "
                f"rim radius, {self.rim_radius * 1e3:.6g} mm",
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
        """Height of the gap [m]."""
        return self.gap

    @property
    def mirrors(self) -> frozenset[Mirror]:
        """Both: guide, gap and grooves share their middle planes."""
        return BOTH_MIRRORS

    @property
    def has_sharp_edges(self) -> bool:
        """True: the guide's wall ends at the gap."""
        return True

    @property
    def opening_radius(self) -> float:
        """Distance of the guide's corners from its axis [m]."""
        return 0.5 * math.hypot(self.guide.broad_width, self.guide.narrow_height)

    @cached_property
    def grooves(self) -> tuple[Groove, ...]:
        """The groove, if there is one."""
        return checked_grooves(self, self.opening_radius)
