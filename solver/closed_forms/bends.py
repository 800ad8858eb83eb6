"""Reflection of gentle swept bends, order R^-2, both planes.

Here w is the inside width in the plane of the bend (b or a), R the radius of the axis, s the length
of the axis, beta0 the phase constant of TE10, k the wavenumber of the plane problem (k0 in the
H-plane, beta0 in the E-plane) and alpha_n = sqrt((n pi/w)^2 - k^2) the decay of the n-th mode.
S11 is the amplitude of the transverse electric field, exp(+j w t), at the first end of the arc.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from geometries.arrays import Array, ComplexArray
from geometries.errors import InvalidDimensionError
from geometries.shapes.bends import Bend, Plane, width_in_plane
from geometries.shapes.guides import RectangularGuide
from solver.closed_forms.curved_guides import (
    is_gentle,
    phase_constant_e_plane,
    phase_constant_h_plane,
)
from solver.closed_forms.source import Source, Validity, sourced
from solver.waves.guide_modes import free_space_wavelength, phase_constant

#: The series fall as n^-5, so their tail beyond this order is below 1e-9 of the first term.
_HIGHEST_ORDER = 60

_RICE = (
    "derived here by second-order coupled modes; S. O. Rice, Bell Syst. Tech. J. 27, 305 (1948), "
    "eqs. (4.2-6) and (4.4-4), states that the reflection falls as R^-2, but only its abstract "
    "was at hand"
)


@dataclass(frozen=True, eq=False)
class JunctionSeries:
    """The parts of `junction_reflection`, by what they come from.

    Parameters
    ----------
    static : (...,) array
        Static part of Gamma (R/w)^2 [-].
    modal : (..., N) complex array
        Its modal parts [-].
    decay : (..., N) complex array
        alpha_n w of each [-].
    """

    static: Array
    modal: ComplexArray
    decay: ComplexArray

    @classmethod
    def of(cls, plane: Plane, guide: RectangularGuide, frequency: ArrayLike) -> JunctionSeries:
        """Return the parts in a plane of a guide, at frequencies above its cutoff [Hz]."""
        width = width_in_plane(guide, plane)
        f = np.asarray(frequency, dtype=float)
        x = np.asarray(phase_constant(guide, f) * width)[..., None]
        if plane == "E":
            n, kw = np.arange(1, _HIGHEST_ORDER, 2), x
            static, weight = np.full(f.shape, 1 / 48), -2 / np.pi**4 * x * n**-4.0
        else:
            n, kw = np.arange(2, _HIGHEST_ORDER, 2), (2 * np.pi / free_space_wavelength(f) * width)
            kw = np.asarray(kw)[..., None]
            static = -1 / (16 * x[..., 0] ** 2)
            weight = 4 / (np.pi**2 * x) * n**2 * (n**2 - 1.0) ** -3
        square = (n * np.pi) ** 2 - kw**2
        # A mode exactly at its cutoff would be a pole; the range of validity ends well below it.
        decay = np.sqrt(np.where(square == 0, 1e-12, square).astype(complex))
        return cls(static, 1j * weight / decay, decay)


@sourced(
    Source(_RICE, "derived"),
    Validity(
        "R >= 1.5 w, 1.2 to 1.92 times the cutoff, b <= a/2: within 5 % of its magnitude",
        is_gentle,
    ),
)
def junction_reflection(
    plane: Plane, guide: RectangularGuide, mean_radius: float, frequency: ArrayLike
) -> ComplexArray:
    """Reflection where a straight guide meets an endless curved one, order R^-2.

    Parameters
    ----------
    plane : "E" or "H"
    guide : RectangularGuide
    mean_radius : float
        Radius of the axis [m].
    frequency : array_like
        [Hz], above the cutoff.

    Returns
    -------
    complex array
        Gamma of TE10, of the transverse electric field, at the junction [-].

    Raises
    ------
    BelowCutoffError

    Notes
    -----
    E: Gamma = (b/R)^2 {1/48 - j (2/pi^5) beta0 b SUM_odd n^-5 [1 - (beta0 b/n pi)^2]^(-1/2)}

    H: Gamma = (a/R)^2 {-1/(16 x^2) + j 4/(pi^3 x) SUM_even n (n^2-1)^-3 [1 - (k0 a/n pi)^2]^(-1/2)}
    with x = beta0 a.

    Derivation. Let B0 = sqrt(L0) and B1 = sqrt(L)/h (operators of `phase_constant_h_plane`): -j B0
    and -j B1 take the transverse profile of a wave travelling outward to its derivative along the
    guide, in the straight and in the curved guide. Continuity of both for the incident mode e_1
    and the reflected profile rho reads (B0 + B1) rho = (B0 - B1) e_1. With delta = B1 - B0 of
    order kappa and without diagonal at that order, the reflected amplitude of e_1 is

    -(1/2 beta0) {delta_11 - (1/2) SUM_n delta_1n delta_n1 / beta_n} + O(kappa^3),

    where the square root is expanded by sqrt(L) = B0 + kappa S1 + kappa^2 S2,
    (S1)_mn = (L1)_mn/(beta_m + beta_n), (S2)_11 = (L2 - S1^2)_11/(2 beta0), so that
    kappa^-1 delta_mn = [(beta_m - beta_n)^2 x_mn + e_m e_n at the walls]/[2 (beta_m + beta_n)]
    (the wall term occurs in the E-plane only). Evaluating the matrix elements gives the series.
    In the E-plane the scalar is H_x, whose reflection has the opposite sign.

    Static check (E, f -> 0): inductance mu b and capacitance eps/(R ln(R2/R1)) per metre make
    the impedance step 1 + (1/24)(b/R)^2, Gamma = (1/48)(b/R)^2.
    """
    series = JunctionSeries.of(plane, guide, frequency)
    ratio = width_in_plane(guide, plane) / mean_radius
    return np.asarray(ratio**2 * (series.static + series.modal.sum(axis=-1)))


def _bend_is_gentle(bend: Bend, frequency: ArrayLike) -> bool:
    return is_gentle(bend.plane, bend.guide, bend.mean_radius, frequency)


@sourced(
    Source(_RICE, "derived"),
    Validity(
        "R >= 1.5 w, any angle, 1.2 to 1.92 times the cutoff, b <= a/2: within 5 % of the "
        "envelope 2 |Gamma|, as a complex number; the error falls as R^-2",
        _bend_is_gentle,
    ),
)
def bend_reflection(bend: Bend, frequency: ArrayLike) -> ComplexArray:
    """S11 of TE10 of a whole swept bend, order R^-2.

    Parameters
    ----------
    bend : Bend
    frequency : array_like
        [Hz], above the cutoff.

    Returns
    -------
    complex array
        S11 at the first end of the arc [-].

    Raises
    ------
    BelowCutoffError
    InvalidDimensionError
        For another profile than the constant one.

    Notes
    -----
    With Gamma = G0 + SUM Gn (static and modal parts of `junction_reflection`) and
    T = exp(-2j beta' s),

    S11 = G0 (1 - T) + SUM Gn {1 + T - 2 exp[-(j beta' + alpha_n) s]}.

    Derivation. The far junction is the mirror image of the near one, entered from the curved
    side; losslessness makes its reflection -Gamma* = -G0 + SUM Gn. The last term is the n-th mode
    that one junction excites and the other turns back into TE10: two paths, n forward and n
    backward, equal by reciprocity, each of scalar amplitude
    -kappa^2 (M_1n^2 - x_1n^2 beta0^2 beta_n^2)/[4 beta0 beta_n (beta0^2 - beta_n^2)] with
    M_mn = (1/2)(beta_m^2 + beta_n^2) x_mn + (1/2) e_m e_n at the walls, which is -Gn. It makes
    S11 vanish with s. For arcs longer than about 3 w it is negligible and
    |S11| = 2 |Gamma| |sin(beta' s + arg Gamma)|: the bend is invisible when
    beta' s + arg Gamma = m pi, which goes by the guide wavelength.

    Examples
    --------
    >>> import math
    >>> from geometries.shapes.guides import standard_guide
    >>> bend = Bend(standard_guide("WR-90"), "E", math.pi / 2, 40e-3)
    >>> float(abs(bend_reflection(bend, 8.2e9)).round(5))
    0.00041
    """
    series = JunctionSeries.of(bend.plane, bend.guide, frequency)
    curved = phase_constant_e_plane if bend.plane == "E" else phase_constant_h_plane
    if bend.profile != "constant":
        raise InvalidDimensionError("profile", bend.profile, "constant for this closed form")
    turn = np.asarray(1j * curved(bend.guide, bend.mean_radius, frequency) * bend.arc_length)
    round_trip = np.exp(-2 * turn)
    direct = np.exp(-turn[..., None] - series.decay * bend.arc_length / bend.width_in_plane)
    both = series.static * (1 - round_trip)
    both = both + np.sum(series.modal * (1 + round_trip[..., None] - 2 * direct), axis=-1)
    return np.asarray((bend.width_in_plane / bend.mean_radius) ** 2 * both)


@sourced(
    Source(_RICE, "derived"),
    Validity(
        "R >= 1.5 w, 1.2 to 1.92 times the cutoff, b <= a/2; arcs longer than w: no bend of this "
        "radius reflects more, to 10 %",
        lambda bend, frequency: (
            _bend_is_gentle(bend, frequency) and bend.arc_length >= bend.width_in_plane
        ),
    ),
)
def bend_reflection_envelope(bend: Bend, frequency: ArrayLike) -> Array:
    """Largest |S11| that a bend of this radius reaches over all arc lengths, 2 |Gamma| [-].

    Parameters
    ----------
    bend : Bend
    frequency : array_like
        [Hz], above the cutoff.

    Raises
    ------
    BelowCutoffError
    InvalidDimensionError
        For another profile than the constant one.

    Notes
    -----
    Both junctions of `bend_reflection` in phase.
    """
    if bend.profile != "constant":
        raise InvalidDimensionError("profile", bend.profile, "constant for this closed form")
    gamma = junction_reflection(bend.plane, bend.guide, bend.mean_radius, frequency)
    return 2 * np.abs(gamma)
