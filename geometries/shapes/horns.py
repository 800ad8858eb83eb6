"""Horns: straight-walled flares from a guide to an aperture, and the open end of a guide."""

from __future__ import annotations

import math
from dataclasses import dataclass, field
from typing import ClassVar, Literal, get_args

from geometries.errors import InvalidDimensionError
from geometries.shapes.guides import CircularGuide, RectangularGuide
from geometries.shapes.part import BOTH_MIRRORS, Mirror, Part
from geometries.shapes.units import GUIDE, LENGTH, NAME

HornMode = Literal["TE11", "TM01"]
#: ``"wall"``: the aperture lies in an endless flat metal wall; ``"bare"``: thin walls, free space.
HornRim = Literal["wall", "bare"]

#: Aperture over guide, at least: what narrows more is an iris rather than a horn.
LEAST_OPENING = 0.5


@dataclass(frozen=True)
class RectangularHorn(Part):
    """A horn on a rectangular guide: pyramidal, or flared in one plane, or the open end itself.

    In its meshes the throat lies at z = -length, the aperture at z = 0.

    Parameters
    ----------
    guide : RectangularGuide
    aperture_width : float
        Side of the aperture along the guide's broad wall [m].
    aperture_height : float
        Along the narrow wall [m].
    length : float
        Along the axis [m]; 0, with the aperture of the guide's size, is the open end.
    rim : {"wall", "bare"}

    Raises
    ------
    InvalidDimensionError
    """

    kind: ClassVar[str] = "horn"
    mode: ClassVar[str] = "TE10"

    guide: RectangularGuide = field(metadata=GUIDE)
    aperture_width: float = field(metadata=LENGTH)
    aperture_height: float = field(metadata=LENGTH)
    length: float = field(metadata=LENGTH)
    rim: HornRim = field(default="wall", metadata=NAME)

    def __post_init__(self) -> None:
        _check_rim(self.rim)
        _check_length(self.length)
        _check_opening("aperture_width", self.aperture_width, self.guide.broad_width, self.length)
        _check_opening(
            "aperture_height", self.aperture_height, self.guide.narrow_height, self.length
        )

    @property
    def guides(self) -> tuple[RectangularGuide]:
        """Guide at the throat."""
        return (self.guide,)

    @property
    def exact_plane(self) -> None:
        """None: the field beyond the aperture varies in every direction."""
        return None

    @property
    def axis_length(self) -> float:
        """Length from throat to aperture [m]."""
        return self.length

    @property
    def mirrors(self) -> frozenset[Mirror]:
        """Both middle planes."""
        return BOTH_MIRRORS

    @property
    def has_sharp_edges(self) -> bool:
        """True: the walls end at the aperture."""
        return True

    @property
    def opening_radius(self) -> float:
        """Distance of the aperture's corners from the axis [m]."""
        return 0.5 * math.hypot(self.aperture_width, self.aperture_height)


@dataclass(frozen=True)
class ConicalHorn(Part):
    """A horn on a circular guide.

    Parameters
    ----------
    guide : CircularGuide
    aperture_diameter : float
        [m]
    length : float
        Along the axis [m]; 0, with the aperture of the guide's size, is the open end.
    mode : {"TE11", "TM01"}
        Mode that carries the power.
    rim : {"wall", "bare"}

    Raises
    ------
    InvalidDimensionError
    """

    kind: ClassVar[str] = "horn"

    guide: CircularGuide = field(metadata=GUIDE)
    aperture_diameter: float = field(metadata=LENGTH)
    length: float = field(metadata=LENGTH)
    mode: HornMode = field(default="TE11", metadata=NAME)
    rim: HornRim = field(default="wall", metadata=NAME)

    def __post_init__(self) -> None:
        if self.mode not in get_args(HornMode):
            raise InvalidDimensionError("mode", self.mode, "TE11 or TM01")
        _check_rim(self.rim)
        _check_length(self.length)
        _check_opening(
            "aperture_diameter", self.aperture_diameter, self.guide.diameter, self.length
        )

    @property
    def guides(self) -> tuple[CircularGuide]:
        """Guide at the throat."""
        return (self.guide,)

    @property
    def entering_mode(self) -> str:
        """Mode that carries the power."""
        return self.mode

    @property
    def exact_plane(self) -> None:
        """None: the half-plane about the axis, in which TM01 is solved, is neither."""
        return None

    @property
    def axis_length(self) -> float:
        """Length from throat to aperture [m]."""
        return self.length

    @property
    def mirrors(self) -> frozenset[Mirror]:
        """Both middle planes."""
        return BOTH_MIRRORS

    @property
    def has_sharp_edges(self) -> bool:
        """True: the wall ends at the aperture."""
        return True

    @property
    def opening_radius(self) -> float:
        """Radius of the aperture [m]."""
        return 0.5 * self.aperture_diameter


Horn = RectangularHorn | ConicalHorn


def phase_errors(horn: Horn) -> dict[str, float]:
    """How much farther the aperture's edge is from the flare's apex than its middle is [m].

    Returns
    -------
    dict
        ``"E"`` and ``"H"`` plane; both are the same for a cone.

    Notes
    -----
    (aperture/2)^2 / (2 R), R being the distance of the aperture from the apex in that plane; 0
    where the walls are parallel.
    """
    if isinstance(horn, ConicalHorn):
        same = _path_difference(horn.guide.diameter, horn.aperture_diameter, horn.length)
        return {"E": same, "H": same}
    guide = horn.guide
    return {
        "E": _path_difference(guide.narrow_height, horn.aperture_height, horn.length),
        "H": _path_difference(guide.broad_width, horn.aperture_width, horn.length),
    }


def _path_difference(inner: float, outer: float, length: float) -> float:
    """Quadratic path difference across one pair of walls [m]; below 0 where they converge."""
    return (outer - inner) * outer / (8 * length) if length > 0 else 0.0


def _check_rim(rim: str) -> None:
    if rim not in get_args(HornRim):
        raise InvalidDimensionError("rim", rim, "wall or bare")


def _check_length(length: float) -> None:
    if not (math.isfinite(length) and length >= 0):
        raise InvalidDimensionError("length", length, "at least 0 m")


def _check_opening(name: str, opening: float, inner: float, length: float) -> None:
    if not (math.isfinite(opening) and opening > 0):
        raise InvalidDimensionError(name, opening, "above 0 m")
    if length == 0 and abs(opening - inner) > 1e-9 * inner:
        raise InvalidDimensionError(
            name, opening, f"{1e3 * inner:.6g} mm, the guide's own, where the length is 0"
        )
    if opening < LEAST_OPENING * inner:
        raise InvalidDimensionError(
            name, opening, f"at least {1e3 * LEAST_OPENING * inner:.6g} mm, half of the guide's own"
        )
