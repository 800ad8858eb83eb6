"""Waves that leave through a half sphere on an endless flat metal wall.

The axis of the part is the polar axis, the wall the plane z = 0, and the half sphere of radius R
stands about the opening in it. Outside, every field that leaves is a sum of spherical waves with
the Hankel functions h(kr) = k r h_n(2)(k r) of Riccati and of Schelkunoff; the wall keeps those of
TM kind with n + m even and those of TE kind with n + m odd. Each wave sees an admittance of its
own, which is known at complex frequencies too.
Source: R. F. Harrington, "Time-Harmonic Electromagnetic Fields", 1961, chapter 6.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from geometries.arrays import Array, ComplexArray, Numbers
from geometries.cells.space_ports import HALF_SPHERE
from solver.waves.open_boundaries import OpenBoundary
from solver.waves.spherical_functions import (
    far_phases,
    hankel_slopes,
    legendre_over_sine,
    orders_needed,
)

#: What is wanted of the far field's amplitudes in space, over what is wanted of S.
_FINER = 0.1
#: Orders beyond those that travel at the half sphere, of fields that are not driven.
_ORDERS_MORE = 2


@dataclass(frozen=True)
class SphericalWave:
    """One wave: its orders about the axis and along the meridian, and its kind."""

    n: int
    m: int
    kind: Literal["TE", "TM"]


@dataclass(frozen=True)
class SphericalWaves(OpenBoundary):
    """Waves at a half sphere that TE10, or TE11 with E along y, can drive.

    The plane x = 0 is a magnetic and y = 0 an electric wall: E_r goes as sin(m phi) and H_r as
    cos(m phi), with m odd.

    Parameters
    ----------
    waves : tuple of SphericalWave
    radius : float
        Of the half sphere [m].
    """

    waves: tuple[SphericalWave, ...]
    radius: float
    name: str = HALF_SPHERE

    @property
    def count(self) -> int:
        """Number of waves."""
        return len(self.waves)

    def leaves(self, squared: Array) -> NDArray[np.bool_]:
        """Whether a wave travels at the half sphere already, (n, waves)."""
        return _travels(self._orders, squared, self.radius)

    def admittance(self, squared: Array | ComplexArray) -> ComplexArray:
        """Y of the waves [rad/m], n x curl E = j Y E where they leave, (n, waves).

        Parameters
        ----------
        squared : (n,) array
            Squared free-space wavenumber, real or complex [rad^2/m^2].

        Notes
        -----
        Y = j k h'/h for TE and -j k h/h' for TM, with h and h' at k R.
        """
        k = np.sqrt(np.asarray(squared, dtype=complex))[:, None]
        slope = hankel_slopes(self._orders, k[:, 0] * self.radius)
        return np.asarray(np.where(self._magnetic, -1j * k / slope, 1j * k * slope))

    def far_phases(self, squared: Array) -> ComplexArray:
        """Factor (n, waves) of size 1 from amplitudes of power to those of the far field.

        With them the field far off is the sum of amplitude times `far_field`, times
        exp(-j k r)/r and what is common to all waves.
        """
        k = np.sqrt(np.asarray(squared, dtype=float))
        return far_phases(self._orders, k * self.radius, self._magnetic)

    def fields(self, points: Array) -> Array:
        """Tangential fields (waves, 3, p) [1/m] at points (3, p), of unit square integral.

        The integral is that over a quarter of the half sphere.
        """
        x, y, z = points
        along = np.hypot(x, y)
        theta, phi = np.arctan2(along, z), np.arctan2(y, x)
        up, around = self.components(theta, phi)
        sine, cosine = np.sin(theta), np.cos(theta)
        c, s = np.cos(phi), np.sin(phi)
        e_theta, e_phi = np.stack([cosine * c, cosine * s, -sine]), np.stack([-s, c, 0 * c])
        values = up[:, None] * e_theta + around[:, None] * e_phi
        return np.asarray(values / self.radius)

    def finer(self, leaving: ComplexArray, s_error: float) -> float:
        """Less exactly than S; see `OpenBoundary.finer`. A pattern is wanted to some 0.1 dB."""
        return _FINER

    def far_field(self, theta: Array, phi: Array) -> tuple[Array, Array]:
        """Far field of each wave along theta and phi, (waves, p) each.

        Its square integrates to 1 over the whole half sphere.
        """
        up, around = self.components(theta, phi)
        return 0.5 * up, 0.5 * around

    def components(self, theta: Array, phi: Array) -> tuple[Array, Array]:
        """Fields of the waves along theta and phi on the unit sphere, (waves, p) each."""
        up, around = np.empty((2, self.count, np.size(theta)))
        for m in np.unique(self._turns):
            here = np.flatnonzero(self._turns == m)
            orders = self._orders[here]
            over_sine, slopes = legendre_over_sine(int(m), int(orders.max()), np.asarray(theta))
            part = over_sine[orders - m] * m, slopes[orders - m]
            # half of the meridian, a quarter of the parallel
            size = 1.0 / np.sqrt(orders * (orders + 1) * 0.5 * math.pi / 4)[:, None]
            sine, cosine = np.sin(m * phi), np.cos(m * phi)
            magnetic = self._magnetic[here][:, None]
            up[here] = size * np.where(magnetic, part[1] * sine, part[0] * sine)
            around[here] = size * np.where(magnetic, part[0] * cosine, part[1] * cosine)
        return up, around

    @property
    def _orders(self) -> Numbers:
        return np.array([wave.n for wave in self.waves])

    @property
    def _turns(self) -> Numbers:
        return np.array([wave.m for wave in self.waves])

    @property
    def _magnetic(self) -> np.ndarray:
        return np.array([wave.kind == "TM" for wave in self.waves])


@dataclass(frozen=True)
class RevolvedWaves(OpenBoundary):
    """Waves at a half sphere that do not vary about the axis, as psi = r H_phi.

    Those of TM kind with odd n: a dipole on the axis, a sextupole and so on.

    Parameters
    ----------
    orders : (waves,) tuple of int
        The n.
    radius : float
        Of the half sphere [m].
    """

    orders: tuple[int, ...]
    radius: float
    name: str = HALF_SPHERE

    @property
    def count(self) -> int:
        """Number of waves."""
        return len(self.orders)

    def admittance(self, squared: Array | ComplexArray) -> ComplexArray:
        """Return j psi'/psi = j k h'/h of waves that leave, (n, waves) [rad/m]."""
        k = np.sqrt(np.asarray(squared, dtype=complex))
        return np.asarray(1j * k[:, None] * hankel_slopes(self._orders, k * self.radius))

    def leaves(self, squared: Array) -> NDArray[np.bool_]:
        """Whether a wave travels at the half sphere already, (n, waves)."""
        return _travels(self._orders, squared, self.radius)

    def far_phases(self, squared: Array) -> ComplexArray:
        """Factor (n, waves) of size 1 from amplitudes of power to those of the far field."""
        k = np.sqrt(np.asarray(squared, dtype=float))
        return far_phases(self._orders, k * self.radius, False)

    def fields(self, points: Array) -> Array:
        """Functions (waves, ...) of the angle from the axis [rad], orthonormal with weight 1/r.

        They hold that weight already.
        """
        values = legendre_over_sine(1, max(self.orders), np.ravel(points))[0]
        values = values[self._orders - 1].reshape(-1, *np.shape(points))
        return np.asarray(math.sqrt(2.0) / self.radius * np.sin(points) * values)

    def far_field(self, theta: Array, phi: Array) -> tuple[Array, Array]:
        """Far field of each wave along theta and phi, (waves, p) each.

        Its square integrates to 1 over the whole half sphere.
        """
        values = legendre_over_sine(1, max(self.orders), theta)[0][self._orders - 1]
        up = values * np.sin(theta) / math.sqrt(math.pi)
        return up, np.zeros_like(up)

    @property
    def _orders(self) -> Numbers:
        return np.array(self.orders)


def _travels(orders: Numbers, squared: Array, radius: float) -> NDArray[np.bool_]:
    return np.asarray(np.sqrt(squared)[:, None] * radius > orders)


def spherical_waves(
    radius: float, opening: float, highest: float, leftover: float, driven: int | None = None
) -> SphericalWaves:
    """Choose the waves that a half sphere needs.

    Parameters
    ----------
    radius : float
        Of the half sphere [m].
    opening : float
        Farthest point of the opening from the axis [m].
    highest : float
        Highest free-space wavenumber [rad/m].
    leftover : float
        See `orders_needed`.
    driven : int, optional
        The one order about the axis that is driven, where all is round. What the mesh holds of
        the others has to get out, or it would ring, but need not do so exactly.
    """
    most = orders_needed(radius, opening, highest, leftover)
    travelling = math.ceil(highest * radius) + _ORDERS_MORE
    waves = []
    for m in range(1, most + 1, 2):
        last = most if driven in (None, m) else min(most, travelling)
        for n in range(m, last + 1):
            waves.append(SphericalWave(n, m, "TE" if (n + m) % 2 == 0 else "TM"))
    return SphericalWaves(tuple(waves), radius)


def harmonic_waves(
    radius: float, opening: float, highest: float, leftover: float
) -> SphericalWaves:
    """Choose the waves that a half sphere needs for fields that vary once about the axis.

    Parameters
    ----------
    radius, opening, highest, leftover
        As those of `spherical_waves`.
    """
    every = spherical_waves(radius, opening, highest, leftover).waves
    return SphericalWaves(tuple(wave for wave in every if wave.m == 1), radius)


def revolved_waves(radius: float, opening: float, highest: float, leftover: float) -> RevolvedWaves:
    """Choose the waves that a half sphere needs where nothing varies about the axis.

    Parameters
    ----------
    radius, opening, highest, leftover
        As those of `spherical_waves`.
    """
    most = orders_needed(radius, opening, highest, leftover)
    return RevolvedWaves(tuple(range(1, most + 1, 2)), radius)
