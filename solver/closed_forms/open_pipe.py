"""The open end of a round guide with a thin wall in free space: exact, by Wiener and Hopf."""

from __future__ import annotations

import math
from collections.abc import Callable

import numpy as np
from numpy.typing import ArrayLike
from scipy.special import hankel2e, jn_zeros, jnp_zeros, jve

from geometries.arrays import ComplexArray
from geometries.shapes.horns import ConicalHorn, Horn
from solver.closed_forms.source import Source, Validity, sourced
from solver.waves.guide_modes import SPEED_OF_LIGHT

#: Step of the integrals, and how far they go either way, in the logarithm.
_STEP, _REACH = 0.02, 36.0
#: Beyond this argument the asymptotic form of the functions stands.
_FAR = 1e5


def _is_an_open_pipe(horn: Horn, frequency: ArrayLike) -> bool:
    return isinstance(horn, ConicalHorn) and horn.length == 0 and horn.rim == "bare"


@sourced(
    Source(
        "the problem of L. A. Weinstein, The Theory of Diffraction and the Factorization Method "
        "(Golem Press 1969), part 1; derived here by Wiener's and Hopf's method",
        "derived",
    ),
    Validity("exact: the open end of a round guide, thin wall in free space", _is_an_open_pipe),
)
def open_pipe_reflection(horn: ConicalHorn, frequency: ArrayLike) -> ComplexArray:
    """S11 of the open end of a round guide in free space, exactly.

    Parameters
    ----------
    horn : ConicalHorn
        Of its guide and mode alone is made use.
    frequency : array_like
        [Hz], above the cutoff of the horn's mode.

    Returns
    -------
    complex array
        S11 of transverse E at the end [-].

    Notes
    -----
    With alpha the wavenumber along the axis, g^2 = k^2 - alpha^2, x = g a, and the factors
    F = F-(alpha) F-(-alpha) of L_m = J_m(x) H_m(x) and of M = J_1'(x) H_1'(x):

    TM01: the wall's current Jz and the field Ez beyond it obey Ez = c g^2 L_0 Jz, so that
    S11 = -(j pi/4) ((k + beta) L_0-(beta) / beta)^2.

    TE11: with X = g^2 Jz + j alpha Jphi/a and Y = g^2 Ephi + j alpha Ez/a,
    Ez = (c/k) L_1 X and Y = c k g^2 M Jphi; two constants keep Jz and Ephi regular where g = 0.
    S11 = -(k + beta)/(k - beta) M-(beta)^2 (C - 1/(2 beta)) / M'(beta),
    C = (1/(k + beta) + T/(k - beta))/(1 - T), T = (L_1-(k) / (2 k a M-(k)))^2,
    M'(beta) = -2j beta a^2 (1 - 1/p^2)/(pi p^2), p the first zero of J_1'.
    """
    f = np.atleast_1d(np.asarray(frequency, dtype=float))
    solve = _te11 if horn.mode == "TE11" else _tm01
    found = [solve(horn.guide.radius, 2 * math.pi * each / SPEED_OF_LIGHT) for each in f]
    return np.asarray(found).reshape(np.shape(frequency))


def _tm01(radius: float, k: float) -> complex:
    beta = math.sqrt(k**2 - (float(jn_zeros(0, 1)[0]) / radius) ** 2)
    factor = _minus(lambda x: _product(0, x), radius, k, beta)
    return complex(-0.25j * math.pi * ((k + beta) * factor / beta) ** 2)


def _te11(radius: float, k: float) -> complex:
    root = float(jnp_zeros(1, 1)[0])
    beta = math.sqrt(k**2 - (root / radius) ** 2)

    def axial(x: ComplexArray) -> ComplexArray:
        return _product(1, x)

    def around(x: ComplexArray) -> ComplexArray:
        return _product(1, x, slopes=True)

    at_beta, at_k = (_minus(around, radius, k, at) for at in (beta, k))
    both = (_minus(axial, radius, k, k) / (2 * k * radius * at_k)) ** 2
    constant = (1 / (k + beta) + both / (k - beta)) / (1 - both)
    slope = -2j * beta * radius**2 * (1 - 1 / root**2) / (math.pi * root**2)
    return complex(-(k + beta) / (k - beta) * at_beta**2 * (constant - 0.5 / beta) / slope)


def _product(order: int, x: ComplexArray, slopes: bool = False) -> ComplexArray:
    """J H(2), or the product of their derivatives; 1/(pi x) far from the origin."""
    far = np.abs(x) > _FAR
    near = np.where(far, 1.0, x)
    if slopes:
        # with scaled functions nothing overflows
        wave = 0.5 * (jve(order - 1, near) - jve(order + 1, near))
        other = 0.5 * (hankel2e(order - 1, near) - hankel2e(order + 1, near))
    else:
        wave, other = jve(order, near), hankel2e(order, near)
    return np.where(far, 1 / (math.pi * x), wave * other * np.exp(-1j * near.real))


def _minus(
    kernel: Callable[[ComplexArray], ComplexArray], radius: float, k: float, at: float
) -> complex:
    """Factor of an even kernel that is regular and has no zero below the contour, at `at` > 0.

    ln F-(alpha) = (j alpha/pi) INT ln F(tau)/(tau^2 - alpha^2) d tau from 0 along a ray above the
    waves that run forward; with tau = k exp(j pi/4 + y) the rule of trapezoids converges
    exponentially.
    """
    tau = k * np.exp(0.25j * math.pi + np.arange(-_REACH, _REACH, _STEP))
    gamma = np.sqrt(k**2 - tau**2 + 0j)
    gamma = np.where(gamma.imag > 0, -gamma, gamma)
    values = kernel(gamma * radius)
    logarithm = np.log(np.abs(values)) + 1j * np.unwrap(np.angle(values))
    integrand = logarithm / (tau**2 - at**2) * tau
    return complex(np.exp(1j * at / math.pi * integrand.sum() * _STEP))
