"""Error bars from successive, better discretisations.

Energy balance and reciprocity hold to round-off on any mesh here, so they say nothing
of accuracy.  What does is how fast successive answers draw together.
"""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise

import numpy as np

from geometries.arrays import Array, ComplexArray

_SAFETY = 4.0
_SLOWEST = 0.8
_ROUND_OFF = 2e-9
_EVENNESS = 0.3
_CARRIED = 0.5


def bar_of(answers: Sequence[ComplexArray], least_ratio: float = 0.05) -> Array:
    """Bound on the error of the last of three or four answers, (n,); see the two below."""
    bar = bar_from_pairs if len(answers) == 4 else bar_from_levels
    return bar(answers, least_ratio)


def bar_from_levels(answers: Sequence[ComplexArray], least_ratio: float = 0.05) -> Array:
    """Bound on the error of the last of three answers of rising accuracy.

    Parameters
    ----------
    answers : sequence of three (n, ...) complex arrays
        The same scattering matrices over n frequencies, coarse to fine.
    least_ratio : float
        Least ratio of successive differences that is believed.

    Returns
    -------
    (n,) array
        Bound on the error of every element of the last answer.

    Notes
    -----
    If differences shrink by the ratio r from level to level, what is left after the last
    difference d is d r / (1 - r).  The ratio is taken over the whole band, held between
    `least_ratio` (a faster fall may be luck) and 0.8, and the result taken four times.  Where
    edges are singular and not graded towards, a slow tail follows a fast fall, so that the
    ratio believed there has to be larger.  A difference that
    passes through zero at one frequency does not make the bar vanish there: no
    frequency gets less than 0.3 of the largest difference of the band.  On a symmetric mesh
    of few cells every second order brings functions of the wrong parity alone: the answer
    stands still, and moves again with the next.  So the last difference counts as no less
    than half of `least_ratio` times the one before.
    """
    first, second = _changes(answers)
    ratio = np.clip(second.max() / max(first.max(), 1e-300), least_ratio, _SLOWEST)
    return _left(ratio, np.maximum(second, _CARRIED * least_ratio * first))


def bar_from_pairs(answers: Sequence[ComplexArray], least_ratio: float = 0.05) -> Array:
    """Bound on the error of the last of four answers of rising accuracy.

    Parameters
    ----------
    answers : sequence of four (n, ...) complex arrays
        The same scattering matrices over n frequencies, coarse to fine.
    least_ratio : float
        Least ratio of successive differences that is believed.

    Returns
    -------
    (n,) array
        Bound on the error of every element of the last answer.

    Notes
    -----
    Differences often fall in pairs, every second order bringing functions of the other
    parity.  So the fall is read over two orders, R = d3/d1, held between the squares of
    `least_ratio` and 0.8, and what is left is (d2 + d3) R / (1 - R), taken four times.  The
    rest is as in `bar_from_levels`, whose bar of the last three answers is taken where it
    is larger.
    """
    first, second, third = _changes(answers)
    fall = np.clip(third.max() / max(first.max(), 1e-300), least_ratio**2, _SLOWEST**2)
    return np.maximum(_left(fall, second + third), bar_from_levels(answers[-3:], least_ratio))


def _changes(answers: Sequence[ComplexArray]) -> list[Array]:
    """Largest change of any element from each answer to the next, (n,) each."""
    return [np.abs(b - a).reshape(len(a), -1).max(axis=1) for a, b in pairwise(answers)]


def _left(fall: float, change: Array) -> Array:
    """What a geometric fall leaves after a change, with the safety and the evenness."""
    even = np.maximum(change, _EVENNESS * change.max())
    return np.asarray(_SAFETY * fall / (1 - fall) * even + _ROUND_OFF)
