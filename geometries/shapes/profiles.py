"""How the angle of a bend or twist, or a taper's size, goes from one end to the other.

Every profile is a function of the fraction t of the length, with its derivative; it rises from 0 at
t = 0 to 1 at t = 1 and is odd about the middle.  Klopfenstein's and Hecken's keep the side lobes of
a taper's first-order reflection below 1/100 of that of a step.
"""

from __future__ import annotations

from collections.abc import Callable

import numpy as np

from geometries.arrays import Array
from geometries.errors import InvalidDimensionError

Profile = Callable[[Array], tuple[Array, Array]]

#: A of Klopfenstein's taper: cosh A = 100.
KLOPFENSTEIN_A = float(np.arccosh(100.0))
#: B of Hecken's taper: first side lobe 0.217234 B / sinh B = 1/100.
HECKEN_B = 5.471018

#: Profiles that are plain: one rate from end to end.
PLAIN_PROFILES = ("constant", "uniform", "linear")
#: Least and largest part of the length over which the rate of `smooth` rises.
LEAST_ONSET, LARGEST_ONSET = 0.05, 0.5

_POINTS, _WEIGHTS = np.polynomial.legendre.leggauss(24)


def uniform(t: Array) -> tuple[Array, Array]:
    """Constant rate."""
    return t, np.ones_like(t)


def raised_cosine(t: Array) -> tuple[Array, Array]:
    """Rate 1 - cos(2 pi t): no jump of the rate at the ends, nor of its derivative."""
    turn = 2 * np.pi * t
    return t - np.sin(turn) / (2 * np.pi), 1 - np.cos(turn)


def smooth(onset: float) -> Profile:
    """Rate that rises as half a cosine over a part of the length, stays, and falls likewise.

    Parameters
    ----------
    onset : float
        Part of the length over which it rises, above 0, up to 0.5 [-]. At 0.5 it is
        `raised_cosine`; towards 0 it becomes `uniform`.

    Returns
    -------
    callable

    Notes
    -----
    Rate h (1 - cos(pi t/onset))/2 up to t = onset, then h = 1/(1 - onset); its slope does not
    jump.
    """
    height = 1.0 / (1.0 - onset)

    def profile(t: Array) -> tuple[Array, Array]:
        t = np.asarray(t, dtype=float)
        near = np.minimum(t, 1.0 - t)
        turn = np.pi * np.clip(near / onset, 0.0, 1.0)
        rising = 0.5 * (near - onset / np.pi * np.sin(turn))
        done = height * np.where(near < onset, rising, near - 0.5 * onset)
        return np.where(t > 0.5, 1.0 - done, done), 0.5 * height * (1.0 - np.cos(turn))

    return profile


def check_onset(profile: str, onset: float, sudden: tuple[str, ...]) -> None:
    """Refuse an onset that does not fit its profile.

    Parameters
    ----------
    profile : str
    onset : float
        Part of the length over which the rate rises [-].
    sudden : tuple of str
        The part's profiles that take no onset; the only other one is ``"smooth"``.

    Raises
    ------
    InvalidDimensionError
        Naming ``profile`` or ``onset``.
    """
    if profile not in (*sudden, "smooth"):
        raise InvalidDimensionError("profile", profile, f"{', '.join(sudden)} or smooth")
    if profile != "smooth" and onset != 0.0:
        raise InvalidDimensionError(
            "onset", onset, f'0 for a {profile} profile; only "smooth" takes it', "leave it out"
        )
    if profile == "smooth" and not LEAST_ONSET <= onset <= LARGEST_ONSET:
        raise InvalidDimensionError(
            "onset",
            onset,
            f"from {LEAST_ONSET:g} to {LARGEST_ONSET:g} of the length for a smooth profile",
        )


def knots_of(profile: str, onset: float) -> tuple[float, ...]:
    """Places within the part, as fractions of its length, where its rate is not analytic."""
    return (onset, 1.0 - onset) if profile == "smooth" and onset < LARGEST_ONSET else ()


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
