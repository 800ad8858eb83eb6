"""Fields that do not vary about an axis (m = 0): modes at ports, and waves of a radial line.

The solved field is psi = r H_phi. With psi' its derivative out of the region, a mode that
leaves has ``psi' = -j Y psi``; Y is the phase constant in a guide and, at the rim, what the
radial line beyond asks for. Functions are orthonormal with the weight 1/r.
Sources: N. Marcuvitz, "Waveguide Handbook", 1951, sections 1.7 (radial guides) and 2.2
(circular guide).
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import ClassVar

import numpy as np
from numpy.typing import NDArray
from scipy.special import hankel2e, j1, jn_zeros, kve

from geometries.arrays import Array, ComplexArray
from geometries.plane_meshes.plane_mesh import PlanePort
from geometries.shapes.guides import CircularGuide
from solver.waves.guide_modes import SPEED_OF_LIGHT
from solver.waves.matched_ports import outgoing_root
from solver.waves.open_boundaries import OpenBoundary
from solver.waves.scattering import PortMode

#: What is wanted of the amplitude past the rim, over what is wanted of S.
_FINER_AT_RIM = 5.0


@dataclass(frozen=True)
class HalfPlaneModes:
    """Modes TM_0n of a circular guide, as psi in the half-plane.

    Parameters
    ----------
    guide : CircularGuide
    count : int
        Modes kept at each port.
    """

    guide: CircularGuide
    count: int
    #: Psi vanishes on the axis, and reflects with the opposite sign to E.
    fixed: ClassVar[str] = "axis"
    reflection_sign: ClassVar[float] = -1.0

    @property
    def roots(self) -> Array:
        """Zeros of J0, (count,) [-]."""
        return np.asarray(jn_zeros(0, self.count), dtype=np.float64)

    @property
    def transverse(self) -> Array:
        """Transverse wavenumber of each TM_0n, (count,) [rad/m]."""
        return np.asarray(self.roots / self.guide.radius, dtype=np.float64)

    def wavenumber_squared(self, frequency: Array) -> Array:
        """Squared free-space wavenumbers at frequencies (n,) [Hz]."""
        return np.asarray((2 * math.pi * np.asarray(frequency) / SPEED_OF_LIGHT) ** 2)

    def phase_constants(self, squared: Array | ComplexArray) -> ComplexArray:
        """Phase constants (n, count) [rad/m]; -j times the attenuation where evanescent."""
        return outgoing_root(np.asarray(squared)[:, None] - self.transverse**2)

    def functions(self, port: PlanePort, t: Array) -> Array:
        """Mode functions over r at a port, (modes, ...), orthonormal with the weight 1/r."""
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


@dataclass(frozen=True)
class HalfPlaneRim(OpenBoundary):
    """Waves of a radial line of uniform height, as psi where it begins.

    Parameters
    ----------
    gap : float
        Height of the line [m].
    radius : float
        Where the line begins [m].
    waves : int
        Waves kept; the first has no variation along the axis.
    name : str
        See `OpenBoundary`.
    """

    gap: float
    radius: float
    waves: int
    name: str = "rim"

    @property
    def count(self) -> int:
        """Number of waves."""
        return self.waves

    @property
    def wavenumbers(self) -> Array:
        """Wavenumber along the axis of each wave, (count,) [rad/m]."""
        return np.asarray(np.arange(self.count) * math.pi / self.gap, dtype=np.float64)

    def admittance(self, squared: Array | ComplexArray) -> ComplexArray:
        """Return j psi'/psi of waves that leave through the rim, (n, count) [rad/m].

        Parameters
        ----------
        squared : (n,) array
            Squared free-space wavenumber [rad^2/m^2].

        Notes
        -----
        psi = r H1(2)(kr r) and psi' = kr r H0(2)(kr r), with kr^2 = k^2 - kz^2; where kr is
        imaginary, K0 and K1 of its size take their place.
        """
        left = np.asarray(squared)[:, None] - self.wavenumbers**2
        across = outgoing_root(left)
        decaying = left.real < 0
        # of the two forms only the one that is used is evaluated far from its overflow
        x = np.where(decaying, 1.0, across * self.radius)
        waves = 1j * across * hankel2e(0, x) / hankel2e(1, x)
        x = np.where(decaying, 1j * across * self.radius, 1.0)
        return np.where(decaying, across * kve(0, x) / kve(1, x), waves)

    def leaves(self, squared: Array) -> NDArray[np.bool_]:
        """Whether a wave carries power off, (n, count)."""
        admittance = self.admittance(squared)
        return np.asarray(admittance.real > 1e-9 * np.abs(admittance))

    def finer(self, leaving: ComplexArray, s_error: float) -> float:
        """More exactly than S; see `OpenBoundary.finer`."""
        return _FINER_AT_RIM

    def fields(self, points: Array) -> Array:
        """Functions (count, ...) along the axis, orthonormal with the weight 1/r."""
        order = np.arange(self.count).reshape(-1, *[1] * np.ndim(points))
        size = np.where(order == 0, 1.0, math.sqrt(2.0)) / math.sqrt(self.gap * self.radius)
        return np.asarray(size * np.cos(order * math.pi / self.gap * points))


def half_plane_modes(
    guide: CircularGuide, highest: float, feed: float, leftover: float
) -> HalfPlaneModes:
    """Choose how many modes the ports need.

    Parameters
    ----------
    guide : CircularGuide
    highest : float
        Highest frequency [Hz].
    feed : float
        Straight guide between the joint and its ports [m].
    leftover : float
        What the first mode left out may still return.
    """
    count = 1
    while not decayed(jn_zeros(0, count + 1)[-1] / guide.radius, highest, feed, leftover):
        count += 1
    return HalfPlaneModes(guide, count)


def half_plane_rim(
    gap: float, highest: float, radii: tuple[float, float], leftover: float, name: str = "rim"
) -> HalfPlaneRim:
    """Choose how many waves a rim needs.

    Parameters
    ----------
    gap : float
        [m]
    highest : float
        Highest frequency [Hz].
    radii : (float, float)
        Radius of the last edge in the gap, and radius at which the mesh ends [m].
    leftover : float
        What the first wave left out may still return.
    name : str
        Name of the boundary in the mesh.
    """
    count = 1
    while not decayed(count * math.pi / gap, highest, radii[1] - radii[0], leftover):
        count += 1
    return HalfPlaneRim(gap, radii[1], count, name)


def decayed(cutoff: float, highest: float, distance: float, leftover: float) -> bool:
    """Whether what decays with a cutoff wavenumber [rad/m] returns too little over a distance [m].

    Parameters
    ----------
    cutoff : float
    highest : float
        Highest frequency [Hz].
    distance : float
    leftover : float
        What may return, there and back.
    """
    k = 2 * math.pi * highest / SPEED_OF_LIGHT
    return cutoff > k and math.exp(-2 * distance * math.sqrt(cutoff**2 - k**2)) < leftover
