"""Dummy loads: a tapered absorber in rectangular guide, with a short right behind its base."""

from __future__ import annotations

import math
from dataclasses import dataclass, field
from typing import ClassVar, Literal

from geometries.errors import InvalidDimensionError
from geometries.shapes.bends import width_in_plane
from geometries.shapes.guides import RectangularGuide
from geometries.shapes.part import Mirror, Part, Plane
from geometries.shapes.units import GUIDE, LENGTH, NAME, RATIO

Position = Literal["centre", "wall"]

#: A base this close to the whole width, relative, fills it.
_FULL = 1e-9
_LARGEST_INDEX_SQUARED = 1e4
_LARGEST_TANGENT = 20.0


@dataclass(frozen=True)
class Load(Part):
    """An absorber that widens in one plane from a tip to its base, and is uniform across it.

    Parameters
    ----------
    guide : RectangularGuide
    plane : {"E", "H"}
        Plane in which it tapers: with b in it, uniform across a (E); with a in it (H).
    position : {"centre", "wall"}
        Whether the tip lies midway between the walls or on one of them.
    taper_length : float
        From the tip to the base along the axis [m]; 0 for a blunt end.
    base_length : float
        From the end of the taper to the short [m].
    base_width : float, optional
        Width of the base in the plane [m]; the whole guide when absent or 0, and then that.
    permittivity, loss_tangent : float
        eps' and tan delta: eps = eps' (1 - j tan delta), relative to vacuum [-].
    permeability, magnetic_loss_tangent : float
        Likewise mu.

    Raises
    ------
    InvalidDimensionError
    """

    kind: ClassVar[str] = "load"

    guide: RectangularGuide = field(metadata=GUIDE)
    plane: Plane = field(metadata=NAME)
    position: Position = field(metadata=NAME)
    taper_length: float = field(metadata=LENGTH)
    base_length: float = field(metadata=LENGTH)
    base_width: float = field(default=0.0, metadata=LENGTH, kw_only=True)
    permittivity: float = field(metadata=RATIO, kw_only=True)
    loss_tangent: float = field(metadata=RATIO, kw_only=True)
    permeability: float = field(default=1.0, metadata=RATIO, kw_only=True)
    magnetic_loss_tangent: float = field(default=0.0, metadata=RATIO, kw_only=True)

    def __post_init__(self) -> None:
        if self.plane not in ("E", "H"):
            raise InvalidDimensionError("plane", self.plane, "E or H")
        if self.position not in ("centre", "wall"):
            raise InvalidDimensionError("position", self.position, "centre or wall")
        self._check_lengths()
        for name in ("permittivity", "permeability"):
            value = getattr(self, name)
            if not (math.isfinite(value) and 0.1 <= value <= 1000.0):
                raise InvalidDimensionError(name, value, "from 0.1 to 1000")
        for name in ("loss_tangent", "magnetic_loss_tangent"):
            value = getattr(self, name)
            if not (math.isfinite(value) and 0.0 <= value <= _LARGEST_TANGENT):
                raise InvalidDimensionError(name, value, f"from 0 to {_LARGEST_TANGENT:g}")
        if abs(self.complex_permittivity * self.complex_permeability) > _LARGEST_INDEX_SQUARED:
            raise InvalidDimensionError(
                "permittivity",
                self.permittivity,
                f"at most {_LARGEST_INDEX_SQUARED:g} for the size of permittivity times "
                "permeability, losses included",
                "such a material reflects like a conductor",
            )

    def _check_lengths(self) -> None:
        for name in ("taper_length", "base_length"):
            value = getattr(self, name)
            if not (math.isfinite(value) and value >= 0.0):
                raise InvalidDimensionError(name, value, "finite and at least 0 m")
        if self.length <= 0.0:
            raise InvalidDimensionError(
                "base_length", self.base_length, "above 0 m where the taper has no length"
            )
        whole = self.width_in_plane
        width = self.base_width or whole
        if not (math.isfinite(width) and 0.0 < width <= whole * (1 + _FULL)):
            raise InvalidDimensionError(
                "base_width",
                self.base_width,
                f"above 0 and at most the inside width in the plane, {whole * 1e3:.6g} mm",
            )
        object.__setattr__(self, "base_width", whole if width > whole * (1 - _FULL) else width)

    @property
    def guides(self) -> tuple[RectangularGuide, ...]:
        """Guide at its one port."""
        return (self.guide,)

    @property
    def exact_plane(self) -> Plane:
        """Plane in which it tapers; the part is uniform across it."""
        return self.plane

    @property
    def axis_length(self) -> float:
        """From the tip to the short [m]."""
        return self.length

    @property
    def mirrors(self) -> frozenset[Mirror]:
        """The mirror across its plane, and that along it for an absorber in the middle."""
        across: Mirror = "x" if self.plane == "E" else "y"
        along: Mirror = "y" if self.plane == "E" else "x"
        return frozenset({across, along} if self.symmetric else {across})

    @property
    def has_sharp_edges(self) -> bool:
        """Whether the field has no bound at an edge of the absorber.

        In the E-plane the electric field crosses its edges; a blunt end that fills the guide has
        none.
        """
        return self.plane == "E" and not (self.blunt and self.fills)

    @property
    def width_in_plane(self) -> float:
        """Inside dimension of the guide in the plane [m]."""
        return width_in_plane(self.guide, self.plane)

    @property
    def length(self) -> float:
        """Of the taper and the base [m]."""
        return self.taper_length + self.base_length

    @property
    def blunt(self) -> bool:
        """Whether the absorber starts with its whole base."""
        return self.taper_length == 0.0

    @property
    def fills(self) -> bool:
        """Whether the base fills the guide."""
        return self.base_width == self.width_in_plane

    @property
    def symmetric(self) -> bool:
        """Whether the plane through the middle of the guide is a mirror."""
        return self.position == "centre" or (self.blunt and self.fills)

    @property
    def complex_permittivity(self) -> complex:
        """Relative permittivity eps' (1 - j tan delta) [-]."""
        return self.permittivity * (1 - 1j * self.loss_tangent)

    @property
    def complex_permeability(self) -> complex:
        """Relative permeability mu' (1 - j tan delta) [-]."""
        return self.permeability * (1 - 1j * self.magnetic_loss_tangent)

    @property
    def lossless(self) -> bool:
        """Whether nothing absorbs."""
        return self.loss_tangent == 0.0 and self.magnetic_loss_tangent == 0.0
