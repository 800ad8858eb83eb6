"""The keys of joints with a gap: rotating joints and choke flanges."""

from __future__ import annotations

from typing import Annotated, Any, ClassVar, Literal

from pydantic import Field

from geometries.shapes.choke_flanges import ChokeFlange, Rim
from geometries.shapes.guides import CircularGuide, RectangularGuide
from geometries.shapes.rotating_joints import JointMode, RotatingJoint
from solver.studies.kind_keys import ComponentKeys
from solver.studies.tables import (
    Millimetres,
    MillimetresFromZero,
)


class GrooveKeys(ComponentKeys):
    """What joints with a gap and a groove have in common."""

    gap_mm: Millimetres
    rim_radius_mm: Millimetres
    groove_inner_radius_mm: MillimetresFromZero = 0.0
    groove_outer_radius_mm: MillimetresFromZero = 0.0
    groove_depth_mm: MillimetresFromZero = 0.0

    def lengths(self) -> dict[str, float]:
        """Return every length by the name of the component's field [m]."""
        given = self.model_dump()
        return {name[:-3]: given[name] / 1000 for name in given if name.endswith("_mm")}


class RotatingJointKeys(GrooveKeys):
    """A rotating joint in circular guide."""

    takes: ClassVar[Any] = CircularGuide
    kind: Literal["rotating-joint"]
    mode: JointMode = "TM01"
    second_groove_inner_radius_mm: MillimetresFromZero = 0.0
    second_groove_outer_radius_mm: MillimetresFromZero = 0.0
    second_groove_depth_mm: MillimetresFromZero = 0.0
    second_groove_flange: Literal[1, 2] = 1

    def build(self, guide: CircularGuide) -> RotatingJoint:
        """Return the component in this guide."""
        return RotatingJoint(
            guide,
            mode=self.mode,
            second_groove_flange=self.second_groove_flange,
            **self.lengths(),
        )


class ChokeFlangeKeys(GrooveKeys):
    """A choke flange and its cover flange."""

    kind: Literal["choke-flange"]
    rim: Rim = "open"
    gasket_permittivity: Annotated[float, Field(ge=1.0, le=100.0)] = 1.0
    gasket_inner_radius_mm: MillimetresFromZero = 0.0

    def build(self, guide: RectangularGuide) -> ChokeFlange:
        """Return the component in this guide."""
        return ChokeFlange(
            guide, rim=self.rim, gasket_permittivity=self.gasket_permittivity, **self.lengths()
        )
