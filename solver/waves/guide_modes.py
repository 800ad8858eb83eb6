"""Modes of uniform guides: cutoff, phase constant, wavelength, impedance.

All formulas are of the textbooks; each docstring cites one. Guides are filled with vacuum.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import cache

import numpy as np
from numpy.typing import ArrayLike

from geometries.arrays import Array
from geometries.shapes.guides import CircularGuide, RectangularGuide
from geometries.shapes.part import Part
from solver.errors import BelowCutoffError

#: Speed of light in vacuum [m/s], exact.
SPEED_OF_LIGHT = 299_792_458.0
#: Magnetic constant [H/m], CODATA 2018.
MU0 = 1.25663706212e-6
#: Wave impedance of vacuum [ohm].
ETA0 = MU0 * SPEED_OF_LIGHT
#: Recommended band over the cutoff frequency in IEC 60153-2.
IEC_BAND = (1.25, 1.90)

Guide = RectangularGuide | CircularGuide


@dataclass(frozen=True)
class GuideMode:
    """One mode of a uniform guide.

    Parameters
    ----------
    kind : str
        ``"TE"`` or ``"TM"``.
    m, n : int
        Orders: half waves along a and b, or azimuthal and radial in a circular guide.
    cutoff : float
        Cutoff frequency [Hz].
    """

    kind: str
    m: int
    n: int
    cutoff: float

    @property
    def label(self) -> str:
        """Name such as ``"TE10"``; orders above nine are parted by a comma."""
        comma = "," if max(self.m, self.n) > 9 else ""
        return f"{self.kind}{self.m}{comma}{self.n}"


def cutoff_frequency(guide: RectangularGuide, m: int = 1, n: int = 0) -> float:
    """Cutoff frequency of TEmn and TMmn in a rectangular guide [Hz].

    Parameters
    ----------
    guide : RectangularGuide
    m, n : int
        Half waves along the broad and the narrow wall; not both zero.

    Raises
    ------
    ValueError
        If no mode has these orders.

    Notes
    -----
    f = (c/2) sqrt((m/a)^2 + (n/b)^2).

    References
    ----------
    D. M. Pozar, Microwave Engineering, 4th ed., Wiley 2012, sec. 3.3.

    Examples
    --------
    >>> from geometries.shapes.guides import standard_guide
    >>> round(cutoff_frequency(standard_guide("WR-90")) / 1e9, 4)
    6.5571
    """
    if m < 0 or n < 0 or m + n == 0:
        raise ValueError(f"no mode has the orders {m}, {n}; give two counts, not both zero")
    return SPEED_OF_LIGHT / 2 * math.hypot(m / guide.broad_width, n / guide.narrow_height)


def circular_cutoff_frequency(guide: CircularGuide, kind: str, m: int, n: int) -> float:
    """Cutoff frequency of TEmn or TMmn in a circular guide [Hz].

    Parameters
    ----------
    guide : CircularGuide
    kind : str
        ``"TE"`` or ``"TM"``.
    m, n : int
        Azimuthal order, from 0, and radial order, from 1.

    Raises
    ------
    ValueError
        If no mode has these orders.

    Notes
    -----
    f = c x / (2 pi r), x the n-th positive zero of J_m' (TE) or of J_m (TM).

    References
    ----------
    D. M. Pozar, Microwave Engineering, 4th ed., Wiley 2012, sec. 3.4.

    Examples
    --------
    >>> round(circular_cutoff_frequency(CircularGuide(27e-3), "TE", 1, 1) / 1e9, 4)
    6.5074
    """
    if kind not in ("TE", "TM") or m < 0 or n < 1:
        raise ValueError(f"no circular mode {kind}{m}{n}; give TE or TM, m >= 0 and n >= 1")
    return _bessel_zero(kind, m, n) * SPEED_OF_LIGHT / (2 * math.pi * guide.radius)


@cache
def _bessel_zero(kind: str, m: int, n: int) -> float:
    """The n-th positive zero of J_m' (TE) or of J_m (TM)."""
    from scipy.special import jn_zeros, jnp_zeros

    return float((jnp_zeros if kind == "TE" else jn_zeros)(m, n)[n - 1])


def dominant_cutoff(guide: Guide) -> float:
    """Cutoff frequency of TE10 (rectangular) or TE11 (circular) [Hz]."""
    if isinstance(guide, CircularGuide):
        return circular_cutoff_frequency(guide, "TE", 1, 1)
    return cutoff_frequency(guide)


def entering_cutoff(part: Part) -> float:
    """Cutoff frequency of the mode that carries the power into a part [Hz]."""
    guide, name = part.guide, part.entering_mode
    if isinstance(guide, CircularGuide):
        return circular_cutoff_frequency(guide, name[:2], int(name[2]), int(name[3]))
    return dominant_cutoff(guide)


