"""TE10 in a uniformly twisted guide: its coupling to other modes and its phase constant.

The fields at each place are expanded in the modes of the straight guide, in a frame that turns with
the walls at the rate tau. The modal voltages and currents obey

    V' = -U^T V - j X I,   I' = U I - j B V,   U_mn = tau INT e_m . (d e_n/d phi - z x e_n) dS,

d/d phi being the derivative about the axis at fixed components: turning the frame moves the field
against it, and along the tilted wall the axial field is -tau (z x r) . E, which makes both matrices
transposes of each other. TE10 couples to the modes of even m and odd n.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property, lru_cache

import numpy as np
from numpy.typing import ArrayLike

from geometries.arrays import Array, ComplexArray
from geometries.shapes.guides import RectangularGuide
from solver.closed_forms.curved_guides import in_compared_band
from solver.closed_forms.source import Source, Validity, sourced
from solver.waves.guide_modes import SPEED_OF_LIGHT, phase_constant

#: Highest order m of the modes that enter the sums; half of it serves to extrapolate them.
_HIGHEST_ORDER = 40
#: Largest twist over one broad width at which the order-tau^2 forms were compared [rad].
GENTLE_TWIST = 0.65


@dataclass(frozen=True, eq=False)
class TwistCoupling:
    """Coupling of TE10 to N modes at the rate of 1 rad/m.

    Parameters
    ----------
    beta0 : (...,) array
        Phase constant of TE10 [rad/m].
    beta : (..., N) complex array
        Phase constants of the modes, -j |beta| beyond cutoff [rad/m].
    out_squared, back_squared : (..., N) complex array
        U_n1^2 Z_n/Z_1 and U_1n^2 Z_1/Z_n [-].
    product : (N,) array
        U_n1 U_1n [-].
    weight : (N,) array
        Weights that extrapolate the sums over modes, whose rest falls as 1/order: 2 for the
        upper half of the orders, 1 for the lower.
    """

    beta0: Array
    beta: ComplexArray
    out_squared: ComplexArray
    back_squared: ComplexArray
    product: Array
    weight: Array

    @cached_property
    def slowing(self) -> Array:
        """By how much the phase constant of TE10 falls at the rate of 1 rad/m (...,) [rad/m]."""
        beta0 = self.beta0[..., None]
        squares = self.beta * (self.out_squared + self.back_squared)
        terms = (2 * beta0 * self.product - squares).real / (beta0**2 - self.beta**2).real
        return np.asarray(0.5 * np.sum(self.weight * terms, axis=-1))


def twist_coupling(guide: RectangularGuide, frequency: ArrayLike) -> TwistCoupling:
    """Return the coupling of TE10 to the modes of even m and odd n.

    That of the guide and frequencies asked for last is kept: a search over lengths asks again.

    Parameters
    ----------
    guide : RectangularGuide
    frequency : array_like
        [Hz], above the cutoff.

    Raises
    ------
    BelowCutoffError
    """
    at = np.asarray(frequency, dtype=float)
    return _coupling(guide, at.shape, at.tobytes())


@lru_cache(maxsize=1)
def _coupling(guide: RectangularGuide, shape: tuple[int, ...], kept: bytes) -> TwistCoupling:
    frequency = np.frombuffer(kept).reshape(shape)
    orders = np.meshgrid(
        np.arange(0.0, _HIGHEST_ORDER + 1, 2), np.arange(1.0, _HIGHEST_ORDER + 2, 2), indexing="ij"
    )
    m, n = (order.ravel() for order in orders)
    weight = np.where((m <= _HIGHEST_ORDER // 2) & (n <= _HIGHEST_ORDER // 2 + 1), 1.0, 2.0)
    cutoff = np.pi * np.hypot(m / guide.broad_width, n / guide.narrow_height)
    electric = m > 0
    cutoff = np.concatenate([cutoff, cutoff[electric]])
    k = 2 * np.pi * frequency[..., None] / SPEED_OF_LIGHT
    # A mode exactly at its cutoff would be a pole; the range of validity ends well below it.
    gap = np.where(k == cutoff, 1e-12, k**2 - cutoff**2)
    beta = np.where(gap < 0, -1j, 1) * np.sqrt(np.abs(gap))
    beta0 = np.asarray(phase_constant(guide, frequency))
    te = np.arange(len(cutoff)) < len(m)
    impedance = np.where(te, beta0[..., None] / beta, beta * beta0[..., None] / k**2)
    out, back = (
        np.concatenate([part, other[electric]])
        for part, other in zip(
            _overlaps(guide, m, n, "TE"), _overlaps(guide, m, n, "TM"), strict=True
        )
    )
    return TwistCoupling(
        beta0,
        beta,
        np.asarray(out**2 * impedance),
        np.asarray(back**2 / impedance),
        out * back,
        np.concatenate([weight, weight[electric]]),
    )


def _overlaps(guide: RectangularGuide, m: Array, n: Array, kind: str) -> tuple[Array, Array]:
    """U_n1 and U_1n per rate of twist, for modes of even m and odd n."""
    a, b = guide.broad_width, guide.narrow_height
    kx, ky, k1 = m * np.pi / a, n * np.pi / b, np.pi / a
    size = np.sqrt(np.where(m == 0, 2, 4) / (a * b)) / np.hypot(kx, ky)
    # Fields e_x = along cos(kx x) sin(ky y), e_y = up sin(kx x) cos(ky y).
    along, up = (ky * size, -kx * size) if kind == "TE" else (kx * size, ky * size)
    sin_cos = 2 * a / (np.pi * (1 - m**2))  # integral of sin(k1 x) cos(kx x)
    cos_sin = 2 * a * m / (np.pi * (m**2 - 1))  # integral of cos(k1 x) sin(kx x)
    x_sin_sin = -4 * a**2 * m / (np.pi * (m**2 - 1)) ** 2  # of (x - a/2) sin(k1 x) sin(kx x)
    sin_y = 2 * b / (np.pi * n)  # integral of sin(ky y)
    y_cos = -2 * (b / (np.pi * n)) ** 2  # integral of (y - b/2) cos(ky y)
    first = np.sqrt(2 / (a * b))
    out = first * (along * sin_cos * sin_y - up * k1 * cos_sin * y_cos)
    back = -first * (
        up * kx * sin_cos * y_cos + up * ky * x_sin_sin * sin_y + along * sin_cos * sin_y
    )
    return out, back


def twist_is_gentle(guide: RectangularGuide, rate: float, frequency: ArrayLike) -> bool:
    """Return whether the twist over one broad width is at most 0.65 rad, in the compared band."""
    return (
        abs(rate) * guide.broad_width <= GENTLE_TWIST
        and guide.narrow_height <= 0.5 * guide.broad_width
        and in_compared_band(guide, frequency)
    )


@sourced(
    Source(
        "derived here by second-order perturbation; L. Lewin and T. Ruehle, IEEE MTT-28, 44 "
        "(1980), whose abstract was at hand, state the order 1/L^2",
        "derived",
    ),
    Validity(
        "twist up to 0.65 rad over one broad width, 1.2 to 1.92 times the cutoff, b <= a/2: "
        "within 1.3e-3 of the phase constant",
        twist_is_gentle,
    ),
)
def phase_constant_twisted(guide: RectangularGuide, rate: float, frequency: ArrayLike) -> Array:
    """Phase constant of TE10 along the axis of a twisted guide, order tau^2 [rad/m].

    Parameters
    ----------
    guide : RectangularGuide
        Not square; a square guide's modes split by (8/pi^2) tau.
    rate : float
        Rate of twist tau [rad/m].
    frequency : array_like
        [Hz], above the cutoff.

    Returns
    -------
    array
        beta' such that the field, in the turning frame, goes as exp(-j beta' z).

    Raises
    ------
    BelowCutoffError

    Notes
    -----
    With p = U_1n sqrt(Z_1/Z_n) and q = U_n1 sqrt(Z_n/Z_1), proportional to tau,

    beta' = beta0 - (1/2) SUM_n [2 beta0 p q - beta_n (p^2 + q^2)]/(beta0^2 - beta_n^2).

    Derivation. In units of the modes' impedances, beta' v = beta i - j P^T v and
    beta' i = beta v + j Q^T i; the first order of v_n and i_n follows from TE10 alone, and the
    mean of both equations of TE10 gives the second order. The sums converge as 1/order and are
    extrapolated.

    Examples
    --------
    >>> from geometries.shapes.guides import standard_guide
    >>> guide = standard_guide("WR-90")
    >>> straight = phase_constant(guide, 10e9)
    >>> shift = float(phase_constant_twisted(guide, 1.0, 10e9) - straight)
    >>> round(shift / float(straight) / guide.broad_width**2, 4)
    0.0092
    """
    mode = twist_coupling(guide, frequency)
    return np.asarray(mode.beta0 - rate**2 * mode.slowing)
