"""Exact map from a square, or a square ring, to a disc or a ring between two circles."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]


@dataclass(frozen=True)
class RoundChart:
    """Concentric squares become circles; the four diagonals stay where they are.

    With ``rho = max(|x|, |y|)`` a ring is ``1 <= rho <= 2``. A disc is ``rho <= 1``; its core
    ``rho <= 1/2`` keeps its shape, and the rest blends the core's side into the circle.

    Parameters
    ----------
    inner_radius : float
        0 for a disc [m].
    outer_radius : float
        [m]
    """

    inner_radius: float
    outer_radius: float

    def weights(self, points: Array) -> tuple[Array, Array]:
        """Stiffness tensor det(J) J^-1 J^-T, entries 11, 12, 22 [-], and det(J) [m^2]."""
        _, (xx, xy, yx, yy) = self._map(points)
        det = xx * yy - xy * yx
        tensor = np.stack([xy**2 + yy**2, -(xx * xy + yx * yy), xx**2 + yx**2]) / det
        return tensor, det

    def position(self, points: Array) -> Array:
        """Points of the metal [m], (2, ...), for points of the mesh."""
        return np.stack(self._map(points)[0])

    def _map(self, points: Array) -> tuple[tuple[Array, Array], tuple[Array, Array, Array, Array]]:
        """Positions (x, y) and derivatives dx/dX, dx/dY, dy/dX, dy/dY."""
        x, y = points
        turned = np.abs(y) > np.abs(x)
        u, v = np.where(turned, y, x), np.where(turned, -x, y)  # a quarter turn back
        sign = np.where(u < 0, -1.0, 1.0)
        (p, q), (pu, pv, qu, qv) = self._first_side(sign * u, sign * v)
        p, q = sign * p, sign * q
        # turn forward: (p, q) -> (-q, p) where it was turned, and the same for X, Y
        place = np.where(turned, -q, p), np.where(turned, p, q)
        slopes = (
            np.where(turned, qv, pu),
            np.where(turned, -qu, pv),
            np.where(turned, -pv, qu),
            np.where(turned, pu, qv),
        )
        if self.inner_radius > 0:
            return place, slopes
        core = np.maximum(np.abs(x), np.abs(y)) <= 0.5
        r = self.outer_radius
        still = (r, 0.0, 0.0, r)
        return (
            (np.where(core, r * x, place[0]), np.where(core, r * y, place[1])),
            tuple(np.where(core, s, slope) for s, slope in zip(still, slopes, strict=True)),  # type: ignore[return-value]
        )

    def _first_side(self, x: Array, y: Array) -> tuple[tuple[Array, Array], tuple[Array, ...]]:
        """The same where ``x >= |y|``."""
        x = np.where(x == 0, 1e-300, x)
        across = y / x
        angle = 0.25 * np.pi * across
        cos, sin, turn = np.cos(angle), np.sin(angle), 0.25 * np.pi
        if self.inner_radius > 0:
            gap = self.outer_radius - self.inner_radius
            r = self.inner_radius + (x - 1.0) * gap
            place = r * cos, r * sin
            along = gap * cos, gap * sin
            around = -turn * r * sin, turn * r * cos
        else:
            r = np.full_like(x, self.outer_radius)
            t = 2.0 * x - 1.0
            side = 0.5 * r, 0.5 * r * across
            rim = r * cos, r * sin
            place = (1 - t) * side[0] + t * rim[0], (1 - t) * side[1] + t * rim[1]
            along = 2.0 * (rim[0] - side[0]), 2.0 * (rim[1] - side[1])
            around = -turn * t * r * sin, (1 - t) * 0.5 * r + turn * t * r * cos
        # d/dX = d/drho - (across / x) d/dacross, d/dY = (1 / x) d/dacross
        slopes = []
        for along_part, around_part in zip(along, around, strict=True):
            slopes += [along_part - across / x * around_part, around_part / x]
        return (place[0], place[1]), tuple(slopes)