def mode_cutoffs(guide: Guide, up_to: float) -> tuple[GuideMode, ...]:
    """Return every mode whose cutoff is at most `up_to` [Hz], in ascending order.

    A TE mode comes before a TM mode of the same cutoff; both polarisations of a circular mode
    count once.

    Examples
    --------
    >>> from geometries.shapes.guides import standard_guide
    >>> [mode.label for mode in mode_cutoffs(standard_guide("WR-90"), 17e9)]
    ['TE10', 'TE20', 'TE01', 'TE11', 'TM11']
    """
    wavenumber = 2 * up_to / SPEED_OF_LIGHT
    modes = []
    if isinstance(guide, CircularGuide):
        # The n-th zero of J_m and of J_m' exceeds both m and (n - 1) pi.
        limit = math.ceil(wavenumber * math.pi * guide.radius) + 1
        for m in range(limit + 1):
            for n in range(1, int(limit / math.pi) + 3):
                for kind in ("TE", "TM"):
                    cutoff = circular_cutoff_frequency(guide, kind, m, n)
                    modes.append(GuideMode(kind, m, n, cutoff))
    else:
        for m in range(int(wavenumber * guide.broad_width) + 2):
            for n in range(int(wavenumber * guide.narrow_height) + 2):
                if m + n:
                    cutoff = cutoff_frequency(guide, m, n)
                    modes.append(GuideMode("TE", m, n, cutoff))
                    if m and n:
                        modes.append(GuideMode("TM", m, n, cutoff))
    found = [mode for mode in modes if mode.cutoff <= up_to]
    return tuple(sorted(found, key=lambda mode: (mode.cutoff, mode.kind, -mode.m)))


def single_mode_band(guide: Guide) -> tuple[float, float]:
    """Return the cutoffs of the first and of the second mode [Hz].

    The second mode is TE20 or TE01 in a rectangular guide and TM01 in a circular one. A square
    guide has no single-mode band: both ends are the same.

    Examples
    --------
    >>> from geometries.shapes.guides import standard_guide
    >>> [round(f / 1e9, 4) for f in single_mode_band(standard_guide("WR-90"))]
    [6.5571, 13.1143]
    """
    if isinstance(guide, CircularGuide):
        return dominant_cutoff(guide), circular_cutoff_frequency(guide, "TM", 0, 1)
    return cutoff_frequency(guide), min(
        cutoff_frequency(guide, 2, 0), cutoff_frequency(guide, 0, 1)
    )


def recommended_band(guide: RectangularGuide) -> tuple[float, float]:
    """Return 1.25 and 1.90 times the cutoff frequency [Hz], the rule of IEC 60153-2.

    The bands of EIA RS-261-B, which the catalogue lists, are rounded and differ.
    """
    cutoff = cutoff_frequency(guide)
    return IEC_BAND[0] * cutoff, IEC_BAND[1] * cutoff


def free_space_wavelength(frequency: ArrayLike) -> Array:
    """Wavelength in vacuum [m] at frequencies [Hz], of any shape."""
    return np.asarray(SPEED_OF_LIGHT / np.asarray(frequency, dtype=float))


def cutoff_factor(guide: Guide, frequency: ArrayLike) -> Array:
    """Return sqrt(1 - (fc/f)^2) of the dominant mode [-].

    Raises
    ------
    BelowCutoffError
        If any frequency does not exceed the cutoff.
    """
    f = np.asarray(frequency, dtype=float)
    cutoff = dominant_cutoff(guide)
    if not np.all(f > cutoff):
        raise BelowCutoffError(
            f"{np.min(f) / 1e9:.6g} GHz does not exceed the cutoff of guide {guide.label}, "
            f"{cutoff / 1e9:.6g} GHz: raise the frequency or take a larger guide"
        )
    # As a product, so that nothing cancels just above the cutoff.
    return np.asarray(np.sqrt((1 - cutoff / f) * (1 + cutoff / f)))


def phase_constant(guide: Guide, frequency: ArrayLike) -> Array:
    """Phase constant of the dominant mode [rad/m].

    Parameters
    ----------
    guide : RectangularGuide or CircularGuide
    frequency : array_like
        [Hz], above the cutoff.

    Raises
    ------
    BelowCutoffError

    Notes
    -----
    beta = k sqrt(1 - (fc/f)^2), k = 2 pi f / c.

    References
    ----------
    D. M. Pozar, Microwave Engineering, 4th ed., Wiley 2012, sec. 3.3.
    """
    factor = cutoff_factor(guide, frequency)
    return 2 * np.pi / free_space_wavelength(frequency) * factor


def guide_wavelength(guide: Guide, frequency: ArrayLike) -> Array:
    """Wavelength of the dominant mode along the guide [m], 2 pi / beta.

    Raises
    ------
    BelowCutoffError

    Examples
    --------
    >>> from geometries.shapes.guides import standard_guide
    >>> round(1e3 * float(guide_wavelength(standard_guide("WR-90"), 10e9)), 4)
    39.7071
    """
    return free_space_wavelength(frequency) / cutoff_factor(guide, frequency)
