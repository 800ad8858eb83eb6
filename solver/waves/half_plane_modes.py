"""Modes at the ports and at the rim of a rotating joint that turns about its axis (m = 0).

The solved field is psi = r H_phi. With psi' its derivative out of the region, a mode that
leaves has ``psi' = -j Y psi``; Y is the phase constant in a guide and, at the rim, what the
radial line beyond asks for. Functions are orthonormal with the weight 1/r.
Sources: N. Marcuvitz, "Waveguide Handbook", 1951, sections 1.7 (radial guides) and 2.2
(circular guide).
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from scipy.special import hankel2e, j1, jn_zeros, kve

from geometries.arrays import Array, ComplexArray
from geometries.plane_meshes.plane_mesh import PlanePort
from geometries.shapes.guides import CircularGuide
from solver.waves.guide_modes import SPEED_OF_LIGHT
from solver.waves.matched_ports import outgoing_root
from solver.waves.scattering import PortMode


@dataclass(frozen=True)
class JointModes:
    """Modes TM_0n of a circular guide and the waves of a radial line of uniform height.

    Parameters
    ----------
    guide : CircularGuide
    count : int
        Modes kept at each of the two ports.
    gap : float
        Height of the radial line [m].
    rim_radius : float
        Where the line begins [m].
    rim_count : int
        Waves kept at the rim; the first has no variation along the axis.
    """

    guide: CircularGuide
    count: int
    gap: float
    rim_radius: float
    rim_count: int

    @property
    def roots(self) -> Array:
        """Zeros of J0, (count,) [-]."""
        return np.asarray(jn_zeros(0, self.count), dtype=np.float64)

    @property
    def transverse(self) -> Array:
        """Transverse wavenumber of each TM_0n, (count,) [rad/m]."""
        return np.asarray(self.roots / self.guide.radius, dtype=np.float64)

    @property
    def rim_wavenumbers(self) -> Array:
        """Wavenumber along the axis of each wave at the rim, (rim_count,) [rad/m]."""
        return np.asarray(np.arange(self.rim_count) * math.pi / self.gap, dtype=np.float64)

    def phase_constants(self, squared: Array | ComplexArray) -> ComplexArray:
        """Phase constants (n, count) [rad/m]; -j times the attenuation where evanescent."""
        return outgoing_root(np.asarray(squared)[:, None] - self.transverse**2)

    def rim_admittance(self, squared: Array | ComplexArray) -> ComplexArray:
        """Return j psi'/psi of waves that leave through the rim, (n, rim_count) [rad/m].

        Parameters
        ----------
        squared : (n,) array
            Squared free-space wavenumber [rad^2/m^2].

        Notes
        -----
        psi = r H1(2)(kr r) and psi' = kr r H0(2)(kr r), with kr^2 = k^2 - kz^2; where kr is
        imaginary, K0 and K1 of its size take their place.
        """
        left = np.asarray(squared)[:, None] - self.rim_wavenumbers**2
        across = outgoing_root(left)
        decaying = left.real < 0
        # of the two forms only the one that is used is evaluated far from its overflow
        x = np.where(decaying, 1.0, across * self.rim_radius)
        waves = 1j * across * hankel2e(0, x) / hankel2e(1, x)
        x = np.where(decaying, 1j * across * self.rim_radius, 1.0)
        return np.where(decaying, across * kve(0, x) / kve(1, x), waves)

    def functions(self, port: PlanePort, t: Array) -> Array:
        """Mode functions over r at a port, (modes, ...), orthonormal with the weight 1/r."""
        if port.name == "rim":
            order = np.arange(self.rim_count).reshape(-1, *[1] * np.ndim(t))
            size = np.where(order == 0, 1.0, math.sqrt(2.0)) / math.sqrt(self.gap * self.rim_radius)
            return np.asarray(size * np.cos(order * math.pi / self.gap * t))
        size = math.sqrt(2.0) / (self.guide.radius * np.abs(j1(self.roots)))
        return np.asarray(
            size.reshape(-1, *[1] * np.ndim(t)) * j1(np.multiply.outer(self.transverse, t))
        )

    def port_modes(self, port: int) -> tuple[PortMode, ...]:
        """Names and cutoff frequencies of the modes at a port."""
        return tuple(
            PortMode(port, f"TM0{n}", float(SPEED_OF_LIGHT * kc / (2 * math.pi)))
            for n, kc in enumerate(self.transverse, start=1)
        )


def joint_modes(
    guide: CircularGuide,
    highest: float,
    feed: float,
    gap: float,
    rim: tuple[float, float],
    leftover: float,
) -> JointModes:
    """Choose how many modes the ports and the rim need.

    Parameters
    ----------
    guide : CircularGuide
    highest : float
        Highest frequency [Hz].
    feed : float
        Straight guide between the joint and its ports [m].
    gap : float
        [m]
    rim : (float, float)
        Radius of the last edge in the gap, and radius at which the mesh ends [m].
    leftover : float
        What the first mode left out may still return.
    """
    k = 2 * math.pi * highest / SPEED_OF_LIGHT

    def enough(cutoff: float, distance: float) -> bool:
        return cutoff > k and math.exp(-2 * distance * math.sqrt(cutoff**2 - k**2)) < leftover

    count = 1
    while not enough(float(jn_zeros(0, count + 1)[-1]) / guide.radius, feed):
        count += 1
    waves = 1
    while not enough(waves * math.pi / gap, rim[1] - rim[0]):
        waves += 1
    return JointModes(guide, count, gap, rim[1], waves)
