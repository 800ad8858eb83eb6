"""Exact shapes whose cross-section is, or becomes, a circle: a square core and four blocks around.

The core is the rectangle itself on a smaller scale. Each block joins one side of the core to the
outline, along straight lines from the fraction eta in [-1, 1] of the side to the point of the
outline that belongs to eta. Between a rectangle and a circle every point moves on a straight line,
so that the outline follows the ruled loft of `geometries.shapes.transitions.Transition`.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from geometries.arrays import Array

Mapping = Callable[[Array], tuple[Array, Array]]
Plane = tuple[Array, Array]

#: Size of the core over that of the outline, at the corners.
CORE = 0.5


@dataclass(frozen=True)
class RoundSection:
    """Blocks of a cross-section between a rectangle (fraction 0) and a circle (fraction 1).

    Parameters
    ----------
    width, height : float
        Sides of the rectangle [m].
    diameter : float
        Diameter of the circle [m].
    """

    width: float
    height: float
    diameter: float

    @property
    def corner_angle(self) -> float:
        """Angle of the circle's point that belongs to a corner [rad]."""
        return math.atan2(self.height, self.width)

    def core(self, u: Array, v: Array) -> tuple[Plane, Plane]:
        """Core at u, v in [-1, 1]: of the rectangle and of the circle, each as in `side`."""
        half = 0.5 * CORE * np.array([self.width, self.height])
        grow = self.diameter / math.hypot(self.width, self.height)
        return _rectangle(half, u, v), _rectangle(grow * half, u, v)

    def side(self, number: int, eta: Array, rho: Array) -> tuple[Plane, Plane]:
        """Block at the +x, +y, -x or -y side (0 to 3): of the rectangle and of the circle.

        eta runs anticlockwise along the side, rho from 0 at the core to 1 at the outline.
        Each is a pair of points (2, n) and derivatives (2, 2, n) by (rho, eta).
        """
        narrow = number % 2 == 0
        half = 0.5 * np.array([self.width, self.height])
        reach, along = (half[0], half[1]) if narrow else (half[1], half[0])
        spread = self.corner_angle if narrow else 0.5 * math.pi - self.corner_angle
        grow = self.diameter / math.hypot(self.width, self.height)
        one, zero = np.ones_like(eta), np.zeros_like(eta)
        flat = np.stack([reach * one, along * eta]), np.stack([zero, along * one])
        radius = 0.5 * self.diameter
        cos, sin = np.cos(spread * eta), np.sin(spread * eta)
        arc = radius * np.stack([cos, sin]), radius * spread * np.stack([-sin, cos])
        rectangle = _between([CORE * x for x in flat], flat, rho)
        circle = _between([CORE * grow * x for x in flat], arc, rho)
        return _turned(rectangle, number), _turned(circle, number)

    def mapping(
        self, block: str | int, fraction: Callable[[Array], tuple[Array, float]]
    ) -> Mapping:
        """Map of one block, swept along z.

        Parameters
        ----------
        block : "core" or int
            The core, whose parameters are (u, v, z), or the number of a side, whose parameters
            are (rho, eta, z).
        fraction : callable
            Takes z, returns the fraction of the way from rectangle to circle and its slope.
        """

        def mapping(parameters: Array) -> tuple[Array, Array]:
            first, second, z = parameters
            if isinstance(block, int):
                rectangle, circle = self.side(block, second, first)
            else:
                rectangle, circle = self.core(first, second)
            t, slope = fraction(z)
            points = np.empty((3, z.size))
            points[:2] = (1 - t) * rectangle[0] + t * circle[0]
            points[2] = z
            derivatives = np.zeros((3, 3, z.size))
            derivatives[:2, :2] = (1 - t) * rectangle[1] + t * circle[1]
            derivatives[:2, 2] = slope * (circle[0] - rectangle[0])
            derivatives[2, 2] = 1.0
            return points, derivatives

        return mapping


def _rectangle(half: Array, u: Array, v: Array) -> Plane:
    one, zero = np.ones_like(u), np.zeros_like(u)
    points = np.stack([half[0] * u, half[1] * v])
    by_u, by_v = np.stack([half[0] * one, zero]), np.stack([zero, half[1] * one])
    return points, np.stack([by_u, by_v], axis=1)


def _between(inner: tuple[Array, Array] | list[Array], outer: Plane, rho: Array) -> Plane:
    """Straight lines from an inner to an outer curve, each given with its derivative by eta."""
    points = (1 - rho) * inner[0] + rho * outer[0]
    by_eta = (1 - rho) * inner[1] + rho * outer[1]
    return points, np.stack([outer[0] - inner[0], by_eta], axis=1)


def _turned(plane: Plane, quarters: int) -> Plane:
    """Turn points and derivatives by quarters of a turn."""
    turn = np.linalg.matrix_power(np.array([[0, -1], [1, 0]]), quarters)
    return np.tensordot(turn, plane[0], axes=1), np.tensordot(turn, plane[1], axes=1)
