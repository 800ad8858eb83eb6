"""The keys of each kind of component in a study file.

To add a kind: write its class here with a `build` method, and add it to `ComponentTable`.
"""

from __future__ import annotations

import math
from pathlib import Path
from typing import Annotated, Any, ClassVar, Literal, get_args

from pydantic import AfterValidator, Field

from geometries.shapes.bends import Bend, BendProfile
from geometries.shapes.choke_flanges import ChokeFlange, Rim
from geometries.shapes.corners import Corner
from geometries.shapes.dents import Dent
from geometries.shapes.flexibles import Flexible, FlexibleProfile
from geometries.shapes.guides import CircularGuide, RectangularGuide
from geometries.shapes.horns import Horn
from geometries.shapes.loads import Load, Position
from geometries.shapes.offsets import Offset
from geometries.shapes.rotating_joints import JointMode, RotatingJoint
from geometries.shapes.straights import Straight
from geometries.shapes.tapers import Taper, TaperProfile
from geometries.shapes.transitions import Transition
from geometries.shapes.twists import Twist, TwistProfile
from geometries.user_files.step_bodies import PortPoint
from geometries.user_files.user_meshes import MeshPart
from solver.studies.guide_keys import Guide, GuideEntry, build_guide
from solver.studies.horn_keys import HornTable, built_horn
from solver.studies.inches import millimetres
from solver.studies.tables import (
    Degrees,
    Millimetres,
    MillimetresFromZero,
    RefusedKeyError,
    SignedMillimetres,
    Table,
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


def _named_ports(ports: Any) -> Any:
    """Let a list of two names, or of tables with a point on the port, pass."""
    if not isinstance(ports, list) or len(ports) != 2:
        raise ValueError("must be a list of the two ports")
    for port in ports:
        point = _point_in_mm(port)
        place = point if isinstance(point, list) and len(point) == 3 else [None]
        on_face = all(isinstance(x, float | int) and math.isfinite(x) for x in place)
        if not (isinstance(port, str) and port) and not on_face:
            raise ValueError('each must be a name, as "port1", or {point_mm = [x, y, z]}')
    if ports[0] == ports[1]:
        raise ValueError("must be two different ports")
    return ports


def _point_in_mm(port: Any) -> Any:
    """Coordinates of a port given as ``{point_mm = [x, y, z]}``, or with ``point_in``."""
    if not (isinstance(port, dict) and len(port) == 1):
        return None
    if isinstance(point := port.get("point_in"), list):
        return [millimetres(x) if isinstance(x, float | int) else x for x in point]
    return port.get("point_mm")


def _named_walls(walls: Any) -> Any:
    """Let "rest", a name or a list of names pass."""
    names = [walls] if isinstance(walls, str) else walls
    if not isinstance(names, list) or not names or not all(isinstance(n, str) for n in names):
        raise ValueError('must be "rest", or a list of names of boundary groups')
    return names


class MeshKeys(ComponentKeys):
    """A part in a file: the user's own mesh, or a STEP body."""

    takes: ClassVar[Any] = RectangularGuide | CircularGuide
    kind: Literal["mesh"]
    file: Annotated[str, Field(min_length=1, max_length=1000)]
    units: Literal["mm", "m", "in"]
    ports: Annotated[Any, AfterValidator(_named_ports)] = Field(default=["port1", "port2"])
    walls: Annotated[Any, AfterValidator(_named_walls)] = None

    def build(self, guide: Guide) -> MeshPart:
        """Return the component in this guide; its file counts from the working folder."""
        ports = tuple(
            port
            if isinstance(port, str)
            else PortPoint(f"port{i}", tuple(x / 1000 for x in _point_in_mm(port)))
            for i, port in enumerate(self.ports, start=1)
        )
        # "rest" as a list of one name: an empty list asks for no group
        walls = None if self.walls is None else tuple(n for n in self.walls if n != "rest")
        return MeshPart(guide, Path(self.file), self.units, ports, walls)


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
