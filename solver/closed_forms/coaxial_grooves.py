"""Choke grooves as shorted coaxial lines, and how they meet the gap between the flanges.

A field that goes as cos(m phi) in the gap drives TEM (m = 0) or TE_m1 (m > 0) in the groove.
"""

from __future__ import annotations

from functools import lru_cache

import numpy as np
from numpy.typing import ArrayLike

from geometries.arrays import Array
from geometries.errors import InvalidDimensionError
from solver.closed_forms.radial_lines import roots_between
from solver.closed_forms.source import Source, Validity, sourced
from solver.errors import BelowCutoffError
from solver.waves.guide_modes import SPEED_OF_LIGHT, free_space_wavelength

COAXIAL_LINES = Source(
    "N. Marcuvitz, Waveguide Handbook (McGraw-Hill 1951), sec. 2.4, coaxial guides", "from memory"
)
EXACT_IN_THE_GROOVE = Validity("exact for smooth, round walls", lambda *arguments: True)


@sourced(COAXIAL_LINES, EXACT_IN_THE_GROOVE)
def coaxial_te_root(order: int, ratio: float, index: int = 1) -> float:
    """Root of the Bessel cross product of TE modes of a coaxial line.

    Parameters
    ----------
    order : int
        Azimuthal order m.
    ratio : float
        Outer over inner radius [-]; above 1.
    index : int
        1 is the least root above 0.

    Returns
    -------
    float
        Cutoff wavenumber times inner radius [-].

    Raises
    ------
    InvalidDimensionError
        If the ratio is not above 1.

    Notes
    -----
    J_m'(x) Y_m'(cx) = J_m'(cx) Y_m'(x). For m > 0 the first root is near 2m/(1 + c), where m waves
    go once round the mean circle; no root lies under m/c.

    References
    ----------
    N. Marcuvitz, Waveguide Handbook, McGraw-Hill 1951, sec. 2.4.

    Examples
    --------
    >>> round(coaxial_te_root(1, 2.0), 5)
    0.67734
    """
    if not ratio > 1:
        raise InvalidDimensionError("ratio of the radii", ratio, "above 1")
    return _te_root(order, ratio, index)


@lru_cache(maxsize=256)
def _te_root(order: int, ratio: float, index: int) -> float:
    from scipy.special import jvp, yvp

    def cross(x: ArrayLike) -> Array:
        y = ratio * np.asarray(x)
        return np.asarray(jvp(order, x) * yvp(order, y) - jvp(order, y) * yvp(order, x))

    step = np.pi / (ratio - 1) / 16
    # A narrow line has its first root between m/c and m, closer than a step.
    start, end = max(order, 1e-3 * step) / ratio, max(order, step)
    between = max(33, int((end - start) / step) + 2)
    grid = np.append(np.linspace(start, end, between), end + step * np.arange(1, 32 * index))
    signs = np.sign(cross(grid))
    at = int(np.flatnonzero(signs[1:] != signs[:-1])[index - 1])
    return float(roots_between(cross, grid[[at]], grid[[at + 1]])[0])


@sourced(COAXIAL_LINES, EXACT_IN_THE_GROOVE)
def groove_cutoff_wavenumber(order: int, inner: float, outer: float) -> float:
    """Cutoff wavenumber of a groove: 0 for TEM, else that of TE_m1 [rad/m].

    Parameters
    ----------
    order : int
        Azimuthal order m of the field.
    inner, outer : float
        Radii [m].

    Raises
    ------
    InvalidDimensionError

    Notes
    -----
    `coaxial_te_root` over the inner radius; near m over the mean radius.

    References
    ----------
    N. Marcuvitz, Waveguide Handbook, McGraw-Hill 1951, sec. 2.4.
    """
    return coaxial_te_root(order, outer / inner) / inner if order else 0.0


@sourced(COAXIAL_LINES, EXACT_IN_THE_GROOVE)
def groove_wavelength(order: int, inner: float, outer: float, frequency: ArrayLike) -> Array:
    """Wavelength along the depth of a groove [m].

    Parameters
    ----------
    order : int
        Azimuthal order m of the field.
    inner, outer : float
        Radii [m].
    frequency : array_like
        [Hz].

    Raises
    ------
    BelowCutoffError
        If the groove does not carry TE_m1 at some frequency.
    InvalidDimensionError

    Notes
    -----
    2 pi/sqrt(k^2 - kc^2), kc of `groove_cutoff_wavenumber`.

    References
    ----------
    N. Marcuvitz, Waveguide Handbook, McGraw-Hill 1951, sec. 2.4.
    """
    f = np.asarray(frequency, dtype=float)
    cutoff = groove_cutoff_wavenumber(order, inner, outer) * SPEED_OF_LIGHT / (2 * np.pi)
    if not np.all(f > cutoff):
        raise BelowCutoffError(
            f"{np.min(f) / 1e9:.6g} GHz does not exceed the cutoff of the groove, "
            f"{cutoff / 1e9:.6g} GHz: raise the frequency or the groove's radii"
        )
    return np.asarray(free_space_wavelength(f) / np.sqrt((1 - cutoff / f) * (1 + cutoff / f)))


