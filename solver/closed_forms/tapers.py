"""First-order reflection of tapers between rectangular guides.

The impedance that a gentle taper of TE10 presents goes as b / beta: as b where the height changes,
as the wave impedance 1/beta, and not as 1/(a beta), where the width does. beta is the phase
constant of TE10 at each place, theta its integral, the electrical length.
"""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
from numpy.typing import ArrayLike

from geometries.arrays import Array, ComplexArray
from geometries.shapes.profiles import HECKEN_B, KLOPFENSTEIN_A
from geometries.shapes.tapers import LOGARITHMIC_PROFILES, Taper
from solver.closed_forms.source import Source, Validity, sourced
from solver.waves.guide_modes import SPEED_OF_LIGHT, cutoff_frequency, phase_constant

_POINTS_PER_WAVELENGTH = 64
#: Largest |ln(Z2/Z1)|/2 and least length over height at which the first order was compared.
LARGEST_STEP, LEAST_LENGTH = 0.25, 3.0

_SMALL_REFLECTIONS = (
    "theory of small reflections as in D. M. Pozar, Microwave Engineering, 4th ed. (Wiley 2012), "
    "sec. 5.8, quoted from memory; the impedance of a guide, b/beta, is derived here"
)


def _impedance_ratio(taper: Taper, frequency: ArrayLike) -> Array:
    """Impedance b / beta at the second end over that at the first end, (...) [-]."""
    first, last = taper.guide, taper.to_guide
    height = last.narrow_height / first.narrow_height
    return np.asarray(height * phase_constant(first, frequency) / phase_constant(last, frequency))


def _is_gentle(taper: Taper, frequency: ArrayLike) -> bool:
    """Return whether a taper lies in the range in which its first-order forms were compared.

    Half of |ln Z2/Z1| at most 0.25, from 1.2 to 1.92 times the higher of both cutoffs, length at
    least three times the larger height.
    """
    f = np.asarray(frequency, dtype=float)
    guides = taper.guide, taper.to_guide
    cutoffs = [cutoff_frequency(guide) for guide in guides]
    if np.any(f < 1.2 * max(cutoffs)) or np.any(f > 1.92 * max(cutoffs)):
        return False
    height = max(guide.narrow_height for guide in guides)
    half = 0.5 * np.abs(np.log(_impedance_ratio(taper, f)))
    return bool(np.all(half <= LARGEST_STEP) and taper.length >= LEAST_LENGTH * height)


def _along(taper: Taper, frequency: Array) -> tuple[Array, Array, Array]:
    """Positions (N,), d ln Z/dz (N, ...) and electrical length from the first end (N, ...)."""
    from scipy.integrate import cumulative_simpson

    shortest = SPEED_OF_LIGHT / float(np.max(frequency))
    count = 4 * math.ceil(16 + 0.25 * _POINTS_PER_WAVELENGTH * taper.length / shortest) + 1
    z = np.linspace(0.0, taper.length, count)
    (a, da), (b, db) = taper.width(z), taper.height(z)
    shape = (count,) + (1,) * frequency.ndim
    k = 2 * np.pi * frequency / SPEED_OF_LIGHT
    square = k**2 - (np.pi / a.reshape(shape)) ** 2
    slope = (db / b).reshape(shape) - (np.pi**2 * da / a**3).reshape(shape) / square
    return z, slope, cumulative_simpson(np.sqrt(square), x=z, axis=0, initial=0.0)


@sourced(
    Source(_SMALL_REFLECTIONS, "derived"),
    Validity(
        "length at least 3 times the larger height, |ln Z2/Z1|/2 up to 0.25, 1.2 to 1.92 times "
        "the higher cutoff: within 5e-3; the error falls as the square of the length",
        _is_gentle,
    ),
)
def taper_reflection(taper: Taper, frequency: ArrayLike) -> ComplexArray:
    """S11 of TE10 of a taper of any profile, first order.

    Parameters
    ----------
    taper : Taper
    frequency : array_like
        [Hz], above the cutoffs of both guides.

    Returns
    -------
    complex array
        S11 at the first end [-].

    Raises
    ------
    BelowCutoffError

    Notes
    -----
    S11 = (1/2) INT exp(-2j theta) (d ln Z/dz) dz, theta = INT beta dz,
    d ln Z/dz = b'/b - (pi^2 a'/a^3)/beta^2.

    Derivation of the impedance. Expand the fields at each z in the modes of the guide there. For
    TE10 in a guide of changing width, INT e_m E_y dx = V_m and INT e_m H_x dx = -I_m obey
    V' = C V - j w mu I, I' = C I - j (beta^2/(w mu)) V with C_mn = INT (d e_m/dz) e_n dx, since E_y
    vanishes on the walls; C has no diagonal, so that TE10 by itself is a line of impedance
    w mu/beta. In a guide of changing height H_x does not vanish on the walls; their slope adds
    b'/b to the diagonal of one equation, and the line has the impedance b w mu/beta.
    """
    f = np.asarray(frequency, dtype=float)
    phase_constant(taper.guide, f), phase_constant(taper.to_guide, f)
    from scipy.integrate import simpson

    z, slope, electrical_length = _along(taper, f)
    return np.asarray(0.5 * simpson(np.exp(-2j * electrical_length) * slope, x=z, axis=0))


