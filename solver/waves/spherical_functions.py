"""Functions of spherical waves: over the radius, over the angle, and how many orders count.

Source: R. F. Harrington, "Time-Harmonic Electromagnetic Fields", 1961, chapter 6.
"""

from __future__ import annotations

import math

import numpy as np
from scipy.special import spherical_jn, spherical_yn

from geometries.arrays import Array, ComplexArray, Numbers
from geometries.errors import MeshingError

#: No opening that a mesh can hold needs orders beyond this.
_MOST_ORDERS = 200


def hankel_slopes(orders: Numbers, x: Array | ComplexArray) -> ComplexArray:
    """h_n'(x)/h_n(x) of Riccati's h_n(x) = x h_n(2)(x), (len(x), orders).

    Notes
    -----
    By the ratio r_n = h_(n-1)/h_n, which obeys r_(n+1) = 1/((2n+1)/x - r_n) and starts with -j;
    h_n'/h_n = r_n - n/x.
    """
    x = np.asarray(x, dtype=complex)
    ratio = np.full_like(x, -1j)
    slopes = [ratio]
    for n in range(1, int(np.max(orders)) + 1):
        ratio = 1.0 / ((2 * n - 1) / x - ratio)
        slopes.append(ratio - n / x)
    return np.asarray(np.stack(slopes, axis=1)[:, np.asarray(orders)], dtype=np.complex128)


def far_phases(orders: Numbers, x: Array, magnetic: np.ndarray | bool) -> ComplexArray:
    """Phase j^(n+1) |h|/h, or j^n |h'|/h' where magnetic, (len(x), orders)."""
    n, at = np.asarray(orders)[None], np.asarray(x)[:, None]
    spread = np.broadcast_arrays(n, at)
    with np.errstate(over="ignore", invalid="ignore"):
        value = at * (spherical_jn(*spread) - 1j * spherical_yn(*spread))
    value = np.where(np.isfinite(value), value, 1e300)
    slope = value * hankel_slopes(orders, np.asarray(x))
    wave = np.where(magnetic, slope, value)
    turn = 1j ** ((n + np.where(magnetic, 0, 1)) % 4)
    return np.asarray(turn * np.abs(wave) / wave, dtype=complex)


def legendre_over_sine(m: int, most: int, theta: Array) -> tuple[Array, Array]:
    """P_n^m(cos t)/sin t and dP_n^m(cos t)/dt for n = m ... most, (most - m + 1, p) each.

    Parameters
    ----------
    m : int
        At least 1.
    most : int
    theta : (p,) array
        [rad]

    Notes
    -----
    The square of P_n^m, without the sign (-1)^m, integrates to 1 over cos t from -1 to 1.
    """
    x, sine = np.cos(theta), np.sin(theta)
    scale = math.sqrt(0.5 * math.prod((2 * k + 1) / (2 * k) for k in range(1, m + 1)))
    rows = [scale * sine ** (m - 1)]
    factor = [0.0]
    for n in range(m + 1, most + 1):
        factor.append(math.sqrt((4 * n * n - 1) / (n * n - m * m)))
        row = factor[-1] * x * rows[-1]
        if len(rows) > 1:
            row = row - factor[-1] / factor[-2] * rows[-2]
        rows.append(row)
    slopes = [m * x * rows[0]]
    for n in range(m + 1, most + 1):
        before = math.sqrt((2 * n + 1) / (2 * n - 1) * (n * n - m * m))
        slopes.append(n * x * rows[n - m] - before * rows[n - m - 1])
    return np.array(rows), np.array(slopes)


def orders_needed(radius: float, opening: float, highest: float, leftover: float) -> int:
    """Highest order along the meridian that is kept.

    Parameters
    ----------
    radius, opening, highest
        As those of `spherical_waves`.
    leftover : float
        What a wave left out may still return to the opening.

    Notes
    -----
    A wave that starts at the opening's edge and is thrown back at the sphere returns with
    j_n(k r) h_n(k R) / (j_n(k R) h_n(k r)), which falls as (r/R)^(2n+1) once n exceeds k R.

    Raises
    ------
    MeshingError
        If the half sphere lies too close about the opening.
    """
    outer, inner = highest * radius, highest * opening
    for n in range(max(1, math.ceil(outer)), _MOST_ORDERS):
        there = spherical_jn(n, inner) / spherical_jn(n, outer)
        back = spherical_yn(n, outer) / spherical_yn(n, inner)
        if abs(there * back) * opening / radius < leftover:
            return n
    raise MeshingError("the half sphere lies too close about the opening")
