"""Flexible guides in closed form: shallow convolutions to first order, and the mean guide.

A wall that is moved outward by delta couples the forward wave of TE10 to the backward one. By
reciprocity, with the fields of the plain guide on both sides of it,

    S11 = 1/2 integral over the walls of delta (j omega eps E_n^2 + j omega mu H_t^2) dS,

the fields being those of one wave of unit power, not conjugated. For both pairs of walls this is

    S11 = 2 j C integral of delta(z) exp(-2 j beta z) dz,   C = beta/b - pi^2/(beta a^3).
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from geometries.arrays import Array, ComplexArray
from geometries.shapes.flexibles import Flexible
from solver.closed_forms.source import Source, Validity, sourced
from solver.waves.guide_modes import SPEED_OF_LIGHT, phase_constant

#: Largest depth over the pitch, and over the guide's height, and largest reflection, at which the
#: first order was compared.
_SHALLOW, _OF_HEIGHT, _SMALL = 0.02, 0.02, 0.1
_FIRST_ORDER = (
    "first-order perturbation of the walls, by Lorentz reciprocity (R. F. Harrington, "
    "Time-Harmonic Electromagnetic Fields, 1961, sec. 7-1, from memory, for cavities); the "
    "reflection of a convoluted guide is derived here"
)
_MEAN = "line of the mean width and height between plain guides, derived here"
_COUPLED = "coupled waves in a periodic guide, the coupling from the first order, derived here"


def _coupling(part: Flexible, beta: Array) -> Array:
    """C of the module's text, over the depth's share in one wave, [1/m^2]."""
    a, b = part.guide.broad_width, part.guide.narrow_height
    return np.asarray(beta / b - np.pi**2 / (beta * a**3))


def _is_shallow(part: Flexible) -> bool:
    most = min(_SHALLOW * part.pitch, _OF_HEIGHT * part.guide.narrow_height)
    return not part.plane and part.convolution_depth <= most


def _first_order_holds(part: Flexible, frequency: ArrayLike) -> bool:
    waves = phase_constant(part.guide, frequency) * part.pitch / np.pi
    # a stopband may lie between two frequencies
    apart = waves.max() < 0.98 or waves.min() > 1.02
    small = np.abs(convolution_reflection(part, frequency)) <= _SMALL
    return bool(_is_shallow(part) and apart and np.all(small))


@sourced(
    Source(_FIRST_ORDER, "derived"),
    Validity(
        "straight; depth at most 0.02 of the pitch and of the height, |S11| at most 0.1, half a "
        "guide wavelength at least 2 % off the pitch; there |S11| is off by at most 5 % of its "
        "largest value in the band",
        _first_order_holds,
    ),
)
def convolution_reflection(part: Flexible, frequency: ArrayLike) -> ComplexArray:
    """S11 of a straight flexible guide with shallow convolutions.

    Parameters
    ----------
    part : Flexible
    frequency : array_like
        [Hz], above the cutoff.

    Returns
    -------
    complex array
        [-]

    Raises
    ------
    BelowCutoffError

    Notes
    -----
    With delta = d (1 - cos(K z))/2 over N whole pitches, K = 2 pi/pitch and L their length,

        S11 = C d (1 - exp(-2 j beta L)) K^2 / (2 beta (K^2 - 4 beta^2)).

    What adds up over the length is the phase: there beta is that of the mean guide, which it is to
    first order. Neglected: all beyond the first order in d, the bend of a bent piece.
    """
    beta = phase_constant(part.guide, frequency)
    mean = phase_constant(part.mean_guide, frequency)
    wave, depth = 2 * np.pi / part.pitch, part.convolution_depth
    ends = 1 - np.exp(-2j * mean * part.axis_length)
    off = wave**2 / (wave**2 - 4 * beta**2)
    return np.asarray(_coupling(part, beta) * depth * ends * off / (2 * beta))


@sourced(
    Source(_MEAN, "derived"),
    Validity(
        "a rough guess: the field keeps to the crests, so that the guide seems narrower and lower "
        "than its mean; no accuracy claimed",
        lambda part, frequency: False,
    ),
)
def mean_guide_reflection(part: Flexible, frequency: ArrayLike) -> ComplexArray:
    """S11 of a flexible guide taken for a plain one of its mean width and height.

    Parameters
    ----------
    part : Flexible
    frequency : array_like
        [Hz], above the cutoff.

    Returns
    -------
    complex array
        [-]

    Raises
    ------
    BelowCutoffError

    Notes
    -----
    Impedances of TE10 as b/beta; r = (Z2 - Z1)/(Z2 + Z1) at the first end and -r at the second,
    S11 = r (1 - e)/(1 - r^2 e), e = exp(-2 j beta2 L).
    """
    plain, mean = phase_constant(part.guide, frequency), phase_constant(part.mean_guide, frequency)
    ratio = part.mean_guide.narrow_height / part.guide.narrow_height * plain / mean
    step = (ratio - 1) / (ratio + 1)
    turn = np.exp(-2j * mean * part.axis_length)
    return np.asarray(step * (1 - turn) / (1 - step**2 * turn))


@sourced(
    Source(_COUPLED, "derived"),
    Validity(
        "straight; depth at most 0.02 of the pitch and of the height; the width is off by at most "
        "5 %, the middle by at most a tenth of the width",
        lambda part: _is_shallow(part),
    ),
)
def bragg_stopband(part: Flexible) -> Array:
    """First stopband of an endless row of shallow convolutions, (2,) [Hz].

    Parameters
    ----------
    part : Flexible

    Returns
    -------
    (2,) array
        Lower and upper edge.

    Notes
    -----
    The convolutions' fundamental couples both waves by kappa = C d/2; the stopband is where beta
    of the mean guide is within kappa of pi/pitch.
    """
    middle = np.pi / part.pitch
    kappa = 0.5 * part.convolution_depth * np.abs(_coupling(part, np.array(middle)))
    cutoff = np.pi / part.mean_guide.broad_width
    edges = middle + np.array([-1.0, 1.0]) * kappa
    return np.asarray(SPEED_OF_LIGHT / (2 * np.pi) * np.hypot(edges, cutoff))
