"""Power in a rectangular guide: loss in its walls, and the power at which its air breaks down."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from geometries.shapes.guides import RectangularGuide
from solver.waves.guide_modes import ETA0, MU0, Array, cutoff_factor

#: Amplitude of the electric field at which dry air at sea level breaks down [V/m].
AIR_BREAKDOWN = 3.0e6
#: Part of the power at breakdown for which catalogues rate guides: half the field.
CATALOGUE_SHARE = 0.25


def surface_resistance(conductivity: float, frequency: ArrayLike) -> Array:
    """Surface resistance of a good, smooth conductor, sqrt(pi f mu0 / sigma) [ohm]."""
    return np.asarray(np.sqrt(np.pi * np.asarray(frequency, dtype=float) * MU0 / conductivity))


def attenuation_te10(guide: RectangularGuide, frequency: ArrayLike, conductivity: float) -> Array:
    """Attenuation of TE10 by the walls [Np/m].

    Parameters
    ----------
    guide : RectangularGuide
    frequency : array_like
        [Hz], above the cutoff.
    conductivity : float
        Of the walls [S/m].

    Raises
    ------
    BelowCutoffError

    Notes
    -----
    alpha = Rs / (b eta0 sqrt(1 - (fc/f)^2)) [1 + (2b/a) (fc/f)^2]. Perturbation of the lossless
    mode: it fails within a few loss widths of the cutoff. Roughness is neglected; drawn guide
    loses more.

    References
    ----------
    D. M. Pozar, Microwave Engineering, 4th ed., Wiley 2012, eq. (3.96).

    Examples
    --------
    >>> import math
    >>> from geometries.shapes.guides import standard_guide
    >>> alpha = attenuation_te10(standard_guide("WR-90"), 10e9, 5.8e7)
    >>> round(float(alpha) * 20 / math.log(10), 4)  # dB/m
    0.1084
    """
    a, b = guide.broad_width, guide.narrow_height
    factor = cutoff_factor(guide, frequency)
    walls = 1 + 2 * b / a * (1 - factor**2)
    return surface_resistance(conductivity, frequency) * walls / (b * ETA0 * factor)


def breakdown_power_te10(
    guide: RectangularGuide, frequency: ArrayLike, field: float = AIR_BREAKDOWN
) -> Array:
    """Power that a matched TE10 wave carries when its peak field is `field` [W].

    Parameters
    ----------
    guide : RectangularGuide
    frequency : array_like
        [Hz], above the cutoff.
    field : float, optional
        Amplitude of the electric field at the middle of the broad wall [V/m]; by default 30 kV/cm,
        dry air at sea level.

    Raises
    ------
    BelowCutoffError

    Notes
    -----
    P = E^2 a b / (4 eta0) sqrt(1 - (fc/f)^2). Catalogues rate guides at half the field, a quarter
    of the power. Divide by the VSWR where there is a standing wave.

    References
    ----------
    G. L. Ragan (ed.), Microwave Transmission Circuits, MIT Radiation Laboratory Series vol. 9,
    McGraw-Hill 1948, ch. 4; quoted from memory.

    Examples
    --------
    >>> from geometries.shapes.guides import standard_guide
    >>> round(float(breakdown_power_te10(standard_guide("WR-90"), 10e9)) / 1e6, 3)  # MW
    1.047
    """
    area = guide.broad_width * guide.narrow_height
    return field**2 * area / (4 * ETA0) * cutoff_factor(guide, frequency)
