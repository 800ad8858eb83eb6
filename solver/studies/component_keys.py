"""The keys of each kind of component in a study file.

To add a kind: write its class here with a `build` method, and add it to `ComponentTable`.
"""

from __future__ import annotations

import math
from typing import Annotated, Any, ClassVar, Literal, get_args

from pydantic import Field, model_validator

from geometries.shapes.bends import Bend, BendProfile
from geometries.shapes.choke_flanges import ChokeFlange
from geometries.shapes.corners import Corner
from geometries.shapes.dents import Dent
from geometries.shapes.flexibles import Flexible, FlexibleProfile
from geometries.shapes.guides import CircularGuide, RectangularGuide
from geometries.shapes.horns import Horn
from geometries.shapes.loads import Load, Position
from geometries.shapes.offsets import Offset
from geometries.shapes.rotating_joints import RotatingJoint
from geometries.shapes.straights import Straight
from geometries.shapes.tapers import Taper, TaperProfile
from geometries.shapes.transitions import Transition
from geometries.shapes.twists import Twist, TwistProfile
from geometries.user_files.user_meshes import MeshPart
from solver.loads.absorbers import AbsorberName, with_material
from solver.studies.guide_keys import Guide, GuideEntry, build_guide
from solver.studies.horn_keys import HornTable, built_horn
from solver.studies.joint_keys import ChokeFlangeKeys, RotatingJointKeys
from solver.studies.kind_keys import ComponentKeys
from solver.studies.mesh_keys import MeshKeys
from solver.studies.tables import (
    Degrees,
    Millimetres,
    MillimetresFromZero,
    RefusedKeyError,
    SignedMillimetres,
)

Component = (
    Straight
    | Bend
    | Corner
    | Twist
    | Taper
    | Transition
    | Offset
    | Dent
    | RotatingJoint
    | ChokeFlange
    | Load
    | Horn
    | Flexible
    | MeshPart
)


class StraightKeys(ComponentKeys):
    """A straight length of guide."""

    takes: ClassVar[Any] = RectangularGuide | CircularGuide
    kind: Literal["straight"]
    length_mm: Millimetres

    def build(self, guide: Guide) -> Straight:
        """Return the component in this guide."""
        return Straight(guide, self.length_mm / 1000)


class BendKeys(ComponentKeys):
    """A bend swept along an arc, or along an axis whose curvature rises smoothly."""

    kind: Literal["bend"]
    plane: Literal["E", "H"]
    angle_deg: Degrees
    mean_radius_mm: Millimetres
    profile: BendProfile = "constant"
    onset: float = 0.0

    def build(self, guide: RectangularGuide) -> Bend:
        """Return the component in this guide."""
        angle, radius = math.radians(self.angle_deg), self.mean_radius_mm / 1000
        return Bend(guide, self.plane, angle, radius, self.profile, self.onset)


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
    onset: float = 0.0

    def build(self, guide: RectangularGuide) -> Twist:
        """Return the component in this guide."""
        angle, length = math.radians(self.angle_deg), self.length_mm / 1000
        return Twist(guide, angle, length, self.profile, self.onset)


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
    turn_deg: Degrees = 0.0

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


class LoadKeys(ComponentKeys):
    """A tapered absorber before a short."""

    kind: Literal["load"]
    plane: Literal["E", "H"]
    position: Position
    taper_length_mm: MillimetresFromZero
    base_length_mm: MillimetresFromZero
    base_width_mm: Millimetres | None = None
    permittivity: float
    loss_tangent: float
    permeability: float = 1.0
    magnetic_loss_tangent: float = 0.0
    material: AbsorberName | None = None

    @model_validator(mode="before")
    @classmethod
    def _with_material(cls, data: Any) -> Any:
        return with_material(data)

    def build(self, guide: RectangularGuide) -> Load:
        """Return the component in this guide."""
        return Load(
            guide,
            self.plane,
            self.position,
            self.taper_length_mm / 1000,
            self.base_length_mm / 1000,
            base_width=(self.base_width_mm or 0.0) / 1000,
            permittivity=self.permittivity,
            loss_tangent=self.loss_tangent,
            permeability=self.permeability,
            magnetic_loss_tangent=self.magnetic_loss_tangent,
        )


class HornKeys(HornTable, ComponentKeys):
    """A horn, or the open end of a guide."""

    takes: ClassVar[Any] = RectangularGuide | CircularGuide
    kind: Literal["horn"]

    def build(self, guide: Guide) -> Horn:
        """Return the component in this guide."""
        return built_horn(self, guide)


class FlexibleKeys(ComponentKeys):
    """A flexible guide: convoluted walls, straight or bent."""

    kind: Literal["flexible"]
    pitch_mm: Millimetres
    convolution_depth_mm: Millimetres
    count: int
    profile: FlexibleProfile = "sinusoidal"
    plane: Literal["E", "H"] | None = None
    angle_deg: Degrees | None = None

    def build(self, guide: RectangularGuide) -> Flexible:
        """Return the component in this guide."""
        if (self.plane is None) != (self.angle_deg is None):
            given, other = ("plane", "angle_deg") if self.plane else ("angle_deg", "plane")
            shown = getattr(self, given)
            raise RefusedKeyError(f"component.{given}", shown, f"needs {other} too, or neither")
        return Flexible(
            guide,
            self.pitch_mm / 1000,
            self.convolution_depth_mm / 1000,
            self.count,
            self.profile,
            self.plane or "",
            math.radians(self.angle_deg or 0.0),
        )


ComponentTable = Annotated[
    StraightKeys
    | BendKeys
    | CornerKeys
    | TwistKeys
    | TaperKeys
    | TransitionKeys
    | OffsetKeys
    | DentKeys
    | RotatingJointKeys
    | ChokeFlangeKeys
    | LoadKeys
    | HornKeys
    | FlexibleKeys
    | MeshKeys,
    Field(discriminator="kind"),
]
KNOWN_KINDS = tuple(
    get_args(keys.model_fields["kind"].annotation)[0]
    for keys in get_args(get_args(ComponentTable)[0])
)
