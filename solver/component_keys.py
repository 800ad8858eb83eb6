"""The keys of each kind of component in a study file.

To add a kind: write its class here with a `build` method, and add it to `ComponentTable`.
"""

from __future__ import annotations

import math
from typing import Annotated, Any, ClassVar, Literal, get_args

from pydantic import Field

from geometries.bends import Bend
from geometries.corners import Corner
from geometries.guides import CircularGuide, RectangularGuide
from geometries.straights import Straight
from solver.study_tables import Degrees, Millimetres, MillimetresFromZero, Table

Guide = RectangularGuide | CircularGuide
Component = Straight | Bend | Corner


class ComponentKeys(Table):
    """Keys of one kind of component.

    `takes` names the cross-section on which the kind can be built.
    """

    takes: ClassVar[Any] = RectangularGuide
    kind: str

    def build(self, guide: Any) -> Component:
        """Return the component in this guide."""
        raise NotImplementedError(f"{type(self).__name__} has to say how its part is built")


class StraightKeys(ComponentKeys):
    """A straight length of guide."""

    takes: ClassVar[Any] = RectangularGuide | CircularGuide
    kind: Literal["straight"]
    length_mm: Millimetres

    def build(self, guide: Guide) -> Straight:
        """Return the component in this guide."""
        return Straight(guide, self.length_mm / 1000)


class BendKeys(ComponentKeys):
    """A bend swept along an arc."""

    kind: Literal["bend"]
    plane: Literal["E", "H"]
    angle_deg: Degrees
    mean_radius_mm: Millimetres

    def build(self, guide: RectangularGuide) -> Bend:
        """Return the component in this guide."""
        return Bend(guide, self.plane, math.radians(self.angle_deg), self.mean_radius_mm / 1000)


class CornerKeys(ComponentKeys):
    """A corner, square or with one flat cut."""

    kind: Literal["corner"]
    plane: Literal["E", "H"]
    angle_deg: Degrees
    cut_mm: MillimetresFromZero = 0.0

    def build(self, guide: RectangularGuide) -> Corner:
        """Return the component in this guide."""
        return Corner(guide, self.plane, math.radians(self.angle_deg), self.cut_mm / 1000)


ComponentTable = Annotated[StraightKeys | BendKeys | CornerKeys, Field(discriminator="kind")]
KNOWN_KINDS = tuple(
    get_args(keys.model_fields["kind"].annotation)[0]
    for keys in get_args(get_args(ComponentTable)[0])
)
