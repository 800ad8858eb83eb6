"""Radial lines: the gap between two flat flanges, by Bessel functions of any azimuthal order.

The field is E_z(r) cos(m phi), uniform along z. Impedances are wave impedances, E_z over -H_phi, as
a part of that of free space: +1 is what a plane wave that runs outward sees. The state of a line is
the pair (E_z, r dE_z/dr); H_phi = (dE_z/dr)/(j omega mu).
"""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
from numpy.typing import ArrayLike

from geometries.arrays import Array
from solver.closed_forms.source import Source, Validity, sourced

#: A root is looked for in one of so many parts, so many times over.
_PARTS, _ROUNDS = 16, 12

RADIAL_LINES = Source(
    "N. Marcuvitz, Waveguide Handbook (McGraw-Hill 1951), sec. 1.7; S. Ramo, J. R. Whinnery and "
    "T. Van Duzer, Fields and Waves in Communication Electronics (Wiley), radial lines",
    "from memory",
)
EXACT_IN_THE_GAP = Validity(
    "exact for one azimuthal order, as long as the gap is lower than half a wavelength",
    lambda *arguments: True,
)


@sourced(RADIAL_LINES, EXACT_IN_THE_GAP)
def radial_transfer(order: int, wavenumber: ArrayLike, start: ArrayLike, stop: ArrayLike) -> Array:
    """Matrix that takes the state of a radial line from one radius to another.

    Parameters
    ----------
    order : int
        Azimuthal order m.
    wavenumber : array_like
        Wavenumber k in the gap [rad/m].
    start, stop : array_like
        Radii [m]; they and `wavenumber` follow the rules of broadcasting.

    Returns
    -------
    (..., 2, 2) array
        Acts on (E_z, r dE_z/dr); its determinant is 1.

    Notes
    -----
    E_z = A J_m(kr) + B Y_m(kr), with A and B from the state at `start` by the Wronskian
    J_m(x) Y_m'(x) - J_m'(x) Y_m(x) = 2/(pi x).

    References
    ----------
    N. Marcuvitz, Waveguide Handbook, McGraw-Hill 1951, sec. 1.7.
    """
    k = np.asarray(wavenumber, dtype=float)
    x, y = k * np.asarray(start), k * np.asarray(stop)
    j, jp, yy, yp = _bessel_pairs(order, x)
    j2, jp2, y2, yp2 = _bessel_pairs(order, y)
    rows = [
        [yp * j2 - jp * y2, j * y2 - yy * j2],
        [yp * jp2 - jp * yp2, j * yp2 - yy * jp2],
    ]
    return np.asarray(np.pi / 2 * np.moveaxis(np.array(rows), (0, 1), (-2, -1)))


def _bessel_pairs(order: int, x: Array) -> tuple[Array, Array, Array, Array]:
    """J_m, x J_m', Y_m and x Y_m', by x C_m' = x C_(m-1) - m C_m."""
    from scipy.special import jv, yv

    j, y = jv(order, x), yv(order, x)
    return j, x * jv(order - 1, x) - order * j, y, x * yv(order - 1, x) - order * y


@sourced(RADIAL_LINES, EXACT_IN_THE_GAP)
def radial_quarter_wave(order: int, wavenumber: float, start: float) -> float:
    """Length of a radial line that is open at its far end where its near end is shorted [m].

    Parameters
    ----------
    order : int
    wavenumber : float
        [rad/m].
    start : float
        Radius of the short [m].

    Notes
    -----
    The least r > start with J_m(k start) Y_m'(kr) = Y_m(k start) J_m'(kr), less `start`; a
    quarter wavelength far from the axis.

    References
    ----------
    N. Marcuvitz, Waveguide Handbook, McGraw-Hill 1951, sec. 1.7.

    Examples
    --------
    >>> round(1e3 * radial_quarter_wave(0, 2 * np.pi / 32e-3, 5e-3), 2)
    6.71
    """
    from scipy.special import jv, jvp, yv, yvp

    x = wavenumber * start

    def slope(y: ArrayLike) -> Array:
        return np.asarray(jv(order, x) * yvp(order, y) - yv(order, x) * jvp(order, y))

    # Far from the axis the field turns by a radian a radian; the steps follow its slower start.
    steps = x + np.linspace(0, 2 * np.pi + order, 400)
    signs = np.sign(slope(steps))
    first = int(np.flatnonzero(signs[1:] != signs[0])[0])
    root = roots_between(slope, steps[[first]], steps[[first + 1]])
    return float(root[0]) / wavenumber - start


def roots_between(function: Callable[[Array], Array], low: Array, high: Array) -> Array:
    """Where a real function changes its sign, to round-off.

    Parameters
    ----------
    function : callable
        Of numbers (n,); each call costs about as much for many of them as for one.
    low, high : (r,) array
        Ends between which it changes its sign once.

    Returns
    -------
    (r,) array
    """
    if not len(low):
        return np.zeros(0)
    inside, sign = np.arange(1, _PARTS) / _PARTS, np.sign(function(low))
    for _ in range(_ROUNDS):
        between = low[:, None] + (high - low)[:, None] * inside
        changed = np.sign(function(between.ravel())).reshape(between.shape) != sign[:, None]
        first = np.where(changed.any(axis=1), changed.argmax(axis=1), _PARTS - 1)
        ends = np.column_stack([low, between, high])
        low, high = (np.take_along_axis(ends, (first + n)[:, None], 1)[:, 0] for n in (0, 1))
    return np.asarray((low + high) / 2)
