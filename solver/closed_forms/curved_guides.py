"""Phase constant of the dominant mode in a guide whose axis is a circle, order R^-2 and exact.

Here w is the inside width in the plane of the curve (b or a), R the radius of the axis, beta0 the
phase constant of TE10 in the straight guide and x = beta0 a.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from geometries.arrays import Array
from geometries.errors import InvalidDimensionError
from geometries.shapes.bends import Plane, width_in_plane
from geometries.shapes.guides import RectangularGuide
from solver.closed_forms.source import Source, Validity, sourced
from solver.errors import BelowCutoffError
from solver.waves.guide_modes import cutoff_frequency, free_space_wavelength, phase_constant

#: The lowest and highest frequency over cutoff at which the order-R^-2 forms were compared.
COMPARED_BAND = (1.2, 1.92)
#: Least mean radius, over the width in the plane, of a gentle bend.
GENTLE_RATIO = 1.5


def in_compared_band(guide: RectangularGuide, frequency: ArrayLike) -> bool:
    """Return whether all frequencies lie within 1.2 to 1.92 times the cutoff of TE10."""
    ratio = np.asarray(frequency, dtype=float) / cutoff_frequency(guide)
    return bool(np.all((ratio >= COMPARED_BAND[0]) & (ratio <= COMPARED_BAND[1])))


def is_gentle(
    plane: Plane, guide: RectangularGuide, mean_radius: float, frequency: ArrayLike
) -> bool:
    """Return whether R >= 1.5 w, in the compared band; there the order-R^-2 forms hold."""
    wide_enough = mean_radius >= GENTLE_RATIO * width_in_plane(guide, plane)
    return wide_enough and in_compared_band(guide, frequency)


@sourced(
    Source(
        "derived here by second-order perturbation; the bracket is that of N. Marcuvitz, "
        "Waveguide Handbook (McGraw-Hill 1951), secs. 5.33-5.34, as remembered",
        "derived",
    ),
    Validity(
        "R >= 1.5 b, 1.2 to 1.92 times the cutoff, b <= a/2: within 6e-4 of the exact root",
        lambda guide, mean_radius, frequency: is_gentle("E", guide, mean_radius, frequency),
    ),
)
def phase_constant_e_plane(
    guide: RectangularGuide, mean_radius: float, frequency: ArrayLike
) -> Array:
    """Phase constant along the axis of a guide curved in the E-plane, order R^-2 [rad/m].

    Parameters
    ----------
    guide : RectangularGuide
    mean_radius : float
        Radius of the axis [m].
    frequency : array_like
        [Hz], above the cutoff.

    Returns
    -------
    array
        beta' such that the field goes as exp(-j beta' R phi).

    Raises
    ------
    BelowCutoffError

    Notes
    -----
    beta'/beta0 = 1 - (1/24) (b/R)^2 [1 - (2/5) (beta0 b)^2]; see `phase_constant_h_plane`.
    """
    beta0 = phase_constant(guide, frequency)
    b = guide.narrow_height
    return beta0 * (1 - (b / mean_radius) ** 2 / 24 * (1 - 0.4 * (beta0 * b) ** 2))


@sourced(
    Source("derived here by second-order perturbation; no source", "derived"),
    Validity(
        "R >= 1.5 a, 1.2 to 1.92 times the cutoff: within 3e-4 of the exact root",
        lambda guide, mean_radius, frequency: is_gentle("H", guide, mean_radius, frequency),
    ),
)
def phase_constant_h_plane(
    guide: RectangularGuide, mean_radius: float, frequency: ArrayLike
) -> Array:
    """Phase constant along the axis of a guide curved in the H-plane, order R^-2 [rad/m].

    Parameters
    ----------
    guide : RectangularGuide
    mean_radius : float
        Radius of the axis [m].
    frequency : array_like
        [Hz], above the cutoff.

    Returns
    -------
    array
        beta' such that the field goes as exp(-j beta' R phi).

    Raises
    ------
    BelowCutoffError

    Notes
    -----
    beta'/beta0 = 1 + (1/2) (a/R)^2 {1/(4 x^2) - 1/4 + 3/(2 pi^2) + x^2 (15 - pi^2)/(12 pi^4)}.

    Derivation, for both planes. With r = R (1 + kappa x), kappa = 1/R, a mode
    f(x) exp(-j beta' s) of the curved guide satisfies L f = beta'^2 f with
    L = h d h d + k^2 h^2, h = 1 + kappa x, d = d/dx; so L = L0 + kappa L1 + kappa^2 L2,
    L0 = d^2 + k^2, L1 = 2 x L0 + d, L2 = x^2 L0 + x d. Rayleigh-Schroedinger perturbation about
    the straight modes e_n gives, as L1 has no diagonal by symmetry,

    beta'^2 = beta0^2 + kappa^2 {(L2)_11 + SUM_n (L1)_1n (L1)_n1 / (beta0^2 - beta_n^2)};

    the sums have closed values. k is k0 in the H-plane, sqrt(k0^2 - (pi/a)^2) in the E-plane.
    """
    a = guide.broad_width
    beta0 = phase_constant(guide, frequency)
    x = beta0 * a
    bracket = 0.25 / x**2 - 0.25 + 1.5 / np.pi**2 + x**2 * (15 - np.pi**2) / (12 * np.pi**4)
    return beta0 * (1 + 0.5 * (a / mean_radius) ** 2 * bracket)


def _field_and_slope(plane: Plane, order: float, inner: float, r: Array) -> tuple[Array, Array]:
    """Cylinder function that fits the inner wall, and its derivative, at radii r (units of 1/k).

    It vanishes (H) or has no slope (E) at `inner`, and is positive just outside it.
    """
    from scipy.special import jv, jvp, yv, yvp

    if plane == "H":
        at_j, at_y = jv(order, inner), yv(order, inner)
    else:
        at_j, at_y = -jvp(order, inner), -yvp(order, inner)
    return at_j * yv(order, r) - at_y * jv(order, r), at_j * yvp(order, r) - at_y * jvp(order, r)


def dominant_order(plane: Plane, inner: float, outer: float) -> float:
    """Largest real order nu that fits the walls of a curved guide.

    Parameters
    ----------
    plane : "E" or "H"
        Neumann or Dirichlet walls.
    inner, outer : float
        Radii of the walls times the wavenumber of the plane problem [-].

    Raises
    ------
    BelowCutoffError
        If no mode travels.

    Notes
    -----
    J_nu(inner) Y_nu(outer) - J_nu(outer) Y_nu(inner) = 0 (H); the same with derivatives (E).
    By Sturm's oscillation theorem the solution that fits the inner wall turns monotonically with
    nu: above the dominant root it neither changes sign nor, in the E-plane, falls at the outer
    wall. Bisection on that criterion cannot land on a higher mode; Brent's method polishes.
    """
    from scipy.optimize import brentq

    # Half a wavelength spans six of these steps at the outer wall, where the field turns fastest.
    radii = np.linspace(inner, outer, 32 + int(2 * (outer - inner)))[1:]

    def turns(order: float) -> int:
        """Number of walls passed; zero above the dominant root, one just below it."""
        field, slope = _field_and_slope(plane, order, inner, radii)
        changes = int(np.count_nonzero(np.diff(np.sign(np.append(1.0, field)))))
        if plane == "E":
            return 2 * changes + int(slope[-1] * field[-1] < 0)
        return changes

    low, high = 0.0, outer
    if turns(low) == 0:
        raise BelowCutoffError("no mode travels in this curved guide: raise the frequency")
    while high - low > 1e-12 * high and (turns(low) != 1 or high - low > 0.1 * high):
        middle = (low + high) / 2
        low, high = (middle, high) if turns(middle) else (low, middle)

    def misfit(order: float) -> float:
        field, slope = _field_and_slope(plane, order, inner, radii[-1:])
        return float((field if plane == "H" else slope)[0])

    return float(brentq(misfit, low, high, xtol=1e-13, rtol=1e-14))


@sourced(
    Source(
        "exact separation in cylinder coordinates, derived here; treated by S. O. Rice, Bell Syst. "
        "Tech. J. 27, 305 (1948) and by L. Lewin, D. C. Chang and E. F. Kuester, Electromagnetic "
        "Waves and Curved Structures (Peregrinus 1977)",
        "derived",
    ),
    Validity(
        "exact; any radius, any frequency at which the curved guide carries a wave",
        lambda plane, guide, mean_radius, frequency: True,
    ),
)
def phase_constant_bessel(
    plane: Plane, guide: RectangularGuide, mean_radius: float, frequency: ArrayLike
) -> Array:
    """Phase constant of the dominant mode along the axis of a curved guide, exact [rad/m].

    Parameters
    ----------
    plane : "E" or "H"
    guide : RectangularGuide
    mean_radius : float
        Radius of the axis [m], above half the width in the plane.
    frequency : array_like
        [Hz], above the cutoff of the straight guide.

    Returns
    -------
    array
        nu / R, with nu the largest root of the Bessel cross product.

    Raises
    ------
    BelowCutoffError, InvalidDimensionError

    Notes
    -----
    See `dominant_order`; in the E-plane the wavenumber is that of TE10, beta0, as the field is
    uniform but for sin(pi x/a) across the broad wall.

    Examples
    --------
    >>> from geometries.shapes.guides import standard_guide
    >>> guide = standard_guide("WR-90")
    >>> straight = phase_constant(guide, 10e9)
    >>> round(float(phase_constant_bessel("E", guide, 10.16e-3, 10e9) / straight), 6)
    1.001409
    """
    half = width_in_plane(guide, plane) / 2
    if not mean_radius > half:
        raise InvalidDimensionError("mean_radius", mean_radius, f"above {half:g} m", "raise it")
    f = np.asarray(frequency, dtype=float)
    beta0 = phase_constant(guide, f)
    wavenumber = beta0 if plane == "E" else 2 * np.pi / free_space_wavelength(f)
    orders = [
        dominant_order(plane, float(k) * (mean_radius - half), float(k) * (mean_radius + half))
        for k in wavenumber.ravel()
    ]
    return np.reshape(orders, f.shape) / mean_radius
