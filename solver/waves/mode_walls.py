"""What walls of finite conductivity do to a port mode: integrals over the outline.

With the transverse electric field of a mode normalised to unit integral of its square,
first order in the surface impedance Zs turns the squared phase constant of a TE mode into
``beta^2 + f (across + beta^2 along)`` and that of a TM mode into ``beta^2 + f k^2 along``,
where ``f = Zs / (j k eta)``.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from geometries.shapes.guides import CircularGuide, RectangularGuide
from solver.waves.space_modes import SpaceMode


@dataclass(frozen=True)
class OutlineIntegrals:
    """Integrals of a mode over the outline of its guide.

    Parameters
    ----------
    along : float
        Integral of the squared field, that is of (dpsi/dl)^2 for the potential psi of a TE
        mode and of (dphi/dn)^2 for that of a TM mode [1/m].
    across : float
        Integral of (kc^2 psi)^2 for a TE mode, 0 for a TM mode [1/m^3].
    """

    along: float
    across: float


def outline_integrals(mode: SpaceMode) -> OutlineIntegrals:
    """Integrals of a mode of a rectangular or circular guide over the outline.

    Notes
    -----
    Rectangle: psi and phi are products of cosines and of sines. Circle of radius r:
    Bessel functions, with x = kc r: TE 2 m^2 / (r (x^2 - m^2)) along and
    2 r kc^4 / (x^2 - m^2) across, TM 2/r along. Derived here; they give the textbook
    attenuations, D. M. Pozar, "Microwave Engineering", 4th ed., 2012, sections 3.3 and 3.4.
    """
    guide = mode.guide
    if isinstance(guide, CircularGuide):
        return _of_circle(mode, guide)
    return _of_rectangle(mode, guide)


def _of_rectangle(mode: SpaceMode, guide: RectangularGuide) -> OutlineIntegrals:
    a, b = guide.broad_width, guide.narrow_height
    kx, ky = np.pi * mode.m / a, np.pi * mode.n / b
    kc = mode.wavenumber
    both = bool(mode.m and mode.n)
    size = (4.0 if both else 2.0) / (a * b * kc**2)
    if mode.kind == "TM":
        return OutlineIntegrals(float(size * (ky**2 * a + kx**2 * b)), 0.0)
    sides = b * (1.0 if mode.n else 2.0) + a * (1.0 if mode.m else 2.0)
    return OutlineIntegrals(float(size * (kx**2 * a + ky**2 * b)), float(size * kc**4 * sides))


def _of_circle(mode: SpaceMode, guide: CircularGuide) -> OutlineIntegrals:
    r, m, kc = guide.radius, mode.m, mode.wavenumber
    if mode.kind == "TM":
        return OutlineIntegrals(2.0 / r, 0.0)
    rest = (kc * r) ** 2 - m**2
    return OutlineIntegrals(2.0 * m**2 / (r * rest), 2.0 * r * kc**4 / rest)
