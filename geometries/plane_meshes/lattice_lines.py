"""Where the lines of a swept part's lattice lie.

Two things ask for finer cells.  Across a bend the field varies with the logarithm of
the radius, so cells grow in proportion to the radius.  Where the arc begins, the
walls' curvature jumps: there the field is singular like r^2 log r, and lines are
drawn closer to that plane and to both walls.
"""

from __future__ import annotations

import itertools

import numpy as np

from geometries.arrays import Array
from geometries.cells.graded_lines import growing, layers, lines_between

_RADIUS_RATIO = 3.0
_GRADING = 0.2


def along_lines(
    length: float,
    width: float,
    scale: float,
    wavelength: float,
    refinement: int,
    feeds: tuple[float, float] | None = None,
    knots: tuple[float, ...] = (),
) -> Array:
    """Lines along the axis: feed, arc, feed; 0 and `length` are among them.

    Parameters
    ----------
    length : float
        Length of the arc [m].
    width : float
        Width of the guide in the plane [m].
    scale : float
        Least length over which the field varies at the arc's ends [m].
    wavelength : float
        Shortest wavelength [m].
    refinement : int
    feeds : (float, float), optional
        Length of each feed, from 0 [m]; by default the width.
    knots : tuple of float
        Fractions of the arc where its curvature is smooth but not analytic; lines lie there, and
        closer to them.

    Returns
    -------
    (n,) array
        Ascending, from the end of the first feed to that of the second [m].
    """
    first = _GRADING ** (_layers(scale, width) + refinement) * min(scale, 0.5 * length)
    largest = min(0.75 * wavelength, 2 * width) / (1 + refinement)
    before, behind = (
        _graded(feed, first, largest) if feed else np.zeros(1) for feed in feeds or (width, width)
    )
    ends = length * np.array([0.0, *knots, 1.0])
    stretches = [
        start + _between(stop - start, first, largest)[:-1]
        for start, stop in itertools.pairwise(ends)
    ]
    arc = np.concatenate([*stretches, [length]])
    return np.concatenate([-before[:0:-1], arc, length + behind[1:]])


def across_lines(width: float, inner_radius: float, wavelength: float, refinement: int) -> Array:
    """Lines across the guide from the inner wall (0) to the outer wall (`width`) [m]."""
    outer_radius = inner_radius + width
    cells = int(np.ceil(np.log(outer_radius / inner_radius) / np.log(_RADIUS_RATIO)))
    cells = max(cells, int(np.ceil(width / (0.75 * wavelength)))) * (1 + refinement)
    lines = np.geomspace(inner_radius, outer_radius, cells + 1) - inner_radius
    lines[-1] = width
    at_inner = _layers(inner_radius, width) + refinement
    inner = layers(lines[1], _GRADING, at_inner)
    outer = width - layers(width - lines[-2], _GRADING, 1 + refinement)[::-1]
    return np.concatenate([[0.0], inner, lines[1:-1], outer, [width]])


def _between(length: float, first: float, largest: float) -> Array:
    """Lines from 0 to `length`, graded towards both ends alike."""
    half = _graded(0.5 * length, min(first, 0.5 * length), largest)
    return np.concatenate([half, length - half[-2::-1]])


def _layers(inner_radius: float, width: float) -> int:
    """Layers towards the arc's ends; a tight inner wall makes the singularity strong."""
    return 2 if inner_radius < 0.5 * width else 1


def _graded(length: float, first: float, largest: float) -> Array:
    """Points from 0 to `length`, steps growing from `first` by 1/grading up to `largest`."""
    # the last growing step leaves at least half of its length to the rest
    low = growing(first, _GRADING, length / (1.5 - 0.5 * _GRADING), largest)
    return lines_between(length, low, np.zeros(0), largest)
