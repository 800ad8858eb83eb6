"""Lines that draw together towards edges: cells that grow geometrically, then cells alike."""

from __future__ import annotations

import math

import numpy as np

from geometries.arrays import Array


def pieces(length: float, largest: float) -> int:
    """Return how many equal cells no longer than `largest` fill a length (both [m]); at least 1."""
    return max(1, math.ceil(length / largest - 1e-9))


def growing(first: float, ratio: float, reach: float, largest: float = math.inf) -> Array:
    """Distances from an edge at which cells end that grow geometrically away from it.

    Parameters
    ----------
    first : float
        Thickness of the cell at the edge [m]; 0 for no such cells.
    ratio : float
        Thickness of a cell over that of the next one away from the edge, about; the distances
        have exactly this ratio.
    reach : float
        Cells that end at this distance or beyond are left out [m].
    largest : float
        Growth stops where a cell would be longer [m].

    Returns
    -------
    (n,) array
        Ascending [m].
    """
    points: list[float] = []
    step, at = first, first
    while 0 < at < reach and step < largest:
        points.append(at)
        step, at = at * (1.0 / ratio - 1.0), at / ratio
    return np.array(points)


def layers(thickest: float, ratio: float, count: int) -> Array:
    """Distances from an edge at which a number of layers end.

    Parameters
    ----------
    thickest : float
        Distance whose part `ratio` is the end of the last layer [m].
    ratio : float
        See `growing`.
    count : int

    Returns
    -------
    (count,) array
        Ascending [m].
    """
    return np.asarray(thickest * ratio ** np.arange(count, 0, -1.0))


def lines_between(length: float, low: Array, high: Array, largest: float) -> Array:
    """Lines from 0 to `length` with given cells at both ends and equal cells between.

    Parameters
    ----------
    length : float
        [m]
    low, high : (k,) array
        Distances of the lines from either end, ascending [m].
    largest : float
        Longest of the equal cells [m].

    Returns
    -------
    (n,) array
        Ascending, 0 and `length` among them [m].
    """
    start, stop = low[-1:].sum(), length - high[-1:].sum()
    between = np.linspace(start, stop, pieces(stop - start, largest) + 1)[1:-1]
    return np.concatenate([[0.0], low, between, length - high[::-1], [length]])
