"""Abrupt steps of the height or of the width of a rectangular guide, both guides on one axis."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from geometries.arrays import Array, ComplexArray
from geometries.shapes.guides import RectangularGuide
from geometries.shapes.tapers import Taper
from solver.closed_forms.source import Source, Validity, sourced
from solver.waves.guide_modes import (
    cutoff_frequency,
    free_space_wavelength,
    guide_wavelength,
    phase_constant,
)

_HIGHEST_ORDER = 2001
#: A taper counts as a step up to this part of the shortest wavelength.
_STEP_LENGTH = 1 / 50


def _same(first: float, second: float) -> bool:
    return abs(first - second) <= 1e-9 * first


def _height_step_holds(guide: RectangularGuide, to_guide: RectangularGuide, f: ArrayLike) -> bool:
    height = max(guide.narrow_height, to_guide.narrow_height)
    small = bool(np.all(height <= 0.2 * np.asarray(guide_wavelength(guide, f))))
    return _same(guide.broad_width, to_guide.broad_width) and small


@sourced(
    Source(
        "N. Marcuvitz, Waveguide Handbook (McGraw-Hill 1951), sec. 5.26, leading term",
        "from memory",
    ),
    Validity(
        "steps of the height alone, heights up to 0.2 guide wavelengths: 3 % low at most",
        _height_step_holds,
    ),
)
def height_step_susceptance(
    guide: RectangularGuide, to_guide: RectangularGuide, frequency: ArrayLike
) -> Array:
    """Susceptance of a centred step of the height, over the admittance of the higher guide.

    Parameters
    ----------
    guide, to_guide : RectangularGuide
        Of one broad width.
    frequency : array_like
        [Hz], above the cutoff.

    Returns
    -------
    array
        B/Y0 [-], capacitive.

    Raises
    ------
    BelowCutoffError

    Notes
    -----
    B/Y0 = (2b/lambda_g) {ln[(1 - q^2)/(4q)] + (1/2)(q + 1/q) ln[(1 + q)/(1 - q)]}, b the larger
    height and q < 1 the ratio of both; it is 4b instead of 2b where one broad wall runs straight
    on.

    References
    ----------
    N. Marcuvitz, Waveguide Handbook, McGraw-Hill 1951, sec. 5.26.
    """
    low, high = sorted([guide.narrow_height, to_guide.narrow_height])
    wavelength = np.asarray(guide_wavelength(guide, frequency))
    if _same(high, low):
        return np.zeros_like(wavelength)
    q = low / high
    bracket = np.log((1 - q**2) / (4 * q)) + 0.5 * (q + 1 / q) * np.log((1 + q) / (1 - q))
    return np.asarray(2 * high / wavelength * bracket)


@sourced(
    Source(
        "N. Marcuvitz, Waveguide Handbook (McGraw-Hill 1951), sec. 5.26, leading term",
        "from memory",
    ),
    Validity(
        "steps of the height alone, heights up to 0.2 guide wavelengths: |S11| within 1 %",
        _height_step_holds,
    ),
)
def height_step_reflection(
    guide: RectangularGuide, to_guide: RectangularGuide, frequency: ArrayLike
) -> ComplexArray:
    """S11 of TE10 of a centred step of the height.

    Parameters
    ----------
    guide, to_guide : RectangularGuide
        Of one broad width; the wave comes in `guide`.
    frequency : array_like
        [Hz], above the cutoff.

    Returns
    -------
    complex array
        S11 at the step [-].

    Raises
    ------
    BelowCutoffError

    Notes
    -----
    The two guides' admittances are as 1/b; the susceptance is that of `height_step_susceptance`.

    References
    ----------
    N. Marcuvitz, Waveguide Handbook, McGraw-Hill 1951, sec. 5.26.
    """
    b1, b2 = guide.narrow_height, to_guide.narrow_height
    susceptance = height_step_susceptance(guide, to_guide, frequency)
    load = b1 / b2 + 1j * susceptance * b1 / max(b1, b2)
    return np.asarray((1 - load) / (1 + load))


def _width_step_holds(guide: RectangularGuide, to_guide: RectangularGuide, f: ArrayLike) -> bool:
    cutoffs = sorted([cutoff_frequency(guide), cutoff_frequency(to_guide)])
    ratio = np.asarray(f, dtype=float)
    inside = bool(np.all(ratio >= 1.2 * cutoffs[1]) and np.all(ratio <= 2.4 * cutoffs[0]))
    same = _same(guide.narrow_height, to_guide.narrow_height)
    return same and inside and cutoffs[0] >= 0.7 * cutoffs[1]


@sourced(
    Source("derived here: variational, one trial field in the opening; no source", "derived"),
    Validity(
        "steps of the width alone, by a factor up to 1.4, from 1.2 times the higher cutoff to 2.4 "
        "times the lower one: within 20 % of |S11|, as a complex number",
        _width_step_holds,
    ),
)
def width_step_reflection(
    guide: RectangularGuide, to_guide: RectangularGuide, frequency: ArrayLike
) -> ComplexArray:
    """S11 of TE10 of a centred step of the width.

    Parameters
    ----------
    guide, to_guide : RectangularGuide
        Of one height; the wave comes in `guide`.
    frequency : array_like
        [Hz], above both cutoffs.

    Returns
    -------
    complex array
        S11 at the step [-].

    Raises
    ------
    BelowCutoffError

    Notes
    -----
    The field in the opening is taken as that of the narrower guide's TE10. With its overlaps v_n
    with the wider guide's modes of odd order n, normalised so that SUM v_n^2 = 1, the load that
    the narrower guide shows the wider one is (beta_narrow + SUM_{n>1} beta_n v_n^2)/v_1^2 over
    beta_1, with beta_n = -j |beta_n| beyond cutoff.
    """
    f = np.asarray(frequency, dtype=float)
    wide, narrow = sorted([guide, to_guide], key=lambda g: -g.broad_width)
    a, c = wide.broad_width, narrow.broad_width
    wavenumber = np.asarray(2 * np.pi / free_space_wavelength(f))[..., None]
    n = np.arange(1, _HIGHEST_ORDER, 2)
    q, p = n * np.pi / a, np.pi / c
    square = (wavenumber**2 - q**2)[..., 1:]
    beta = np.where(square > 0, 1, -1j) * np.sqrt(np.abs(square))
    # Overlap of normalised cosines about the common axis.
    gap = np.where(np.abs(p - q) < 1e-9 * p, 1.0, p**2 - q**2)
    overlap = np.where(
        np.abs(p - q) < 1e-9 * p,
        np.sqrt(c / a),
        4 * p * np.cos(q * c / 2) / (gap * np.sqrt(a * c)),
    )
    within = np.asarray(phase_constant(narrow, f)) + 0j
    outside = np.asarray(phase_constant(wide, f)) * overlap[0] ** 2
    higher = np.sum(beta * overlap[1:] ** 2, axis=-1)
    near, far = (outside, within) if guide is wide else (within, outside)
    return np.asarray((near - far - higher) / (near + far + higher))


def _is_short(taper: Taper, frequency: ArrayLike) -> bool:
    shortest = float(np.min(free_space_wavelength(np.asarray(frequency, dtype=float))))
    if taper.length > _STEP_LENGTH * shortest:
        return False
    return _height_step_holds(taper.guide, taper.to_guide, frequency) or _width_step_holds(
        taper.guide, taper.to_guide, frequency
    )


@sourced(
    Source("N. Marcuvitz, Waveguide Handbook, sec. 5.26; width: derived here", "derived"),
    Validity(
        "tapers shorter than 1/50 wavelength, of the height alone or of the width alone",
        _is_short,
    ),
)
def abrupt_reflection(taper: Taper, frequency: ArrayLike) -> ComplexArray:
    """S11 of the step that a taper would be if it had no length.

    Parameters
    ----------
    taper : Taper
    frequency : array_like
        [Hz], above both cutoffs.

    Returns
    -------
    complex array
        S11 at the step [-].

    Raises
    ------
    BelowCutoffError

    Notes
    -----
    `height_step_reflection` where the broad widths agree, else `width_step_reflection` between
    guides whose heights are taken as equal.
    """
    step = (
        height_step_reflection
        if _same(taper.guide.broad_width, taper.to_guide.broad_width)
        else width_step_reflection
    )
    return step(taper.guide, taper.to_guide, frequency)
