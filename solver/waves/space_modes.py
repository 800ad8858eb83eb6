"""Analytic port modes of rectangular and circular guides, as vector fields in space.

Transverse electric fields are normalised so that the integral of their square over the
port is 1.  Formulas: N. Marcuvitz, "Waveguide Handbook", 1951, sections 2.2 and 2.3
(normalisation as there, in the local frame of the port; quoted from memory).
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from scipy.special import jn_zeros, jnp_zeros, jv, jvp

from geometries.arrays import Array
from geometries.shapes.guides import CircularGuide, RectangularGuide
from solver.waves.guide_modes import SPEED_OF_LIGHT, mode_cutoffs
from solver.waves.scattering import PortMode


@dataclass(frozen=True)
class SpaceMode:
    """One mode of a guide.

    Parameters
    ----------
    guide : RectangularGuide or CircularGuide
    kind : {"TE", "TM"}
    m, n : int
        Indices of the mode.
    turned : bool
        For a circular guide: the polarisation that depends on the azimuth as sin instead
        of cos.
    """

    guide: RectangularGuide | CircularGuide
    kind: str
    m: int
    n: int
    turned: bool = False

    @property
    def wavenumber(self) -> float:
        """Cutoff wavenumber [rad/m]."""
        if isinstance(self.guide, RectangularGuide):
            return math.pi * math.hypot(
                self.m / self.guide.broad_width, self.n / self.guide.narrow_height
            )
        zeros = jnp_zeros if self.kind == "TE" else jn_zeros
        return float(zeros(self.m, self.n)[-1]) / self.guide.radius

    @property
    def name(self) -> str:
        """Name as ``"TE10"``; a circular mode whose E lies along the x axis ends in a prime."""
        other = self.turned == (self.kind == "TE")
        return f"{self.kind}{self.m}{self.n}" + ("'" if self._twofold and other else "")

    @property
    def _twofold(self) -> bool:
        return isinstance(self.guide, CircularGuide) and self.m > 0

    @property
    def symmetry(self) -> tuple[int, int]:
        """Class under the mirrors x -> -x and y -> -y; modes of different class keep apart.

        (m mod 2, n mod 2) for a rectangular guide; a circular mode has the class of the
        rectangular modes that it looks like.
        """
        if isinstance(self.guide, RectangularGuide):
            return self.m % 2, self.n % 2
        odd_x = (self.m + self.turned) % 2  # parity of cos or sin of m phi
        odd_y = int(self.turned)
        return (odd_x, odd_y) if self.kind == "TE" else (1 - odd_x, 1 - odd_y)

    def port_mode(self, port: int) -> PortMode:
        """Name and cutoff frequency at a port."""
        return PortMode(port, self.name, self.wavenumber * SPEED_OF_LIGHT / (2 * math.pi))

    def field(self, x: Array, y: Array) -> Array:
        """Transverse electric field (2, n) [1/m] at points counted from the axis [m]."""
        if isinstance(self.guide, RectangularGuide):
            return self._rectangular(self.guide, x, y)
        return self._circular(self.guide, x, y)

    @property
    def peak(self) -> float:
        """Largest transverse field, read on a fine grid of the section [1/m]."""
        if isinstance(self.guide, RectangularGuide):
            sides = (self.guide.broad_width, self.guide.narrow_height)
            grid = np.meshgrid(*(np.linspace(-side / 2, side / 2, 61) for side in sides))
            x, y = (c.ravel() for c in grid)
        else:
            radii = np.linspace(0, self.guide.radius, 60)
            r, turn = np.meshgrid(radii, np.linspace(0, 2 * np.pi, 73))
            x, y = (r * np.cos(turn)).ravel(), (r * np.sin(turn)).ravel()
        return float(np.linalg.norm(self.field(x, y), axis=0).max())

    def _rectangular(self, guide: RectangularGuide, x: Array, y: Array) -> Array:
        a, b = guide.broad_width, guide.narrow_height
        kx, ky = self.m * math.pi / a, self.n * math.pi / b
        sx, cx = np.sin(kx * (x + a / 2)), np.cos(kx * (x + a / 2))
        sy, cy = np.sin(ky * (y + b / 2)), np.cos(ky * (y + b / 2))
        size = math.sqrt(4.0 / (a * b) / (1.0 if self.m and self.n else 2.0)) / self.wavenumber
        if self.kind == "TE":
            return size * np.stack([-ky * cx * sy, kx * sx * cy])
        return size * np.stack([kx * cx * sy, ky * sx * cy])

    def _circular(self, guide: CircularGuide, x: Array, y: Array) -> Array:
        m, k = self.m, self.wavenumber
        radius = np.hypot(x, y)
        angle = np.arctan2(y, x)
        across = k * jvp(m, k * radius)
        around = 0.5 * k * (jv(m - 1, k * radius) + jv(m + 1, k * radius)) if m else 0.0 * x
        cos, sin = np.cos(m * angle), np.sin(m * angle)
        slope = (across * sin, around * cos) if self.turned else (across * cos, -around * sin)
        radial, azimuthal = (-slope[1], slope[0]) if self.kind == "TE" else slope
        rim = k * guide.radius
        energy = (1 + (m == 0)) * math.pi / 2
        if self.kind == "TE":
            energy *= (rim**2 - m**2) * float(jv(m, rim)) ** 2
        else:
            energy *= (rim * float(jvp(m, rim))) ** 2
        c, s = np.cos(angle), np.sin(angle)
        return np.stack([radial * c - azimuthal * s, radial * s + azimuthal * c]) / math.sqrt(
            energy
        )


def space_modes(
    guide: RectangularGuide | CircularGuide, highest: float, feed: float, leftover: float
) -> tuple[SpaceMode, ...]:
    """Modes that a port needs, in order of cutoff.

    Parameters
    ----------
    guide : RectangularGuide or CircularGuide
    highest : float
        Highest frequency [Hz].
    feed : float
        Straight guide between the part and its port [m].
    leftover : float
        What a mode left out may still return: exp(-2 attenuation feed).

    Returns
    -------
    tuple of SpaceMode
        Both polarisations of circular modes are listed.
    """
    k = 2 * math.pi * highest / SPEED_OF_LIGHT
    cut = math.hypot(k, -math.log(leftover) / (2 * feed))
    modes = []
    for mode in mode_cutoffs(guide, cut * SPEED_OF_LIGHT / (2 * math.pi)):
        modes.append(SpaceMode(guide, mode.kind, mode.m, mode.n))
        if isinstance(guide, CircularGuide) and mode.m > 0:
            modes.append(SpaceMode(guide, mode.kind, mode.m, mode.n, turned=True))
    return tuple(modes)
