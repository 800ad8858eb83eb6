"""Port modes of a part that is filled with materials and uniform along one side of the guide.

H-plane parts are uniform along b: the field is E along b and the modes are TE_m0.  E-plane parts
are uniform along a, with half a wave across, E = (cos(pi x/a) u, sin(pi x/a) e): where materials
change in the plane u and e are coupled, so that both TE_1n and TM_1n are modes of the port.
A part that is its own mirror image is solved in one half of the guide, whose other side is a
magnetic wall in the H-plane and an electric wall in the E-plane.
Source: N. Marcuvitz, "Waveguide Handbook", 1951, section 2.2 (from memory), and
`solver.waves.plane_modes`.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any

import numpy as np

from geometries.arrays import Array, ComplexArray
from geometries.plane_meshes.plane_mesh import PlanePort
from geometries.shapes.bends import width_in_plane
from geometries.shapes.guides import RectangularGuide
from solver.waves.guide_modes import SPEED_OF_LIGHT, mode_cutoffs
from solver.waves.matched_ports import outgoing_root
from solver.waves.scattering import PortMode

#: Phase constant over the wavenumber below which only round-off is left.
_LEAST = 1e-8


@dataclass(frozen=True)
class FilledPlaneModes:
    """Modes of one guide, in the plane of a part with materials.

    Parameters
    ----------
    guide : RectangularGuide
    plane : {"E", "H"}
    half : bool
        Only modes that fit the mirror through the middle of the guide, in half of it.
    count : int
        Orders kept, from the lowest; each but TE10 of the E-plane has two modes there.
    """

    guide: RectangularGuide
    plane: str
    half: bool
    count: int

    @property
    def width(self) -> float:
        """Width of the port in the plane that is solved [m]."""
        return width_in_plane(self.guide, self.plane) * (0.5 if self.half else 1.0)

    @property
    def across(self) -> float:
        """Wavenumber across the plane: pi/a for E-plane parts, 0 for H-plane parts [rad/m]."""
        return math.pi / self.guide.broad_width if self.plane == "E" else 0.0

    @property
    def listed(self) -> tuple[tuple[str, int], ...]:
        """Kind of each mode and its half waves across the whole guide in the plane."""
        step = 2 if self.half else 1
        if self.plane == "H":
            return tuple(("TE", 1 + step * i) for i in range(self.count))
        orders = [step * i for i in range(1, self.count)]
        return (("TE", 0), *((kind, n) for n in orders for kind in ("TE", "TM")))

    @property
    def transverse(self) -> Array:
        """Wavenumber of each mode in the plane, (m,) [rad/m]."""
        whole = width_in_plane(self.guide, self.plane)
        return np.array([order for _, order in self.listed]) * math.pi / whole

    @property
    def _magnetic(self) -> Any:
        return np.array([kind == "TM" for kind, _ in self.listed])

    def phase_constants(self, squared: Array | ComplexArray) -> ComplexArray:
        """Phase constants (n, m) at squared free-space wavenumbers (n,) [rad/m]."""
        cut = self.transverse**2 + self.across**2
        return outgoing_root(np.asarray(squared)[:, None] - cut)

    def admittances(self, squared: Array | ComplexArray) -> ComplexArray:
        """Flux of each mode over its field, (n, m): beta for TE, k^2/beta for TM [rad/m]."""
        beta, q = self.phase_constants(squared), np.asarray(squared)[:, None]
        # at its cutoff a TM mode carries nothing whatever its field: a limit, not a number
        least = _LEAST * np.sqrt(np.abs(q))
        return np.where(self._magnetic, q / np.where(np.abs(beta) < least, least, beta), beta)

    def functions(self, port: PlanePort, t: Array) -> Array:
        """E along b of H-plane modes (m, ...) [m^-1/2]; squares have unit integral.

        As sin(m pi x/a), x counted from the wall, also where t is counted from the middle.
        """
        middle = 0.5 * self.guide.broad_width if self.half else 0.0
        wave = np.multiply.outer(self.transverse, np.asarray(t) + middle)
        return math.sqrt(2.0 / self.width) * np.sin(wave)

    def vectors(self, port: PlanePort, t: Array) -> Array:
        """Fields u and e of E-plane modes, (2, m, ...) [m^-1/2]; squares have unit integral.

        With e positive in the middle of a TE10 wave; TE_1n have no E, TM_1n no H along the axis.
        """
        eta = self.transverse.reshape(-1, *[1] * np.ndim(t))
        wave, cut = np.multiply.outer(self.transverse, t), np.hypot(eta, self.across)
        size = np.where(eta == 0, 1.0, math.sqrt(2.0)) / math.sqrt(self.width) / cut
        te = np.stack([-eta * np.sin(wave), self.across * np.cos(wave)])
        tm = np.stack([self.across * np.sin(wave), eta * np.cos(wave)])
        magnetic = self._magnetic.reshape(eta.shape)
        return size * np.where(magnetic, tm, te)

    def port_modes(self, port: int) -> tuple[PortMode, ...]:
        """Names and cutoff frequencies of the modes at a port."""
        cutoffs = SPEED_OF_LIGHT / (2 * math.pi) * np.hypot(self.transverse, self.across)
        names = [
            f"{kind}{order}0" if self.plane == "H" else f"{kind}1{order}"
            for kind, order in self.listed
        ]
        return tuple(PortMode(port, n, float(c)) for n, c in zip(names, cutoffs, strict=True))

    def kept_apart(self, highest: float) -> tuple[str, ...]:
        """Names of modes that propagate up to `highest` [Hz] and that symmetry keeps apart."""
        ours = {mode.name for mode in self.port_modes(1)}
        modes = mode_cutoffs(self.guide, highest)
        return tuple(mode.label for mode in modes if mode.label not in ours)


def filled_modes(
    guide: RectangularGuide, plane: str, half: bool, highest: float, feed: float, leftover: float
) -> FilledPlaneModes:
    """Choose how many modes the port needs; see `solver.waves.plane_modes.modes_for`."""
    squared = np.array([(2 * math.pi * highest / SPEED_OF_LIGHT) ** 2])
    count = 1
    while True:
        last = FilledPlaneModes(guide, plane, half, count + 1).phase_constants(squared)[0, -1]
        if last.imag < 0 and math.exp(2 * last.imag * feed) < leftover:
            return FilledPlaneModes(guide, plane, half, count)
        count += 1
