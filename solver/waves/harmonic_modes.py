"""Fields that vary once about an axis: modes of a circular guide, and waves of a half sphere.

In the half-plane E = (E_z sin phi, E_r sin phi, E_phi cos phi), so that E lies along y on the axis.
Source of the modes: N. Marcuvitz, "Waveguide Handbook", 1951, section 2.2.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from scipy.special import j1, jn_zeros, jnp_zeros, jvp

from geometries.arrays import Array, ComplexArray
from geometries.shapes.guides import CircularGuide
from solver.waves.guide_modes import SPEED_OF_LIGHT
from solver.waves.half_plane_modes import decayed
from solver.waves.matched_ports import outgoing_root
from solver.waves.scattering import PortMode
from solver.waves.spherical_waves import SphericalWaves

#: Nearer to its cutoff than this, over the free-space wavenumber, a TM mode carries nothing.
_LEAST = 1e-8


@dataclass(frozen=True)
class HarmonicModes:
    """Modes TE_1n and TM_1n of a circular guide, by ascending cutoff.

    Parameters
    ----------
    guide : CircularGuide
    count : int
    """

    guide: CircularGuide
    count: int

    @property
    def listed(self) -> tuple[tuple[str, int, float], ...]:
        """Kind, number n and root of each mode."""
        found = [("TE", n, float(x)) for n, x in enumerate(jnp_zeros(1, self.count), start=1)]
        found += [("TM", n, float(x)) for n, x in enumerate(jn_zeros(1, self.count), start=1)]
        return tuple(sorted(found, key=lambda mode: mode[2])[: self.count])

    @property
    def transverse(self) -> Array:
        """Transverse wavenumber of each mode, (count,) [rad/m]."""
        return np.array([root for _, _, root in self.listed]) / self.guide.radius

    @property
    def _magnetic(self) -> np.ndarray:
        return np.array([kind == "TM" for kind, _, _ in self.listed])

    def phase_constants(self, squared: Array | ComplexArray) -> ComplexArray:
        """Phase constants (n, count) [rad/m]; -j times the attenuation where evanescent."""
        return outgoing_root(np.asarray(squared)[:, None] - self.transverse**2)

    def admittances(self, squared: Array | ComplexArray) -> ComplexArray:
        """Flux of each mode over its field, (n, count): beta for TE, k^2/beta for TM [rad/m]."""
        beta, q = self.phase_constants(squared), np.asarray(squared)[:, None]
        least = _LEAST * np.sqrt(np.abs(q))
        safe = np.where(np.abs(beta) < least, least, beta)
        return np.where(self._magnetic, q / safe, beta)

    def fields(self, r: Array) -> Array:
        """E along z, along r and about the axis at radii r, (3, count, ...) [1/m].

        Across the guide alone; the square integrates to 1 over r dr.
        """
        radius, found = self.guide.radius, []
        for kind, _, root in self.listed:
            x = root / radius * np.asarray(r)
            over = np.where(x > 1e-8, j1(x) / np.where(x > 1e-8, x, 1.0), 0.5)
            slope = jvp(1, x)
            if kind == "TE":
                size = math.sqrt(2.0 / (root**2 - 1)) * root / (radius * abs(float(j1(root))))
                found.append((0.0 * x, size * over, size * slope))
            else:
                size = math.sqrt(2.0) / (radius * abs(float(jvp(1, root))))
                found.append((0.0 * x, size * slope, size * over))
        return np.moveaxis(np.array(found), 0, 1)

    def port_modes(self, port: int) -> tuple[PortMode, ...]:
        """Names and cutoff frequencies of the modes at a port."""
        scale = SPEED_OF_LIGHT / (2 * math.pi)
        return tuple(
            PortMode(port, f"{kind}1{n}", float(scale * kc))
            for (kind, n, _), kc in zip(self.listed, self.transverse, strict=True)
        )


def harmonic_modes(
    guide: CircularGuide, highest: float, feed: float, leftover: float
) -> HarmonicModes:
    """Choose how many modes the port needs.

    Parameters
    ----------
    guide : CircularGuide
    highest : float
        Highest frequency [Hz].
    feed : float
        Straight guide between the part and its port [m].
    leftover : float
        What the first mode left out may still return.
    """
    count = 1
    while not decayed(
        float(HarmonicModes(guide, count + 1).transverse[-1]), highest, feed, leftover
    ):
        count += 1
    return HarmonicModes(guide, count)


def half_sphere_fields(waves: SphericalWaves, place: Array) -> Array:
    """E along z, along r and about the axis of waves with m = 1 on the half sphere.

    Parameters
    ----------
    waves : SphericalWaves
    place : (2, ...) array
        Along z and r [m].

    Returns
    -------
    (3, waves, ...) array [1/m]
        Their squares have unit integrals over r dl along the meridian.
    """
    z, r = place
    theta = np.arctan2(r, z).ravel()
    up = waves.components(theta, np.full_like(theta, 0.5 * math.pi))[0]
    around = waves.components(theta, np.zeros_like(theta))[1]
    # the quarter of a parallel over which they are normalised holds pi/4 of sin^2
    size = math.sqrt(0.25 * math.pi) / waves.radius
    fields = np.array([-up * np.sin(theta), up * np.cos(theta), around])
    return np.asarray(size * fields.reshape(3, waves.count, *np.shape(z)))