def mean_phase_constant(taper: Taper, frequency: float) -> float:
    """Phase constant of TE10 at a frequency [Hz], its mean along a taper [rad/m]."""
    return float(_along(taper, np.asarray(frequency))[2][-1] / taper.length)


def worst_of_lengths(taper: Taper, lengths: Array, frequency: Array) -> Array:
    """Largest |S11| over frequencies (m,) [Hz] of `taper_reflection` at lengths (n,) [m], (n,)."""
    from scipy.integrate import simpson

    longest = float(np.max(lengths))
    # half the points of the longest, which are as many for a shorter one
    z, slope, theta = (each[::2] for each in _along(replace(taper, length=longest), frequency))
    found = [
        0.5 * simpson(np.exp(-2j * length / longest * theta) * slope, x=z, axis=0)
        for length in lengths
    ]
    return np.abs(np.array(found)).max(axis=1)


def _smooth_klopfenstein(x: Array) -> Array:
    """Spectrum of `geometries.shapes.profiles.klopfenstein`, 1 at x = 0."""
    root = np.sqrt(x**2 - KLOPFENSTEIN_A**2 + 0j)
    return np.asarray((np.cos(root).real - np.cos(x)) / (math.cosh(KLOPFENSTEIN_A) - 1))


def _hecken(x: Array) -> Array:
    """Spectrum of `geometries.shapes.profiles.hecken`, 1 at x = 0."""
    root = np.sqrt(x**2 - HECKEN_B**2 + 0j)
    root = np.where(root == 0, 1e-12, root)
    return np.asarray((np.sin(root) / root).real * HECKEN_B / math.sinh(HECKEN_B))


_SPECTRA = {
    "exponential": lambda x: np.sinc(x / np.pi),
    "klopfenstein": _smooth_klopfenstein,
    "hecken": _hecken,
}


def _is_line(taper: Taper, frequency: ArrayLike) -> bool:
    """Whether the logarithm of the impedance follows the profile, to the first order."""
    width = taper.to_guide.broad_width / taper.guide.broad_width
    return (
        taper.profile in LOGARITHMIC_PROFILES
        and abs(width - 1) < 1e-9
        and _is_gentle(taper, frequency)
    )


@sourced(
    Source(
        "spectra of the exponential, of Klopfenstein's (Proc. IRE 44, 31, 1956) and of Hecken's "
        "taper (IEEE MTT-20, 734, 1972) as remembered; Klopfenstein's without its end steps is "
        "derived here",
        "derived",
    ),
    Validity(
        "tapers of the height only, |ln Z2/Z1|/2 up to 0.25: as the small-reflection integral",
        _is_line,
    ),
)
def line_taper_reflection(taper: Taper, frequency: ArrayLike) -> ComplexArray:
    """S11 of a taper with an exponential, Klopfenstein or Hecken profile, in closed form.

    Parameters
    ----------
    taper : Taper
        With a profile of the logarithm of its sizes.
    frequency : array_like
        [Hz], above the cutoffs of both guides.

    Returns
    -------
    complex array
        S11 at the first end [-].

    Raises
    ------
    BelowCutoffError
    KeyError
        For the other profiles.

    Notes
    -----
    S11 = Gamma0 exp(-j x) F(x), Gamma0 = ln(Z2/Z1)/2, x = INT beta dz, and F the profile's
    spectrum: sin(x)/x; B/sinh(B) sin(r)/r with r = sqrt(x^2 - B^2) (Hecken);
    (cos r - cos x)/(cosh A - 1) with r = sqrt(x^2 - A^2), which is Klopfenstein's cos(r)/cosh(A)
    after its two end steps, cos(x)/cosh(A), are taken out and the rest is scaled to the whole
    change.
    """
    f = np.asarray(frequency, dtype=float)
    half = 0.5 * np.log(_impedance_ratio(taper, f))
    theta = _along(taper, f)[2][-1]
    return np.asarray(half * np.exp(-1j * theta) * _SPECTRA[taper.profile](theta))
