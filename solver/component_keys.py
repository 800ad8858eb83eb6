"""The keys of each kind of component in a study file.

To add a kind: write its class here with a `build` method, and add it to `ComponentTable`.
"""

from __future__ import annotations

import math
from typing import Annotated, Any, ClassVar, Literal, get_args

from pydantic import Field

from geometries.bends import Bend
from geometries.corners import Corner
from geometries.dents import Dent
from geometries.guides import CircularGuide, RectangularGuide
from geometries.offsets import Offset
from geometries.straights import Straight
from geometries.tapers import Taper, TaperProfile
from geometries.transitions import Transition
from geometries.twists import Twist, TwistProfile
from solver.guide_keys import Guide, GuideEntry, build_guide
from solver.study_tables import (
    Degrees,
    Millimetres,
    MillimetresFromZero,
    RefusedKeyError,
    SignedDegrees,
    SignedMillimetres,
    Table,
)

Component = Straight | Bend | Corner | Twist | Taper | Transition | Offset | Dent


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


class TwistKeys(ComponentKeys):
    """A twist about a straight axis."""

    kind: Literal["twist"]
    angle_deg: Degrees
    length_mm: Millimetres
    profile: TwistProfile = "uniform"

    def build(self, guide: RectangularGuide) -> Twist:
        """Return the component in this guide."""
        return Twist(guide, math.radians(self.angle_deg), self.length_mm / 1000, self.profile)


class TaperKeys(ComponentKeys):
    """A taper to another rectangular guide."""

    kind: Literal["taper"]
    to_guide: GuideEntry
    length_mm: Millimetres
    profile: TaperProfile = "linear"

    def build(self, guide: RectangularGuide) -> Taper:
        """Return the component in this guide."""
        other = build_guide("component.to_guide", self.to_guide)
        if not isinstance(other, RectangularGuide):
            raise RefusedKeyError(
                "component.to_guide",
                self.to_guide.model_dump(),  # type: ignore[union-attr]
                "must be a rectangular guide; the kind for a circular one is transition",
            )
        return Taper(guide, other, self.length_mm / 1000, self.profile)


class TransitionKeys(ComponentKeys):
    """A ruled loft to a circular guide."""

    kind: Literal["transition"]
    to_diameter_mm: Millimetres
    length_mm: Millimetres

    def build(self, guide: RectangularGuide) -> Transition:
        """Return the component in this guide."""
        return Transition(guide, self.to_diameter_mm / 1000, self.length_mm / 1000)


class OffsetKeys(ComponentKeys):
    """Two flanges joined out of line."""

    kind: Literal["offset"]
    shift_x_mm: SignedMillimetres = 0.0
    shift_y_mm: SignedMillimetres = 0.0
    turn_deg: SignedDegrees = 0.0

    def build(self, guide: RectangularGuide) -> Offset:
        """Return the component in this guide."""
        shift_x, shift_y = self.shift_x_mm / 1000, self.shift_y_mm / 1000
        return Offset(guide, shift_x, shift_y, math.radians(self.turn_deg))


class DentKeys(ComponentKeys):
    """A smooth dent in one wall."""

    kind: Literal["dent"]
    wall: Literal["broad", "narrow"]
    depth_mm: Millimetres
    length_mm: Millimetres
    width_mm: Millimetres

    def build(self, guide: RectangularGuide) -> Dent:
        """Return the component in this guide."""
        depth, length, width = (
            size / 1000 for size in (self.depth_mm, self.length_mm, self.width_mm)
        )
        return Dent(guide, self.wall, depth, length, width)


ComponentTable = Annotated[
    StraightKeys
    | BendKeys
    | CornerKeys
    | TwistKeys
    | TaperKeys
    | TransitionKeys
    | OffsetKeys
    | DentKeys,
    Field(discriminator="kind"),
]
KNOWN_KINDS = tuple(
    get_args(keys.model_fields["kind"].annotation)[0]
    for keys in get_args(get_args(ComponentTable)[0])
)
