"""Modes of rectangular guide as parts see them that are uniform across one plane.

Such a part keeps the number of half waves across its plane, and it keeps waves whose E has no
component across the plane (longitudinal-section electric, LSE) apart from those whose H has none
(LSM). Each has one scalar field in the plane: H across it, whose normal derivative vanishes on the
walls, or E across it, which vanishes there. TE and TM modes of equal indices are their mixtures.
Source: R. E. Collin, "Field Theory of Guided Waves", 2nd ed., 1991, chapter 6; the matrices that
mix them are derived here.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from geometries.arrays import Array, ComplexArray
from geometries.shapes.guides import RectangularGuide
from solver.waves.guide_modes import SPEED_OF_LIGHT
from solver.waves.matched_ports import outgoing_root
from solver.waves.plane_modes import ModesInPlane
from solver.waves.scattering import PortMode


@dataclass(frozen=True)
class SectionModes(ModesInPlane):
    """Functions in the plane of all LSE or of all LSM modes with one number across it.

    Parameters
    ----------
    guide : RectangularGuide
    plane : {"E", "H"}
        Of the part.
    electric : bool
        Whether they are LSE, with E in the plane.
    across : int
        Half waves across the plane; from 1 for LSE, from 0 for LSM.
    count : int
        Modes kept at each port.
    """

    guide: RectangularGuide
    plane: str
    electric: bool
    across: int
    count: int

    @property
    def solved_for_h(self) -> bool:
        """Whether E lies in the plane, so that H across it is solved for."""
        return self.electric

    @property
    def depth(self) -> float:
        """Inside dimension across the plane [m]."""
        return self.guide.broad_width if self.plane == "E" else self.guide.narrow_height

    @property
    def uniform_wavenumber(self) -> float:
        """Wavenumber across the plane [rad/m]."""
        return self.across * math.pi / self.depth

    def port_modes(self, port: int) -> tuple[PortMode, ...]:
        """Names and cutoff frequencies of the modes at a port."""
        cutoffs = np.hypot(self.transverse, self.uniform_wavenumber) * SPEED_OF_LIGHT / 2 / math.pi
        kind = "LSE" if self.electric else "LSM"
        return tuple(
            PortMode(port, f"{kind}{self.across},{order:.0f}", float(cutoff))
            for order, cutoff in zip(self.orders, cutoffs, strict=True)
        )

    def shares(self, kind: str, frequency: Array) -> ComplexArray:
        """Amplitude of each mode in a unit wave of the TE or TM mode of equal indices.

        Parameters
        ----------
        kind : {"TE", "TM"}
        frequency : (n,) array
            [Hz]

        Returns
        -------
        (n, count) complex array
            Entries of a matrix M with M^T M = 1: amplitudes are normalised to power, and those of
            evanescent waves are complex.

        Notes
        -----
        With kx and ky of the mode, c^2 = kx^2 + ky^2 and w the wavenumber across the plane, a
        wave of LSE and LSM is 1/(c sqrt(k^2 - w^2)) times, from TE and TM,

            E-plane:  [ kx beta, ky k], [-ky k,  kx beta]
            H-plane:  [-ky beta, kx k], [ kx k,  ky beta]

        which follows from E_t = V e and H_t = Y V z x e, as the one has no E and the other no H
        across the plane. Modes with one index are what they are, TE_0n with E along -x.
        """
        k = 2 * math.pi * np.asarray(frequency)[:, None] / SPEED_OF_LIGHT
        inside, across = self.transverse, self.uniform_wavenumber
        cut = np.hypot(inside, across)
        beta = outgoing_root((k - cut) * (k + cut))
        left = cut * outgoing_root((k - across) * (k + across))
        kx, ky = (across, inside) if self.plane == "E" else (inside, across)
        te = kind == "TE"
        if self.plane == "E":
            first, second = (kx * beta, -ky * k) if te else (ky * k, kx * beta)
        else:
            first, second = (-ky * beta, kx * k) if te else (kx * k, ky * beta)
        # an index of 0 leaves one mode of the four, in which 0/0 stands at its cutoff
        sign = -1.0 if (self.plane == "E") != self.electric else 1.0
        single = (kx * ky == 0) & np.full(cut.shape, True)
        mixed = (first if self.electric else second) / np.where(left == 0, 1.0, left)
        return np.asarray(np.where(single, sign if te else 0.0, mixed))
