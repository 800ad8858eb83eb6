"""Closed forms of horns: directivity by aperture theory, reflection of the open end by one mode."""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import ArrayLike
from scipy.special import fresnel, j0, j1, jnp_zeros, jvp

from geometries.arrays import Array, ComplexArray
from geometries.shapes.horns import ConicalHorn, Horn, RectangularHorn, phase_errors
from solver.closed_forms.source import Source, Validity, sourced
from solver.waves.guide_modes import SPEED_OF_LIGHT
from solver.waves.matched_ports import outgoing_root

#: Path differences below this part of a wavelength make no loss.
_FLAT = 1e-6
#: Spectrum beyond this number of radians over the opening's smaller half side adds nothing.
_FARTHEST = 400.0


def _is_a_wide_pyramid(horn: Horn, frequency: ArrayLike) -> bool:
    """Apertures of one wavelength at least, whose phase errors are no more than optimum ones."""
    if not isinstance(horn, RectangularHorn):
        return False
    longest, shortest = (SPEED_OF_LIGHT / pick(frequency) for pick in (np.min, np.max))
    errors = phase_errors(horn)
    wide = min(horn.aperture_width, horn.aperture_height) >= longest
    return bool(wide and errors["E"] <= 0.26 * shortest and errors["H"] <= 0.4 * shortest)


@sourced(
    Source(
        "W. L. Stutzman and G. A. Thiele, Antenna Theory and Design, 2nd ed. (Wiley 1998), sec. "
        "7.4: quadratic phase across a TE10 aperture, by Fresnel integrals",
        "from memory",
    ),
    Validity(
        "both sides of the aperture at least a wavelength, phase errors up to the optimum: one of "
        "3 x 2 wavelengths was 0.1 dB off",
        _is_a_wide_pyramid,
    ),
)
def pyramidal_directivity(horn: RectangularHorn, frequency: ArrayLike) -> Array:
    """Directivity of a horn on a rectangular guide along its axis, by aperture theory.

    Parameters
    ----------
    horn : RectangularHorn
    frequency : array_like
        [Hz]

    Returns
    -------
    array
        Over isotropic [-].

    Notes
    -----
    D = (4 pi A B/lambda^2) (8/pi^2) R_E(s) R_H(t) with the path differences s and t in
    wavelengths; R_E = (C^2 + S^2)(2 sqrt s)/(4 s) and
    R_H = pi^2/(64 t) ((C(p) - C(q))^2 + (S(p) - S(q))^2), p, q = 2 sqrt t (+-1 + 1/(8 t)).

    References
    ----------
    Stutzman and Thiele, 2nd ed. 1998, sec. 7.4; the same as C. A. Balanis, Antenna Theory, sec.
    13.4, in other letters.
    """
    wave = SPEED_OF_LIGHT / np.asarray(frequency, dtype=float)
    errors = phase_errors(horn)
    area = horn.aperture_width * horn.aperture_height
    across = _loss_uniform(abs(errors["E"]) / wave) * _loss_cosine(abs(errors["H"]) / wave)
    return np.asarray(4 * math.pi * area / wave**2 * 8 / math.pi**2 * across)


def _loss_uniform(s: Array) -> Array:
    """What a quadratic phase takes from a uniform field [-]; s in wavelengths."""
    safe = np.maximum(s, _FLAT)
    sine, cosine = fresnel(2 * np.sqrt(safe))
    return np.asarray(np.where(s > _FLAT, (cosine**2 + sine**2) / (4 * safe), 1.0))


def _loss_cosine(t: Array) -> Array:
    """What a quadratic phase takes from a field that goes as a cosine [-]; t in wavelengths."""
    safe = np.maximum(t, _FLAT)
    (s1, c1), (s2, c2) = (fresnel(2 * np.sqrt(safe) * (e + 1 / (8 * safe))) for e in (1, -1))
    size = math.pi**2 / (64 * safe) * ((c1 - c2) ** 2 + (s1 - s2) ** 2)
    return np.asarray(np.where(t > _FLAT, size, 1.0))


def _is_a_wide_cone(horn: Horn, frequency: ArrayLike) -> bool:
    if not isinstance(horn, ConicalHorn) or horn.mode != "TE11":
        return False
    longest, shortest = (SPEED_OF_LIGHT / pick(frequency) for pick in (np.min, np.max))
    return bool(
        horn.aperture_diameter >= 1.5 * longest and phase_errors(horn)["E"] <= 0.45 * shortest
    )


@sourced(
    Source(
        "C. A. Balanis, Antenna Theory, 3rd ed. (Wiley 2005), sec. 13.5, a fit to the curves of "
        "A. P. King, Proc. IRE 38, 1950, p. 249",
        "from memory",
    ),
    Validity(
        "TE11, aperture from 1.5 wavelengths, phase error up to 0.45: not compared in that range",
        _is_a_wide_cone,
    ),
)
def conical_directivity(horn: ConicalHorn, frequency: ArrayLike) -> Array:
    """Directivity of a TE11 horn on a circular guide along its axis, by a fit.

    Parameters
    ----------
    horn : ConicalHorn
    frequency : array_like
        [Hz]

    Returns
    -------
    array
        Over isotropic [-].

    Notes
    -----
    D = (pi d/lambda)^2 10^(-L/10), L = 0.8 - 1.71 s + 26.25 s^2 - 17.79 s^3, s the path difference
    at the rim in wavelengths.

    References
    ----------
    Balanis, 3rd ed. 2005, sec. 13.5.
    """
    wave = SPEED_OF_LIGHT / np.asarray(frequency, dtype=float)
    s = abs(phase_errors(horn)["E"]) / wave
    loss = 0.8 - 1.71 * s + 26.25 * s**2 - 17.79 * s**3
    return np.asarray((math.pi * horn.aperture_diameter / wave) ** 2 * 10 ** (-loss / 10))


