"""Reflection of twists, order tau^2, for any rate of twist made of harmonics."""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import ArrayLike

from geometries.arrays import Array, ComplexArray
from geometries.errors import InvalidDimensionError
from geometries.shapes.twists import Twist
from solver.closed_forms.source import Source, Validity, sourced
from solver.closed_forms.twisted_guides import (
    phase_constant_twisted,
    twist_coupling,
    twist_is_gentle,
)

#: Rate of twist as a sum of harmonics: coefficient and whole waves over the length.
_HARMONICS = {"uniform": ((1.0, 0),), "raised-cosine": ((1.0, 0), (-0.5, 1), (-0.5, -1))}


def _twist_is_gentle(twist: Twist, frequency: ArrayLike) -> bool:
    return twist_is_gentle(twist.guide, twist.largest_rate, frequency)


@sourced(
    Source("derived here by second-order coupled modes in the turning frame; no source", "derived"),
    Validity(
        "twist up to 0.65 rad over one broad width, 1.2 to 1.92 times the cutoff, b <= a/2: "
        "within 6e-4",
        _twist_is_gentle,
    ),
)
def twist_reflection(twist: Twist, frequency: ArrayLike) -> ComplexArray:
    """S11 of TE10 of a twist, order tau^2.

    Parameters
    ----------
    twist : Twist
    frequency : array_like
        [Hz], above the cutoff.

    Returns
    -------
    complex array
        S11 at the first end [-].

    Raises
    ------
    BelowCutoffError
    InvalidDimensionError
        For a smooth profile.

    Notes
    -----
    With p and q of `phase_constant_twisted` at the rate of 1 rad/m,

    S11 = SUM_n (1/4)(q_n^2 - p_n^2) INT INT tau(z) tau(z')
    exp[-j beta' (z + z') - j beta_n |z - z'|] dz dz'.

    Derivation. In waves a, b = (v +- i)/2 TE10 excites the n-th mode forward with tau (q - p)/2
    and backward with -tau (q + p)/2, and each turns back into the reflected TE10 with -(q + p)/2
    and (q - p)/2: both paths have the same product. beta' in place of beta0 takes account of the
    phase that the twist adds, which is of the third order in S11. The double integral is
    elementary for each pair of harmonics of the rate of twist. The sum over modes converges as
    1/order and is extrapolated.

    Examples
    --------
    >>> from geometries.shapes.guides import standard_guide
    >>> twist = Twist(standard_guide("WR-90"), math.pi / 2, 80e-3)
    >>> float(abs(twist_reflection(twist, 10e9)).round(4))
    0.0026
    """
    mode = twist_coupling(twist.guide, frequency)
    if twist.profile not in _HARMONICS:
        raise InvalidDimensionError(
            "profile", twist.profile, f"one of {', '.join(_HARMONICS)} for this closed form"
        )
    rate = twist.angle / twist.length
    harmonics = _HARMONICS[twist.profile]
    mean_square = rate * math.sqrt(sum(size**2 for size, _ in harmonics))
    phase = np.asarray(phase_constant_twisted(twist.guide, mean_square, frequency))[..., None]
    both = np.zeros(mode.beta.shape, dtype=complex)
    for first, waves in harmonics:
        for second, others in harmonics:
            shift, other = (2 * np.pi * count / twist.length for count in (waves, others))
            both += first * second * _double(phase + shift, phase + other, mode.beta, twist.length)
    strength = 0.25 * rate**2 * (mode.out_squared - mode.back_squared)
    return np.asarray(np.sum(mode.weight * strength * both, axis=-1))


def _double(first: Array, second: Array, beta: ComplexArray, length: float) -> ComplexArray:
    """Double integral over a square of exp[-j (first z + second z') - j beta |z - z'|]."""

    def upper(p: Array, q: Array) -> ComplexArray:
        """Integral over z > z' of exp(-j p z' - j q z)."""
        late = np.exp(-1j * (q + beta) * length)
        # Two phase constants that agree make a limit; a shift by 1e-9 reaches it to round-off.
        gap = np.where(np.abs(p - beta) * length < 1e-9, 1e-9 / length, p - beta)
        rest = (late - np.exp(-1j * (p + q) * length)) / (1j * gap)
        return np.asarray((_single(p + q, length) - rest) / (1j * (q + beta)))

    if np.array_equal(first, second):
        return 2 * upper(first, second)
    return upper(first, second) + upper(second, first)


def _single(s: Array, length: float) -> ComplexArray:
    """Integral of exp(-j s z) from 0 to `length`."""
    turn = 0.5 * s * length
    return np.asarray(length * np.exp(-1j * turn) * np.sinc(turn / np.pi))
