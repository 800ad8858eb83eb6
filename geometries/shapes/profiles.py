"""How a twist's angle or a taper's size goes from one end to the other.

Every profile is a function of the fraction t of the length, with its derivative; it rises from 0 at
t = 0 to 1 at t = 1 and is odd about the middle.  Klopfenstein's and Hecken's keep the side lobes of
a taper's first-order reflection below 1/100 of that of a step.
"""

from __future__ import annotations

from collections.abc import Callable

import numpy as np

from geometries.arrays import Array

Profile = Callable[[Array], tuple[Array, Array]]

#: A of Klopfenstein's taper: cosh A = 100.
KLOPFENSTEIN_A = float(np.arccosh(100.0))
#: B of Hecken's taper: first side lobe 0.217234 B / sinh B = 1/100.
HECKEN_B = 5.471018

_POINTS, _WEIGHTS = np.polynomial.legendre.leggauss(24)


def uniform(t: Array) -> tuple[Array, Array]:
    """Constant rate."""
    return t, np.ones_like(t)


def raised_cosine(t: Array) -> tuple[Array, Array]:
    """Rate 1 - cos(2 pi t): no jump of the rate at the ends, nor of its derivative."""
    turn = 2 * np.pi * t
    return t - np.sin(turn) / (2 * np.pi), 1 - np.cos(turn)


def klopfenstein(t: Array) -> tuple[Array, Array]:
    """Continuous part of Klopfenstein's optimum; its two end steps are left out.

    Notes
    -----
    Rate I1(A sqrt(1 - x^2)) / sqrt(1 - x^2) with x = 2 t - 1; the steps that are left out, 1/cosh A
    of the whole change at each end, are 1 % here.

    References
    ----------
    R. W. Klopfenstein, A transmission line taper of improved design, Proc. IRE 44, 31 (1956).
    """
    from scipy.special import i1

    def rate(x: Array) -> Array:
        root = KLOPFENSTEIN_A * np.sqrt(np.maximum(1 - x**2, 1e-24))
        return np.asarray(i1(root) / root)

    return _integrated(rate, (np.cosh(KLOPFENSTEIN_A) - 1) / KLOPFENSTEIN_A**2, t)


def hecken(t: Array) -> tuple[Array, Array]:
    """Hecken's near-optimum profile, which has no end steps.

    Notes
    -----
    Rate I0(B sqrt(1 - x^2)) with x = 2 t - 1.

    References
    ----------
    R. P. Hecken, A near-optimum matching section without discontinuities, IEEE Trans. Microwave
    Theory Tech. MTT-20, 734 (1972).
    """
    from scipy.special import i0

    def rate(x: Array) -> Array:
        return np.asarray(i0(HECKEN_B * np.sqrt(np.maximum(1 - x**2, 0.0))))

    return _integrated(rate, np.sinh(HECKEN_B) / HECKEN_B, t)


def _integrated(rate: Callable[[Array], Array], half: float, t: Array) -> tuple[Array, Array]:
    """Return 1/2 + (integral of an even rate from 0 to x) / (2 half), x = 2 t - 1, and its slope.

    `half` is the integral from 0 to 1.
    """
    x = 2 * np.asarray(t, dtype=float) - 1
    inner = 0.5 * x[..., None] * (1 + _POINTS)
    area = 0.5 * x * (rate(inner) @ _WEIGHTS)
    return 0.5 + 0.5 * area / half, rate(x) / half
