"""Where the lines of a three-dimensional swept lattice lie.

At an end of a part its walls change direction, or their curvature jumps: there the field is mildly
singular at the walls. Thin layers of cells, each `GRADING` times as thick as the next, lie on both
sides of that plane, and with refinement also along the walls.
"""

from __future__ import annotations

import itertools
import math

import numpy as np

from geometries.arrays import Array
from geometries.cells.graded_lines import layers, lines_between, pieces
from geometries.shapes.bends import Bend
from geometries.shapes.dents import Dent
from geometries.shapes.guides import CircularGuide
from geometries.shapes.straights import Straight
from geometries.shapes.tapers import Taper
from geometries.shapes.transitions import Transition
from geometries.shapes.twists import Twist
from geometries.space_meshes.round_sections import RoundSection

SweptPart = Straight | Bend | Twist | Taper | Dent | Transition

#: Thickness of a layer over that of the next.
GRADING = 0.2
#: Longest cell along the axis and across it, over the shortest wavelength.
ALONG, ACROSS = 0.7, 1.25
#: Largest angle through which one cell turns or twists [rad].
CELL_ANGLE = math.radians(60.0)
#: Outer over inner radius of one cell of a bend, at most.
RADIUS_RATIO = 3.0


def axis_lines(
    part: SweptPart, feeds: tuple[float, float], wavelength: float, refinement: int
) -> dict[str, Array]:
    """Lines along the axis [m] of the stretches ``feed1``, ``part`` and ``feed2``.

    The part lies from 0 to its length; a feed of no length is left out.
    """
    length = part.axis_length
    largest = ALONG * wavelength / (1 + refinement)
    count = 0 if isinstance(part, Straight) else (1 + refinement) // 2
    scale = _scale(part)
    inner = min(largest, length * CELL_ANGLE / max(_turn(part), 1e-9))
    ends = length * np.array([0.0, *_knots(part), 1.0])
    stretches = [
        start
        + graded_lines(stop - start, scale, (count * (start == 0), count * (stop == length)), inner)
        for start, stop in itertools.pairwise(ends)
    ]
    lines = {"part": np.concatenate([*(s[:-1] for s in stretches[:-1]), stretches[-1]])}
    if feeds[0] > 0:
        feed = graded_lines(feeds[0], scale, (count, 0), largest)
        lines = {"feed1": -feed[::-1]} | lines
    if feeds[1] > 0:
        lines["feed2"] = length + graded_lines(feeds[1], scale, (count, 0), largest)
    return lines


def _scale(part: SweptPart) -> float:
    """Least length over which the field varies at a part's ends [m]."""
    if isinstance(part.guide, CircularGuide):
        return part.guide.diameter
    height = part.guide.narrow_height
    if isinstance(part, Bend):
        return min(height, part.inner_radius)
    return min(height, part.to_diameter) if isinstance(part, Transition) else height


def _turn(part: SweptPart) -> float:
    """Angle by which the part would turn or twist if it did so at its fastest all along [rad]."""
    if not isinstance(part, Bend | Twist):
        return 0.0
    return part.angle / (1.0 - part.onset)


def _knots(part: SweptPart) -> tuple[float, ...]:
    return part.knots if isinstance(part, Bend | Twist) else ()


def graded_lines(length: float, scale: float, counts: tuple[int, int], largest: float) -> Array:
    """Lines from 0 to `length`, with layers at both ends and equal cells between.

    Parameters
    ----------
    length : float
        [m]
    scale : float
        Length of which the thickest layer is the part `GRADING` [m].
    counts : (int, int)
        Number of layers at the two ends.
    largest : float
        Longest cell [m].

    Returns
    -------
    (n,) array
        [m]
    """
    low, high = (layers(min(scale, length), GRADING, count) for count in counts)
    return lines_between(length, low, high, largest)


def across_lines(count: int, counts: tuple[int, int], ratio: float = 1.0) -> Array:
    """Lines across a guide, from 0 to 1.

    Parameters
    ----------
    count : int
        Number of cells before layers are cut off the outermost ones.
    counts : (int, int)
        Number of layers at the two walls.
    ratio : float
        Outer over inner radius of a bend in this plane; the cells grow with the radius.

    Returns
    -------
    (n,) array
        [-]
    """
    lines = np.linspace(0.0, 1.0, count + 1)
    if ratio > 1.0:
        lines = (ratio**lines - 1.0) / (ratio - 1.0)
    inner = layers(lines[1], GRADING, counts[0])
    outer = 1.0 - layers(1.0 - lines[-2], GRADING, counts[1])[::-1]
    return np.concatenate([[0.0], inner, lines[1:-1], outer, [1.0]])


def cells_across(size: float, wavelength: float, least: int, refinement: int) -> int:
    """Number of cells across an inside dimension [m], halved with every second refinement."""
    return max(least, pieces(size, ACROSS * wavelength)) * (1 + refinement // 2)


def bend_lines(bend: Bend, count: int, at_walls: int) -> Array:
    """Lines across a bend in its plane, from the inner wall (0) to the outer wall (1)."""
    ratio = 1.0 + bend.width_in_plane / bend.inner_radius
    count = max(count, pieces(math.log(ratio), math.log(RADIUS_RATIO)))
    tight = 1 if bend.inner_radius < 0.5 * bend.width_in_plane else 0
    return across_lines(count, (at_walls + tight, at_walls), ratio)


def dent_lines(dent: Dent, wavelength: float, refinement: int) -> Array:
    """Lines across a dented wall, from 0 to 1; the borders of the dent are among them."""
    inside = cells_across(dent.width, wavelength, 2, refinement)
    lines = across_lines(inside, (refinement, refinement))
    beside = 0.5 * (1.0 - dent.width / dent.wall_width)
    if beside < 1e-6:
        return lines
    count = cells_across(beside * dent.wall_width, wavelength, 1, refinement)
    edge = np.linspace(0.0, beside, count + 1)
    inner = beside + (1.0 - 2 * beside) * lines[1:-1]
    return np.concatenate([edge, inner, 1.0 - edge[::-1]])


def round_lines(
    section: RoundSection, wavelength: float, refinement: int, at_walls: int
) -> tuple[Array, Array, Array]:
    """Lines u, v from -1 to 1 along the sides of a round section, and rho from 0 to 1 outwards."""
    arc = section.diameter * section.corner_angle
    rest = section.diameter * (0.5 * math.pi - section.corner_angle)
    u, v = (
        2 * across_lines(cells_across(size, wavelength, 1, refinement), (at_walls, at_walls)) - 1
        for size in (max(section.width, rest), max(section.height, arc))
    )
    reach = 0.5 * max(section.width, section.height, section.diameter)
    return u, v, across_lines(cells_across(0.5 * reach, wavelength, 1, refinement), (0, at_walls))
