"""Error bars from successive, better discretisations.

Energy balance and reciprocity hold to round-off on any mesh here, so they say nothing
of accuracy.  What does is how fast successive answers draw together.
"""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise
from typing import Any

import numpy as np
from numpy.typing import NDArray

from geometries.arrays import Array, ComplexArray

_SAFETY = 4.0
_SLOWEST = 0.8
_ROUND_OFF = 2e-9
_EVENNESS = 0.3
#: Part of the least ratio by which a change counts for the next; where that is told ahead, its
#: many new functions hide less.
_CARRIED, _CARRIED_AHEAD = 0.5, 0.1
#: What a change told ahead may be too small by, with a margin: up to a half was seen.
_AHEAD = 3.0


def bar_of(changes: Sequence[Array], least_ratio: float = 0.05, ahead: bool = False) -> Array:
    """Bound on the error of an answer, (n,), from how it came about.

    Parameters
    ----------
    changes : sequence of two or three (n,) arrays
        Largest change of any element from answer to answer of rising accuracy.
    least_ratio : float
        See `bar_from_levels`.
    ahead : bool
        Whether the last change is the one to the next answer, as `next_order` tells it: then the
        bar is of the answer before it.
    """
    if not ahead:
        return _left_after(changes, least_ratio, _CARRIED)
    return _left_after(changes, least_ratio, _CARRIED_AHEAD) + _AHEAD * _even(changes[-1])


def bar_after(change: Array) -> Array:
    """Bound on the error of the second of two answers that differ by a change (n,).

    Of changes that at least halve from answer to answer, as they do in spaces of rising order where
    the mesh is drawn together towards every edge.
    """
    return _left(0.5, change)


def _left_after(changes: Sequence[Array], least_ratio: float, carried: float) -> Array:
    bar = bar_from_pairs if len(changes) == 3 else bar_from_levels
    return bar(changes, least_ratio, carried)


def changes_of(answers: Sequence[ComplexArray]) -> list[Array]:
    """Largest change of any element from each answer (n, ...) to the next, (n,) each."""
    return [largest(b - a) for a, b in pairwise(answers)]


def largest(change: NDArray[Any]) -> Array:
    """Largest modulus of any element at each frequency, (n, ...) to (n,)."""
    return np.asarray(np.abs(change).reshape(len(change), -1).max(axis=1))


def bar_from_levels(
    changes: Sequence[Array], least_ratio: float = 0.05, carried: float = _CARRIED
) -> Array:
    """Bound on the error of the last of three answers of rising accuracy.

    Parameters
    ----------
    changes : sequence of two (n,) arrays
        From each answer to the next, coarse to fine; see `changes_of`.
    least_ratio : float
        Least ratio of successive differences that is believed.
    carried : float
        Part of that ratio by which a change counts for the next one at least.

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
    than `carried` times `least_ratio` times the one before.
    """
    first, second = changes
    ratio = np.clip(second.max() / max(first.max(), 1e-300), least_ratio, _SLOWEST)
    return _left(ratio, np.maximum(second, carried * least_ratio * first))


def bar_from_pairs(
    changes: Sequence[Array], least_ratio: float = 0.05, carried: float = _CARRIED
) -> Array:
    """Bound on the error of the last of four answers of rising accuracy.

    Parameters
    ----------
    changes : sequence of three (n,) arrays
        From each answer to the next, coarse to fine; see `changes_of`.
    least_ratio : float
        Least ratio of successive differences that is believed.
    carried : float
        Part of that ratio by which a change counts for the next one at least.

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
    first, second, third = changes
    fall = np.clip(third.max() / max(first.max(), 1e-300), least_ratio**2, _SLOWEST**2)
    return np.maximum(
        _left(fall, second + third), bar_from_levels(changes[-2:], least_ratio, carried)
    )


def _even(change: Array) -> Array:
    """A change that passes through zero at one frequency is not believed there."""
    return np.maximum(change, _EVENNESS * change.max())


def _left(fall: float, change: Array) -> Array:
    """What a geometric fall leaves after a change, with the safety and the evenness."""
    return np.asarray(_SAFETY * fall / (1 - fall) * _even(change) + _ROUND_OFF)