def _is_an_open_end(horn: Horn, frequency: ArrayLike) -> bool:
    return horn.length == 0 and horn.rim == "wall"


@sourced(
    Source(
        "the guide's own mode alone in the opening, its admittance by the spectrum of plane waves "
        "in the half-space, derived here",
        "derived",
    ),
    Validity("an open end in a wall: S11 within 0.1", _is_an_open_end),
)
def open_end_reflection(horn: Horn, frequency: ArrayLike) -> ComplexArray:
    """S11 of the open end of a guide in an endless wall, by one mode.

    Parameters
    ----------
    horn : RectangularHorn or ConicalHorn
    frequency : array_like
        [Hz], above the cutoff of the horn's mode.

    Returns
    -------
    complex array
        S11 at the opening [-].

    Notes
    -----
    S11 = (Yg - Y)/(Yg + Y) with Yg the mode's admittance in the guide, beta for TE and k^2/beta
    for TM, and Y = INT (k^2/kz |E_along|^2 + kz |E_across|^2) d^2 kappa/(4 pi^2) over the spectrum
    of its transverse field, along and across kappa; kz = -j sqrt(kappa^2 - k^2) beyond k.
    Derivation: the spectrum of E in the opening is that of E in the wall's plane, where a plane
    wave has the admittance kz across and k^2/kz along kappa; the power of E with itself is Y.
    """
    f = np.atleast_1d(np.asarray(frequency, dtype=float))
    found = [_one_mode(horn, 2 * math.pi * each / SPEED_OF_LIGHT) for each in f]
    return np.asarray(found).reshape(np.shape(frequency))


def _one_mode(horn: Horn, k: float) -> complex:
    half = horn.guide.radius if isinstance(horn, ConicalHorn) else 0.5 * horn.guide.narrow_height
    kappa, kz, weight = _spectrum(k, _FARTHEST / half)
    along, across, cutoff, magnetic = (
        _circular_spectrum(horn, kappa)
        if isinstance(horn, ConicalHorn)
        else _rectangular_spectrum(horn, kappa)
    )
    outside = complex(((k**2 / kz * along + kz * across) * weight).sum())
    beta = complex(outgoing_root(np.array(k**2 - cutoff**2)))
    guide = k**2 / beta if magnetic else beta
    return (guide - outside) / (guide + outside)


def _spectrum(k: float, most: float) -> tuple[Array, ComplexArray, ComplexArray]:
    """Radial wavenumbers, kz, and weights of an integral over kappa d kappa."""
    x, w = np.polynomial.legendre.leggauss(12)

    def pieces(stop: float, count: int) -> tuple[Array, Array]:
        half = 0.5 * stop / count
        starts = half * (2 * np.arange(count) + 1)
        return (starts[:, None] + half * x).ravel(), np.tile(half * w, count)

    # kappa = k sin t, then k cosh t: nothing is singular at k
    t, dt = pieces(0.5 * math.pi, 8)
    inner = k * np.sin(t), k * np.cos(t) + 0j, k * np.sin(t) * k * np.cos(t) * dt
    t, dt = pieces(math.acosh(most / k), 150)
    outer = k * np.cosh(t), -1j * k * np.sinh(t), k * np.cosh(t) * k * np.sinh(t) * dt
    kappa, kz, weight = (np.concatenate(pair) for pair in zip(inner, outer, strict=True))
    return kappa, kz, weight


def _circular_spectrum(horn: ConicalHorn, kappa: Array) -> tuple[Array, Array, float, bool]:
    """|E|^2 along and across kappa, as an average about the axis over 2 pi; cutoff; whether TM."""
    radius = horn.guide.radius
    x = kappa * radius
    if horn.mode == "TM01":
        root = 2.404825557695773
        along = 2 * x**2 * j0(x) ** 2 / (root**2 - x**2) ** 2
        return radius**2 * along, 0.0 * x, root / radius, True
    root = float(jnp_zeros(1, 1)[0])
    size = 2.0 / (root**2 - 1)
    along = size * (j1(x) / x) ** 2
    across = size * (root**2 * jvp(1, x) / (root**2 - x**2)) ** 2
    return radius**2 * along, radius**2 * across, root / radius, False


def _rectangular_spectrum(horn: RectangularHorn, kappa: Array) -> tuple[Array, Array, float, bool]:
    """As `_circular_spectrum`, for TE10."""
    a, b = horn.guide.broad_width, horn.guide.narrow_height
    x, w = np.polynomial.legendre.leggauss(64)
    turn, weight = math.pi / 4 * (x + 1), w / 2
    # the average over a quarter turn, times 2 pi/(4 pi^2)
    kx, ky = np.multiply.outer(kappa, np.cos(turn)), np.multiply.outer(kappa, np.sin(turn))
    across_b = np.sinc(ky * b / (2 * math.pi))
    u = kx * a / math.pi
    gap = np.where(np.abs(1 - u**2) < 1e-9, 1e-9, 1 - u**2)
    along_a = np.cos(math.pi / 2 * u) / gap
    power = 2 * a * b * (2 / math.pi) ** 2 * (along_a * across_b) ** 2 / (2 * math.pi)
    along = (power * np.sin(turn) ** 2) @ weight
    across = (power * np.cos(turn) ** 2) @ weight
    return along, across, math.pi / a, False
