"""Rotating joints in circular guide: a gap between two flanges, with choke grooves."""

from __future__ import annotations

from dataclasses import dataclass, field
from functools import cached_property
from typing import ClassVar, Literal, get_args

from geometries.errors import InvalidDimensionError
from geometries.shapes.grooves import Groove, checked_grooves
from geometries.shapes.guides import CircularGuide
from geometries.shapes.part import BOTH_MIRRORS, Mirror, Part
from geometries.shapes.units import GUIDE, LENGTH, NAME

JointMode = Literal["TM01", "TE11"]


@dataclass(frozen=True)
class RotatingJoint(Part):
    """Two circular guides on one axis, whose flanges leave a gap.

    The gap lies between the planes z = 0, the end of the guide of port 1, and z = gap. Beyond the
    rim it goes on as a matched radial line: what gets there has leaked.

    Parameters
    ----------
    guide : CircularGuide
    gap : float
        Distance of the two flanges [m].
    rim_radius : float
        Outer radius of the flanges [m].
    groove_inner_radius, groove_outer_radius, groove_depth : float
        Groove in the flange of port 2, open to the gap [m]; a depth of 0 is no groove.
    second_groove_inner_radius, second_groove_outer_radius, second_groove_depth : float
        A second groove [m].
    second_groove_flange : {1, 2}
        Port whose flange has the second groove.
    mode : {"TM01", "TE11"}
        Mode that carries the power.

    Raises
    ------
    InvalidDimensionError
    """

    kind: ClassVar[str] = "rotating-joint"
    rim: ClassVar[str] = "open"
    gasket_permittivity: ClassVar[float] = 1.0
    gasket_inner_radius: ClassVar[float] = 0.0

    guide: CircularGuide = field(metadata=GUIDE)
    gap: float = field(metadata=LENGTH)
    rim_radius: float = field(metadata=LENGTH)
    groove_inner_radius: float = field(default=0.0, metadata=LENGTH)
    groove_outer_radius: float = field(default=0.0, metadata=LENGTH)
    groove_depth: float = field(default=0.0, metadata=LENGTH)
    second_groove_inner_radius: float = field(default=0.0, metadata=LENGTH)
    second_groove_outer_radius: float = field(default=0.0, metadata=LENGTH)
    second_groove_depth: float = field(default=0.0, metadata=LENGTH)
    second_groove_flange: int = field(default=1, metadata=NAME)
    mode: JointMode = field(default="TM01", metadata=NAME)

    def __post_init__(self) -> None:
        if self.mode not in get_args(JointMode):
            raise InvalidDimensionError("mode", self.mode, "TM01 or TE11")
        if self.second_groove_flange not in (1, 2):
            raise InvalidDimensionError(
                "second_groove_flange", self.second_groove_flange, "1 or 2, the port's number"
            )
        checked_grooves(self, self.opening_radius)

    @property
    def guides(self) -> tuple[CircularGuide, CircularGuide]:
        """Guide at each port."""
        return self.guide, self.guide

    @property
    def entering_mode(self) -> str:
        """The joint's own mode."""
        return self.mode

    @property
    def exact_plane(self) -> None:
        """None: the half-plane about the axis, in which TM01 is solved, is neither."""
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
        """Radius of the guide [m]."""
        return self.guide.radius

    @cached_property
    def grooves(self) -> tuple[Groove, ...]:
        """The grooves that are there."""
        return checked_grooves(self, self.opening_radius)
