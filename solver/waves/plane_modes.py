"""Port modes of the two exact reductions to the plane.

H-plane parts are uniform along b; the field is E along b, which vanishes on the walls,
and the modes are TE_m0.  E-plane parts are uniform across a but for the factor
sin(pi x / a) of TE10; the field is H along a, whose normal derivative vanishes on the
walls, and the modes have no electric field along a: TE10 and the longitudinal-section
electric modes LSE_1n.
Source: R. E. Collin, "Field Theory of Guided Waves", 2nd ed., 1991, chapters 5 and 6.
"""

from __future__ import annotations

import math
from abc import abstractmethod
from dataclasses import dataclass

import numpy as np

from geometries.arrays import Array, ComplexArray
from geometries.plane_meshes.plane_mesh import PlanePort
from geometries.shapes.guides import RectangularGuide
from solver.waves.guide_modes import SPEED_OF_LIGHT, mode_cutoffs
from solver.waves.matched_ports import outgoing_root
from solver.waves.scattering import PortMode


class ModesInPlane:
    """Modes of a rectangular guide whose field goes one way across the plane of a part.

    Those that derive from it are data classes and name their modes.

    Attributes
    ----------
    guide : RectangularGuide
    plane : {"E", "H"}
    count : int
        Modes kept at each port, propagating and evanescent.
    """

    guide: RectangularGuide
    plane: str
    count: int

    @property
    @abstractmethod
    def solved_for_h(self) -> bool:
        """Whether E lies in the plane, so that H across it is solved for."""

    @property
    @abstractmethod
    def uniform_wavenumber(self) -> float:
        """Wavenumber across the plane [rad/m]."""

    @property
    def width(self) -> float:
        """Inside dimension in the plane [m]."""
        return self.guide.narrow_height if self.plane == "E" else self.guide.broad_width

    @property
    def orders(self) -> Array:
        """Number of half waves of each mode in the plane, (count,)."""
        first = 0 if self.solved_for_h else 1
        return np.arange(first, first + self.count, dtype=float)

    @property
    def transverse(self) -> Array:
        """Transverse wavenumber of each mode in the plane, (count,) [rad/m]."""
        return self.orders * math.pi / self.width

    @property
    def reflection_sign(self) -> float:
        """Sign that turns a reflection of the solved field into one of transverse E."""
        return -1.0 if self.solved_for_h else 1.0

    @property
    def fixed(self) -> str | None:
        """Boundary on which the solved field vanishes: E does on the wall, H nowhere."""
        return None if self.solved_for_h else "wall"

    def wavenumber_squared(self, frequency: Array) -> Array:
        """Squared wavenumber in the plane [rad^2/m^2], negative where nothing propagates."""
        k = 2 * math.pi * np.asarray(frequency) / SPEED_OF_LIGHT
        return np.asarray(k**2 - self.uniform_wavenumber**2)

    def phase_constants(self, squared: Array | ComplexArray) -> ComplexArray:
        """Phase constants (n, count) [rad/m]; -j times the attenuation where evanescent."""
        return outgoing_root(np.asarray(squared)[:, None] - self.transverse**2)

    def functions(self, port: PlanePort, t: Array) -> Array:
        """Mode functions (count, ...) [m^-1/2], orthonormal across the port."""
        phase = np.multiply.outer(self.transverse, t)
        if not self.solved_for_h:
            return np.asarray(math.sqrt(2.0 / self.width) * np.sin(phase))
        size = np.where(self.orders == 0, 1.0, math.sqrt(2.0)) / math.sqrt(self.width)
        return np.asarray(size.reshape(-1, *[1] * np.ndim(t)) * np.cos(phase))


@dataclass(frozen=True)
class PlaneModes(ModesInPlane):
    """Modes of one guide in the plane of a part.

    Parameters
    ----------
    guide : RectangularGuide
    plane : {"E", "H"}
    count : int
        Modes kept at each port, propagating and evanescent.
    """

    guide: RectangularGuide
    plane: str
    count: int

    @property
    def solved_for_h(self) -> bool:
        """Whether E lies in the plane, so that H across it is solved for."""
        return self.plane == "E"

    @property
    def uniform_wavenumber(self) -> float:
        """Wavenumber across the plane: pi/a for E-plane parts, 0 for H-plane parts [rad/m]."""
        return math.pi / self.guide.broad_width if self.plane == "E" else 0.0

    def port_modes(self, port: int) -> tuple[PortMode, ...]:
        """Names and cutoff frequencies of the modes at a port."""
        cutoffs = (
            SPEED_OF_LIGHT / (2 * math.pi) * np.hypot(self.transverse, self.uniform_wavenumber)
        )
        return tuple(
            PortMode(port, self._name(int(order)), float(cutoff))
            for order, cutoff in zip(self.orders, cutoffs, strict=True)
        )

    def _name(self, order: int) -> str:
        if self.plane == "H":
            return f"TE{order}0"
        return f"LSE1{order}" if order else "TE10"


def modes_for(
    guide: RectangularGuide, plane: str, highest: float, feed: float, leftover: float
) -> PlaneModes:
    """Choose how many modes the ports need.

    Parameters
    ----------
    guide : RectangularGuide
    plane : {"E", "H"}
    highest : float
        Highest frequency [Hz].
    feed : float
        Straight guide between the part and its ports [m].
    leftover : float
        What the first mode left out may still return: exp(-2 attenuation feed).

    Returns
    -------
    PlaneModes
    """
    count = 1
    while True:
        modes = PlaneModes(guide, plane, count + 1)
        squared = modes.wavenumber_squared(np.array([highest]))
        beta = modes.phase_constants(squared)[0, -1]
        if beta.imag < 0 and math.exp(2 * beta.imag * feed) < leftover:
            return PlaneModes(guide, plane, count)
        count += 1


def kept_apart(guide: RectangularGuide, plane: str, highest: float) -> tuple[str, ...]:
    """Names of the modes that propagate up to `highest` [Hz] and that symmetry keeps apart.

    A part that is uniform across its plane cannot excite them from TE10.
    """
    names = []
    for mode in mode_cutoffs(guide, highest):
        if (plane == "H" and mode.n > 0) or (plane == "E" and mode.m != 1):
            names.append(mode.label)
        elif plane == "E" and mode.n > 0 and mode.kind == "TM":
            names.append(f"LSM1{mode.n}")  # the other mix of TE_1n and TM_1n
    return tuple(names)
