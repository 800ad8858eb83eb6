"""Reflection of gentle bends whose curvature changes smoothly, order R^-2, both planes.

The letters are those of `solver.closed_forms.bends`; kappa(s) is the curvature along the axis and
kappa0 = 1/R its largest value, R the smallest radius.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from geometries.arrays import Array, ComplexArray
from geometries.shapes.bends import Bend
from solver.closed_forms.bends import JunctionSeries
from solver.closed_forms.curved_guides import (
    is_gentle,
    phase_constant_e_plane,
    phase_constant_h_plane,
)
from solver.closed_forms.source import Source, Validity, sourced
from solver.waves.guide_modes import phase_constant

#: Steps of curvature that stand for one smooth rise, and modes that follow them one by one.
#: The modal parts fall as n^-5: those beyond make less than 1e-4 of the first.
_STEPS, _MODES = 200, 8
_SOURCE = Source(
    "derived here from the arc's second-order form by superposition; no source", "derived"
)


def _is_gentle(bend: Bend, frequency: ArrayLike) -> bool:
    return is_gentle(bend.plane, bend.guide, bend.smallest_radius, frequency)


_VALIDITY = Validity(
    "smallest radius >= 1.5 w, 1.2 to 1.92 times the cutoff, b <= a/2: within 5 % of what an arc "
    "of the smallest radius reflects at most",
    _is_gentle,
)


@sourced(_SOURCE, _VALIDITY)
def smooth_bend_reflection(bend: Bend, frequency: ArrayLike) -> ComplexArray:
    """S11 of TE10 of a whole bend of any profile, order R^-2.

    Parameters
    ----------
    bend : Bend
    frequency : array_like
        [Hz], above the cutoff.

    Returns
    -------
    complex array
        S11 at the first end [-].

    Raises
    ------
    BelowCutoffError

    Notes
    -----
    S11 = kappa0^-2 {G0 INT exp(-2j theta) d(kappa^2)
    + SUM Gn INT INT exp[-j theta(s) - j theta(s') - alpha_n |s - s'|] dkappa(s) dkappa(s')},
    with theta = INT beta'(kappa) ds and beta' of the curved guide with the local radius; G0 and Gn
    of `junction_reflection` at R.

    Derivation. To the order kappa^2, S11 is a quadratic form INT INT kappa(s) kappa(s') K ds ds'
    whose kernel is exp[-j beta (s + s')] k(|s - s'|), as a bend moved along the axis only turns
    the phase. What it gives for arcs of every length determines k; so there is one such form that
    agrees with `bend_reflection` for every arc, and this one does: there dkappa are two steps of
    opposite sign. The integrals are sums over small steps of curvature.
    """
    s, step, square = _steps(bend)
    return _reflection(bend, frequency, s, step, square)


@sourced(_SOURCE, _VALIDITY)
def smooth_bend_envelope(bend: Bend, frequency: ArrayLike) -> Array:
    """Twice the |S11| of one onset alone: both in phase, far enough from each other [-].

    Parameters
    ----------
    bend : Bend
    frequency : array_like
        [Hz], above the cutoff.

    Raises
    ------
    BelowCutoffError

    Notes
    -----
    The first half of the steps of `smooth_bend_reflection`.
    """
    half = slice(0, _STEPS)
    return 2 * np.abs(_reflection(bend, frequency, *(part[half] for part in _steps(bend))))


def _steps(bend: Bend) -> tuple[Array, Array, Array]:
    """Places of the steps of curvature [m], and the steps of kappa and kappa^2 over kappa0's."""
    length = bend.arc_length
    rise = np.linspace(0.0, bend.onset * length, _STEPS + 1)
    share = bend.turned(rise)[1] * bend.smallest_radius
    middle = 0.5 * (rise[1:] + rise[:-1])
    step, square = np.diff(share), np.diff(share**2)
    return (
        np.concatenate([middle, length - middle[::-1]]),
        np.concatenate([step, -step[::-1]]),
        np.concatenate([square, -square[::-1]]),
    )


def _reflection(
    bend: Bend, frequency: ArrayLike, s: Array, step: Array, square: Array
) -> ComplexArray:
    f = np.asarray(frequency, dtype=float)
    width, radius = bend.width_in_plane, bend.smallest_radius
    series = JunctionSeries.of(bend.plane, bend.guide, f)
    waves = _phases(bend, f, s)
    direct = series.static * np.tensordot(square, waves**2, axes=1)
    modal, decay = series.modal[..., :_MODES], series.decay[..., :_MODES]
    both = np.zeros(modal.shape, dtype=complex)
    behind = np.zeros(modal.shape, dtype=complex)
    gaps = np.diff(s, prepend=s[0])
    for weight, wave, gap in zip(step, waves, gaps, strict=True):
        here = weight * wave[..., None]
        behind = behind * np.exp(-decay * (gap / width))
        both += here * (here + 2 * behind)
        behind = behind + here
    return np.asarray((width / radius) ** 2 * (direct + np.sum(modal * both, axis=-1)))


def _phases(bend: Bend, f: Array, s: Array) -> ComplexArray:
    """exp(-j theta) (n, ...) of TE10 at the places s (n,)."""
    curved = phase_constant_e_plane if bend.plane == "E" else phase_constant_h_plane
    beta = np.asarray(phase_constant(bend.guide, f))
    more = np.asarray(curved(bend.guide, bend.smallest_radius, f)) - beta
    fine = np.linspace(0.0, bend.arc_length, 4 * _STEPS + 1)
    share = (bend.turned(fine)[1] * bend.smallest_radius) ** 2
    turned = np.concatenate([[0.0], np.cumsum(0.5 * (share[1:] + share[:-1]) * np.diff(fine))])
    along = np.interp(s, fine, turned)
    return np.exp(-1j * (np.multiply.outer(s, beta) + np.multiply.outer(along, more)))
