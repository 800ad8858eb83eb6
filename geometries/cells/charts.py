"""Exact maps from the developed plane of a part to the metal itself.

A swept part is meshed in developed coordinates: s along the axis, t across it,
positive towards the outside of the bend.  Metres along s at the axis are metres of
metal there; at the distance t they are h = 1 + t/R metres.  The map is exact, so a
coarse mesh of high order carries no error of geometry.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, Protocol

import numpy as np

from geometries.arrays import Array
from geometries.shapes.bends import Bend


class Chart(Protocol):
    """What a solver asks of a map; the methods are explained in `PlainChart`."""

    def weights(self, points: Array) -> tuple[Any, Any]:
        """Return the tensors of curl-curl and mass; complex where the map is."""

    def stretch(self, points: Array) -> Array:
        """Return the derivatives of the map."""

    def position(self, points: Array) -> Array:
        """Return places in space [m]."""


@dataclass(frozen=True)
class PlainChart:
    """The mesh is drawn in the metal's own coordinates."""

    def weights(self, points: Array) -> tuple[Array, Array]:
        """Stiffness tensor and mass weight of the Laplacian in these coordinates.

        Parameters
        ----------
        points : (2, ...) array
            Points of the mesh [m].

        Returns
        -------
        (3, ...) array
            Entries 11, 12, 22 of the symmetric tensor det(J) J^-1 J^-T [-].
        (...) array
            det(J) [-].
        """
        one = np.ones(points.shape[1:])
        return np.stack([one, np.zeros_like(one), one]), one

    def stretch(self, points: Array) -> Array:
        """Metres of metal for each metre of mesh along a wall, (...) [-]."""
        return np.ones(points.shape[1:])

    def position(self, points: Array) -> Array:
        """Points of the metal [m], (2, ...), for points of the mesh."""
        return points


@dataclass(frozen=True)
class SweptChart:
    """Straight feed, circular arc, straight feed; s = 0 and s = arc_length are its ends.

    Parameters
    ----------
    mean_radius : float
        Radius of the axis [m].
    angle : float
        Angle of the arc [rad].
    """

    mean_radius: float
    angle: float

    @property
    def arc_length(self) -> float:
        """Length of the axis along the arc [m]."""
        return self.mean_radius * self.angle

    def weights(self, points: Array) -> tuple[Array, Array]:
        """Stiffness tensor diag(1/h, h) and mass weight h, as `PlainChart.weights`."""
        h = self.stretch(points)
        return np.stack([1.0 / h, np.zeros_like(h), h]), h

    def stretch(self, points: Array) -> Array:
        """Metres of metal for each metre of mesh along the axis, (...) [-]."""
        s, t = points
        on_arc = (s > 0.0) & (s < self.arc_length)
        return np.where(on_arc, 1.0 + t / self.mean_radius, 1.0)

    def position(self, points: Array) -> Array:
        """Points of the metal [m]: the axis starts at the origin along +x and turns left."""
        s, t = points
        turned = np.clip(s / self.mean_radius, 0.0, self.angle)
        straight = s - turned * self.mean_radius
        r = self.mean_radius + t
        return np.stack(
            [
                r * np.sin(turned) + straight * np.cos(turned),
                self.mean_radius - r * np.cos(turned) + straight * np.sin(turned),
            ]
        )

    def development(self, position: Array) -> Array:
        """Developed coordinates (s, t) [m] of points of the metal; inverse of `position`."""
        x, y = position
        turned = np.arctan2(x, self.mean_radius - y)
        # behind the first end the point lies left of it, beyond the last end past its plane
        turned = np.where(turned < -0.5 * (2 * np.pi - self.angle), turned + 2 * np.pi, turned)
        turned = np.clip(turned, 0.0, self.angle)
        cos, sin = np.cos(turned), np.sin(turned)
        straight = x * cos + (y - self.mean_radius) * sin
        across = x * sin - (y - self.mean_radius) * cos - self.mean_radius
        return np.stack([turned * self.mean_radius + straight, across])


@dataclass(frozen=True)
class BentChart:
    """Straight feed, bend of any profile, straight feed; s = 0 and s = arc length are its ends.

    Parameters
    ----------
    bend : Bend
    """

    bend: Bend

    def weights(self, points: Array) -> tuple[Array, Array]:
        """Stiffness tensor diag(1/h, h) and mass weight h, as `PlainChart.weights`."""
        h = self.stretch(points)
        return np.stack([1.0 / h, np.zeros_like(h), h]), h

    def stretch(self, points: Array) -> Array:
        """Metres of metal for each metre of mesh along the axis, (...) [-]."""
        s, t = points
        length = self.bend.arc_length
        _, curvature = self.bend.turned(np.clip(s, 0.0, length))
        return np.where((s > 0.0) & (s < length), 1.0 + t * curvature, 1.0)

    def position(self, points: Array) -> Array:
        """Points of the metal [m]: the axis starts at the origin along +x and turns left."""
        s, t = points
        on_axis = np.clip(s, 0.0, self.bend.arc_length)
        turned, _ = self.bend.turned(on_axis)
        ahead = np.stack([np.cos(turned), np.sin(turned)])
        outward = np.stack([ahead[1], -ahead[0]])
        return self.bend.axis(on_axis) + (s - on_axis) * ahead + t * outward
