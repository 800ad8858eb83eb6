"""Cross-sections of uniform guides beyond the rectangle and the circle."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import ClassVar

import numpy as np
from numpy.typing import NDArray

from geometries.errors import InvalidDimensionError
from geometries.guides import CircularGuide, RectangularGuide


@dataclass(frozen=True)
class CoaxialSection:
    """The ring between two coaxial round conductors.

    Parameters
    ----------
    inner_diameter : float
        Diameter of the inner conductor [m].
    outer_diameter : float
        Inside diameter of the outer conductor [m].

    Raises
    ------
    InvalidDimensionError
    """

    kind: ClassVar[str] = "coaxial"

    inner_diameter: float
    outer_diameter: float

    def __post_init__(self) -> None:
        for quantity in ("outer_diameter", "inner_diameter"):
            value = getattr(self, quantity)
            if not (math.isfinite(value) and value > 0):
                raise InvalidDimensionError(quantity, value, "finite and above 0 m")
        if not self.inner_diameter < self.outer_diameter:
            raise InvalidDimensionError(
                "inner_diameter", self.inner_diameter, f"below the outer, {self.outer_diameter:g} m"
            )


@dataclass(frozen=True)
class PolygonSection:
    """The inside of a polygon.

    Parameters
    ----------
    vertices : tuple of (float, float)
        Corners in order [m], either way round.

    Raises
    ------
    InvalidDimensionError
        If there are fewer than three, or the outline crosses or touches itself.
    """

    kind: ClassVar[str] = "polygon"

    vertices: tuple[tuple[float, float], ...]

    def __post_init__(self) -> None:
        points = self.outline
        if len(points) < 3 or points.ndim != 2 or not np.isfinite(points).all():
            raise InvalidDimensionError("vertices", self.vertices, "three or more finite points")
        if _crosses_itself(points):
            raise InvalidDimensionError(
                "vertices", len(points), "corners of an outline that does not cross itself"
            )

    @property
    def outline(self) -> NDArray[np.float64]:
        """Corners (n, 2) [m]."""
        return np.asarray(self.vertices, dtype=float)

    @property
    def reentrant(self) -> tuple[int, ...]:
        """Corners whose inside angle is above 180 degrees: fields are singular there."""
        before = self.outline - np.roll(self.outline, 1, axis=0)
        after = np.roll(before, -1, axis=0)
        turn = before[:, 0] * after[:, 1] - before[:, 1] * after[:, 0]
        scale = np.hypot(*before.T) * np.hypot(*after.T)
        inwards = turn * np.sign(_signed_area(self.outline)) < -1e-9 * scale
        return tuple(int(i) for i in np.flatnonzero(inwards))


@dataclass(frozen=True)
class RidgedSection:
    """A rectangular guide with one or two ridges in the middle of its broad walls.

    Parameters
    ----------
    guide : RectangularGuide
    ridge_width : float
        [m]
    gap : float
        From ridge to ridge, or from the ridge to the wall across [m].
    ridges : int
        1 or 2.

    Raises
    ------
    InvalidDimensionError
    """

    kind: ClassVar[str] = "ridged"

    guide: RectangularGuide
    ridge_width: float
    gap: float
    ridges: int = 2

    def __post_init__(self) -> None:
        for quantity, limit in (
            ("ridge_width", self.guide.broad_width),
            ("gap", self.guide.narrow_height),
        ):
            value = getattr(self, quantity)
            if not 0 < value < limit:
                raise InvalidDimensionError(quantity, value, f"above 0 and below {limit:g} m")
        if self.ridges not in (1, 2):
            raise InvalidDimensionError("ridges", self.ridges, "1 or 2")

    @property
    def polygon(self) -> PolygonSection:
        """The outline, the guide's centre at the origin, the (first) ridge below."""
        a, b = self.guide.broad_width / 2, self.guide.narrow_height / 2
        s = self.ridge_width / 2
        top = self.gap / 2 if self.ridges == 2 else b
        low = top - self.gap
        lower = [(-a, -b), (-s, -b), (-s, low), (s, low), (s, -b), (a, -b)]
        upper = [(a, b), (s, b), (s, top), (-s, top), (-s, b), (-a, b)]
        return PolygonSection(tuple(lower + (upper if self.ridges == 2 else [(a, b), (-a, b)])))


Section = RectangularGuide | CircularGuide | CoaxialSection | PolygonSection | RidgedSection


def _signed_area(outline: NDArray[np.float64]) -> float:
    x, y = outline.T
    return 0.5 * float(np.sum(x * np.roll(y, -1) - y * np.roll(x, -1)))


def _crosses_itself(outline: NDArray[np.float64]) -> bool:
    """Whether two sides that are not neighbours meet, or a side has no length."""
    count = len(outline)
    ends = np.roll(outline, -1, axis=0)
    if (np.hypot(*(ends - outline).T) == 0).any():
        return True

    def side(p: NDArray[np.float64], q: NDArray[np.float64], r: NDArray[np.float64]) -> float:
        return float(np.sign((q[0] - p[0]) * (r[1] - p[1]) - (q[1] - p[1]) * (r[0] - p[0])))

    def apart(i: int, j: int) -> bool:
        p, q, r, s = outline[i], ends[i], outline[j], ends[j]
        if side(p, q, r) * side(p, q, s) > 0 or side(r, s, p) * side(r, s, q) > 0:
            return True
        boxes = [(np.minimum(*pair), np.maximum(*pair)) for pair in ((p, q), (r, s))]
        return bool((boxes[0][1] < boxes[1][0]).any() or (boxes[1][1] < boxes[0][0]).any())

    return any(
        not apart(i, j) for i in range(count) for j in range(i + 2, count) if (j + 1) % count != i
    )
