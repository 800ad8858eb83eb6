"""The keys of a study file, and what each may hold.

One class per table of the file.  To add a kind of component: write its table here with a `build`
method, and add it to `ComponentTable`.  Units appear only in the names of keys.
"""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Annotated, Any, ClassVar, Literal, get_args

from pydantic import (
    AfterValidator,
    BaseModel,
    ConfigDict,
    Discriminator,
    Field,
    Tag,
    field_validator,
    model_validator,
)
from pydantic_core import PydanticCustomError

from geometries.bends import Bend
from geometries.corners import Corner
from geometries.guides import CircularGuide, RectangularGuide, standard_guide
from geometries.straights import Straight
from solver.band import MOST_POINTS, Band, hertz
from solver.study_messages import MISSING
from solver.verdict import Limit

if TYPE_CHECKING:
    from collections.abc import Sequence

Guide = RectangularGuide | CircularGuide
Component = Straight | Bend | Corner

LONGEST_TITLE = 200


class RefusedKeyError(ValueError):
    """A value that its own type allows but the study does not.

    Parameters
    ----------
    key : str
        Key path below the table that refuses it.
    shown : object
        The value, as the file gives it; `MISSING` leaves it out of the message.
    text : str
        Limit and what to change.
    """

    def __init__(self, key: str, shown: object, text: str) -> None:
        self.key, self.shown, self.text = key, shown, text
        super().__init__(f"{key}: {text}")


def _one_line_of_text(title: str) -> str:
    if not title.isprintable():
        raise ValueError("must be one line of plain text without control characters")
    return title


Millimetres = Annotated[float, Field(ge=1e-6, le=1e6)]
MillimetresFromZero = Annotated[float, Field(ge=0.0, le=1e6)]
Degrees = Annotated[float, Field(gt=0.0, le=360.0)]
Gigahertz = Annotated[float, Field(ge=1e-6, le=1e6)]


class Table(BaseModel):
    """A table of the file: exact types, no unknown keys, finite numbers."""

    model_config = ConfigDict(strict=True, extra="forbid", frozen=True, allow_inf_nan=False)

    @model_validator(mode="before")
    @classmethod
    def _refuse_unknown_keys(cls, data: Any) -> Any:
        for key in data if isinstance(data, dict) else ():
            if key not in cls.model_fields:
                raise PydanticCustomError(
                    "unknown_key",
                    "unknown key",
                    {"key": key, "value": data[key], "known": list(cls.model_fields)},
                )
        return data


class RectangularSection(Table):
    """A rectangular guide that the catalogue does not list."""

    width_mm: Millimetres
    height_mm: Millimetres

    def build(self) -> RectangularGuide:
        """Return the guide."""
        if self.height_mm > self.width_mm:
            raise RefusedKeyError(
                "height_mm",
                self.height_mm,
                f"must be at most width_mm ({self.width_mm:g}); width_mm is the broad side",
            )
        return RectangularGuide(self.width_mm / 1000, self.height_mm / 1000)


class CircularSection(Table):
    """A circular guide."""

    diameter_mm: Millimetres

    def build(self) -> CircularGuide:
        """Return the guide."""
        return CircularGuide(self.diameter_mm / 1000)


def _kind_of_guide(value: Any) -> str | None:
    if isinstance(value, str):
        return "size"
    if isinstance(value, dict):
        return "circular" if "diameter_mm" in value else "rectangular"
    return None


GuideEntry = Annotated[
    Annotated[str, Field(min_length=1, max_length=40), Tag("size")]
    | Annotated[RectangularSection, Tag("rectangular")]
    | Annotated[CircularSection, Tag("circular")],
    Discriminator(_kind_of_guide),
]


def build_guide(entry: str | RectangularSection | CircularSection) -> Guide:
    """Return the guide that an entry names or describes."""
    return standard_guide(entry) if isinstance(entry, str) else entry.build()


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


class BandKeys(Table):
    """The frequencies: from_ghz, to_ghz and points, or frequencies_ghz."""

    from_ghz: Gigahertz | None = None
    to_ghz: Gigahertz | None = None
    points: Annotated[int, Field(ge=2, le=MOST_POINTS)] | None = None
    frequencies_ghz: (
        Annotated[list[Gigahertz], Field(min_length=1, max_length=MOST_POINTS)] | None
    ) = None

    def build(self) -> Band:
        """Return the band."""
        if self.frequencies_ghz is not None:
            for key in ("from_ghz", "to_ghz", "points"):
                if getattr(self, key) is not None:
                    raise RefusedKeyError(
                        key, getattr(self, key), "cannot stand beside frequencies_ghz; remove one"
                    )
            return self._listed(self.frequencies_ghz)
        for key, value in (("from_ghz", self.from_ghz), ("to_ghz", self.to_ghz)):
            if value is None:
                raise RefusedKeyError(key, MISSING, "give from_ghz and to_ghz, or frequencies_ghz")
        start, stop = self.from_ghz or 0.0, self.to_ghz or 0.0
        if start >= stop:
            raise RefusedKeyError(
                "to_ghz", stop, f"must be above from_ghz ({start:g}), or the band is empty"
            )
        return Band(hertz(start), hertz(stop), self.points if self.points is not None else 201)

    @staticmethod
    def _listed(frequencies: Sequence[float]) -> Band:
        for index in range(1, len(frequencies)):
            if frequencies[index] <= frequencies[index - 1]:
                raise RefusedKeyError(
                    f"frequencies_ghz[{index}]",
                    frequencies[index],
                    f"must be above the one before it ({frequencies[index - 1]:g}); "
                    "list each frequency once, ascending",
                )
        return Band.at(hertz(f) for f in frequencies)


class LimitKeys(Table):
    """What is asked of the part."""

    vswr: Annotated[float, Field(gt=1.0, le=1e6)] | None = None
    return_loss_db: Annotated[float, Field(gt=0.0, le=200.0)] | None = None
    leakage_db: Annotated[float, Field(lt=0.0, ge=-300.0)] | None = None

    def build(self) -> Limit:
        """Return the limit."""
        return Limit(self.vswr, self.return_loss_db, self.leakage_db)


class AccuracyKeys(Table):
    """How sure the S-parameters have to be."""

    s_error: Annotated[float, Field(ge=1e-9, le=0.1)] = 1e-4


class WallKeys(Table):
    """The metal of the walls."""

    conductivity_s_per_m: Annotated[float, Field(ge=1e3, le=1e12)]


class StudyKeys(Table):
    """A whole study file."""

    title: Annotated[
        str, Field(min_length=1, max_length=LONGEST_TITLE), AfterValidator(_one_line_of_text)
    ] = ""
    guide: GuideEntry
    component: ComponentTable
    band: BandKeys
    limit: LimitKeys | None = None
    accuracy: AccuracyKeys = AccuracyKeys()
    walls: WallKeys | None = None

    @field_validator("component", mode="before")
    @classmethod
    def _know_the_kind(cls, table: Any) -> Any:
        if isinstance(table, dict) and table.get("kind") not in KNOWN_KINDS:
            raise PydanticCustomError(
                "unknown_kind",
                "unknown kind",
                {"kind": table.get("kind", MISSING), "known": ", ".join(KNOWN_KINDS)},
            )
        return table
