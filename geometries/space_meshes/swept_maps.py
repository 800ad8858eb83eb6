"""Exact shapes of parts with a rectangular cross-section, swept along an axis.

A point of the part is c(s) + u A(s) + v B(s), with s the position along the axis from the first
end, c the axis, A and B the two walls as vectors, and u, v from -1/2 to 1/2. The first end lies
at the origin, with the axis along +z, the broad wall along x and the narrow wall along y.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from functools import singledispatch

import numpy as np

from geometries.arrays import Array
from geometries.errors import MeshingError
from geometries.shapes.bends import Bend
from geometries.shapes.dents import Dent
from geometries.shapes.guides import RectangularGuide
from geometries.shapes.part import kind_of
from geometries.shapes.straights import Straight
from geometries.shapes.tapers import Taper
from geometries.shapes.twists import Twist


@dataclass(frozen=True, eq=False)
class Section:
    """Cross-sections at n stations.

    Parameters
    ----------
    centre, broad, narrow : (3, n) array
        Axis, and the two walls as vectors [m].
    """

    centre: Array
    broad: Array
    narrow: Array


Sweep = Callable[[Array], tuple[Section, Section]]
Mapping = Callable[[Array], tuple[Array, Array]]


def swept_map(sweep: Sweep) -> Mapping:
    """Map (u, v, s) (3, n) to points (3, n) and derivatives (3, 3, n)."""

    def mapping(parameters: Array) -> tuple[Array, Array]:
        u, v, s = parameters
        at, slope = sweep(s)
        points = at.centre + u * at.broad + v * at.narrow
        along = slope.centre + u * slope.broad + v * slope.narrow
        return points, np.stack([at.broad, at.narrow, along], axis=1)

    return mapping


def straight_on(sweep: Sweep, end: float) -> Sweep:
    """Return the straight guide that continues a sweep beyond the station `end` [m]."""
    at, _ = sweep(np.array([end]))
    normal = np.cross(at.broad[:, 0], at.narrow[:, 0])
    normal = (normal / np.linalg.norm(normal))[:, None]

    def feed(s: Array) -> tuple[Section, Section]:
        none = np.zeros((3, s.size))
        still = (at.broad + none, at.narrow + none)
        return Section(at.centre + normal * (s - end), *still), Section(normal + none, none, none)

    return feed


@singledispatch
def sweep_of(part: object) -> Sweep:
    """Return the cross-sections of a part between its two ends, and their derivatives by s.

    Parameters
    ----------
    part : Straight, Bend, Twist, Taper or Dent

    Raises
    ------
    MeshingError
        For a part that is not swept.
    """
    raise MeshingError(f"a {kind_of(part)} is not a swept part")


@sweep_of.register
def _(part: Straight) -> Sweep:
    if not isinstance(part.guide, RectangularGuide):
        raise MeshingError("a round guide has no broad and narrow wall to sweep")
    return _upright_sweep(part.guide)


@sweep_of.register
def _(part: Dent) -> Sweep:
    return _upright_sweep(part.guide)


def _upright_sweep(guide: RectangularGuide) -> Sweep:
    a, b = guide.broad_width, guide.narrow_height

    def sweep(s: Array) -> tuple[Section, Section]:
        one, none = np.ones_like(s), np.zeros((3, s.size))
        at = Section(_along_z(s), _along_x(a * one), _along_y(b * one))
        return at, Section(_along_z(one), none, none)

    return sweep


@sweep_of.register
def _(part: Taper) -> Sweep:
    def sweep(s: Array) -> tuple[Section, Section]:
        (a, da), (b, db) = part.width(s), part.height(s)
        at = Section(_along_z(s), _along_x(a), _along_y(b))
        return at, Section(_along_z(np.ones_like(s)), _along_x(da), _along_y(db))

    return sweep


@sweep_of.register
def _(part: Twist) -> Sweep:
    a, b = part.guide.broad_width, part.guide.narrow_height

    def sweep(s: Array) -> tuple[Section, Section]:
        turned, rate = part.turned(s)
        cos, sin, zero = np.cos(turned), np.sin(turned), np.zeros_like(s)
        x, y = np.stack([cos, sin, zero]), np.stack([-sin, cos, zero])
        at = Section(_along_z(s), a * x, b * y)
        return at, Section(_along_z(np.ones_like(s)), a * rate * y, -b * rate * x)

    return sweep


@sweep_of.register
def _(part: Bend) -> Sweep:
    """The axis turns away from +y (E-plane) or +x (H-plane), where the outer wall lies."""
    a, b = part.guide.broad_width, part.guide.narrow_height
    e_plane = part.plane == "E"

    def sweep(s: Array) -> tuple[Section, Section]:
        turned, curvature = part.turned(s)
        cos, sin, zero = np.cos(turned), np.sin(turned), np.zeros_like(s)
        one, none = np.ones_like(s), np.zeros((3, s.size))
        out = np.stack([zero, cos, sin] if e_plane else [cos, zero, sin])
        ahead = np.stack([zero, -sin, cos] if e_plane else [-sin, zero, cos])
        along, across = part.axis(s)
        centre = np.stack([zero, -across, along] if e_plane else [-across, zero, along])
        if e_plane:
            at = Section(centre, _along_x(a * one), b * out)
            return at, Section(ahead, none, b * curvature * ahead)
        at = Section(centre, a * out, _along_y(b * one))
        return at, Section(ahead, a * curvature * ahead, none)

    return sweep


def dented_map(dent: Dent) -> Mapping:
    """Map (u, v, s) to the inside of a dented guide: points (3, n), derivatives (3, 3, n).

    The dent's depth dies out linearly from the dented wall, at +1/2, to the opposite one.
    """
    a, b = dent.guide.broad_width, dent.guide.narrow_height
    plain = swept_map(_upright_sweep(dent.guide))
    wall, other = (1, 0) if dent.wall == "broad" else (0, 1)

    def mapping(parameters: Array) -> tuple[Array, Array]:
        points, derivatives = plain(parameters)
        share = parameters[wall] + 0.5
        depth, by_t, by_z = dent.pressed(points[other], parameters[2])
        points[wall] -= depth * share
        derivatives[wall, wall] -= depth
        derivatives[wall, other] -= by_t * (a, b)[other] * share
        derivatives[wall, 2] -= by_z * share
        return points, derivatives

    return mapping


def _along_x(size: Array) -> Array:
    return np.stack([size, np.zeros_like(size), np.zeros_like(size)])


def _along_y(size: Array) -> Array:
    return np.stack([np.zeros_like(size), size, np.zeros_like(size)])


def _along_z(size: Array) -> Array:
    return np.stack([np.zeros_like(size), np.zeros_like(size), size])