@sourced(COAXIAL_LINES, EXACT_IN_THE_GROOVE)
def shorted_groove(
    order: int, inner: float, outer: float, depth: float, wavenumber: ArrayLike
) -> tuple[Array, Array]:
    """Numerator and denominator of the reactance of a groove that ends in a short.

    Parameters
    ----------
    order : int
        Azimuthal order m of the field.
    inner, outer, depth : float
        [m].
    wavenumber : array_like
        Of free space [rad/m].

    Returns
    -------
    array, array
        sin(q depth)/q [m] and cos(q depth) [-], q^2 = k^2 - kc^2 of either sign. The voltage over
        the groove's mouth is j omega mu (outer - inner) times their ratio times H_phi.

    Raises
    ------
    InvalidDimensionError

    Notes
    -----
    E_rho/H_phi = j (omega mu/q) tan(q depth) for TEM and TE modes alike; below cutoff the functions
    are hyperbolic. Numerator and denominator stand apart, as the groove is open where the latter
    is 0.

    References
    ----------
    N. Marcuvitz, Waveguide Handbook, McGraw-Hill 1951, sec. 2.4.
    """
    cutoff = groove_cutoff_wavenumber(order, inner, outer)
    q = np.sqrt(np.asarray(wavenumber, dtype=float) ** 2 - cutoff**2 + 0j)
    # sinc takes out the 0/0 at cutoff.
    return depth * np.sinc(q * depth / np.pi).real, np.cos(q * depth).real


@sourced(
    Source("derived here by conformal mapping of a tee of three strips; no source", "derived"),
    Validity(
        "exact for static fields and flat walls: gap and groove much smaller than the wavelength "
        "and than the radius",
        lambda *arguments: True,
    ),
)
def tee_constants(gap: float, width: float) -> tuple[float, float]:
    """How the field crowds where a groove meets the gap: two constants K of the tee [-].

    Parameters
    ----------
    gap, width : float
        Height of the gap and width of the groove [m].

    Returns
    -------
    float, float
        K of an arm of the gap and K of the groove.

    Raises
    ------
    InvalidDimensionError

    Notes
    -----
    Near the tee dH_phi/dr = j omega eps E_z, so that H_phi is a harmonic function whose flux in an
    arm is the arm's voltage V. With the arms of the gap measured from the groove's edges outward
    and the groove from its mouth, V_in running in and V_out running on, far from the tee

    H = H* + (j omega eps/pi) (-V_in K_gap + V_out ln 2) at the inner edge, extrapolated,
    H = H* + (j omega eps/pi) (-V_in ln 2 + V_out K_gap) at the outer edge,
    H = H* - (j omega eps/pi) (V_in - V_out) K_groove at the mouth.

    Derivation. dz/dt = (width/pi) sqrt(t^2 - a^2)/(t^2 - 1) maps the upper half plane to the tee;
    +-1 are the far ends of the gap, infinity that of the groove, +-a the corners. The residue at 1
    gives a^2 = 1 + b^2, b = 2 gap/width. The field is that of sources at +-1,
    -V_in ln(t + 1) + V_out ln(t - 1). Both integrals of dz/dt from a corner are elementary:
    ln(1 - t) near 1 gives K_gap = ln(2 b^2/a^2) - (2/b) arctan b, ln t near infinity
    K_groove = ln(a/2) + b arctan(1/b).

    Examples
    --------
    >>> [round(k, 4) for k in tee_constants(0.2e-3, 2e-3)]
    [-4.5389, -0.3989]
    """
    for quantity, length in (("gap", gap), ("width", width)):
        if not length > 0:
            raise InvalidDimensionError(quantity, length, "above 0 m")
    b = 2 * gap / width
    a = float(np.hypot(1, b))
    in_gap = np.log(2 * b**2 / a**2) - 2 / b * np.arctan(b)
    in_groove = np.log(a / 2) + b * np.arctan(1 / b)
    return float(in_gap), float(in_groove)
