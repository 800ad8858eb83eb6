"""A quarter of a joint's cross-section, cut into quadrilaterals that follow its circles exactly.

Both mirror planes of the joint cut its cross-section: x >= 0, y >= 0. Each piece is the straight
blend of two curves; around the guide's opening lie rings between circles about the axis.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass, field

import numpy as np

from geometries.arrays import Array
from geometries.cells.graded_lines import growing, lines_between
from geometries.shapes.guides import CircularGuide, RectangularGuide
from geometries.space_meshes.swept_lines import ACROSS

#: From u in [0, 1], (n,), to points (2, n) [m] and their derivatives by u.
Curve = Callable[[Array], tuple[Array, Array]]

#: Thickness of a cell over that of the next one away from an edge.
GRADING = 0.1
#: Side of the square core of a circular opening over its radius, and that of its far corner.
_CORE, _CORE_CORNER = 0.5, 0.42
#: Longest cell across a ring over the shortest wavelength.
_RING = 0.35


@dataclass(frozen=True)
class PlanPiece:
    """A quadrilateral between two curves.

    Parameters
    ----------
    inner, outer : callable
        Curves at v = 0 and v = 1.
    u_lines, v_lines : (n,) array
        Where the cells end, from 0 to 1.
    zone : int
        0 is the guide's opening; the rings count from 1 outwards.
    sides : dict of str to str
        Boundary names of the sides ``u0``, ``u1``, ``v0``, ``v1``; those on the mirror planes
        are called ``x0`` and ``y0``.
    """

    inner: Curve
    outer: Curve
    u_lines: Array
    v_lines: Array
    zone: int
    sides: dict[str, str] = field(default_factory=dict)

    def mapping(self, parameters: Array) -> tuple[Array, Array]:
        """Points (3, n) and derivatives (3, 3, n) at parameters u, v and z [m]."""
        u, v, z = parameters
        (a, da), (b, db) = self.inner(u), self.outer(u)
        points, slopes = np.zeros((3, len(u))), np.zeros((3, 3, len(u)))
        points[:2], points[2] = a * (1 - v) + b * v, z
        slopes[:2, 0], slopes[:2, 1], slopes[2, 2] = da * (1 - v) + db * v, b - a, 1.0
        return points, slopes


def line(start: tuple[float, float], end: tuple[float, float]) -> Curve:
    """Straight line between two points."""
    first = np.array(start)[:, None]
    along = np.array(end)[:, None] - first

    def curve(u: Array) -> tuple[Array, Array]:
        return first + along * u, np.broadcast_to(along, (2, len(u)))

    return curve


def arc(radius: float, start: float, end: float) -> Curve:
    """Arc about the axis between two angles [rad]."""

    def curve(u: Array) -> tuple[Array, Array]:
        angle = start + (end - start) * u
        out = radius * np.stack([np.cos(angle), np.sin(angle)])
        return out, (end - start) * np.stack([-out[1], out[0]])

    return curve


def lines_towards(length: float, ends: tuple[float, float], largest: float) -> Array:
    """Lines from 0 to 1 across a length, drawn together towards its ends.

    Parameters
    ----------
    length : float
        [m]
    ends : (float, float)
        Size of the first cell at each end [m]; 0 for no grading.
    largest : float
        Longest cell [m].
    """
    low, high = (growing(first, GRADING, 0.4 * length) for first in ends)
    return lines_between(length, low, high, largest) / length


def opening_pieces(
    guide: RectangularGuide | CircularGuide, first: float, wavelength: float, refinement: int
) -> tuple[list[PlanPiece], list[tuple[Curve, float, float, Array]]]:
    """Pieces of a guide's opening, and its outline.

    Parameters
    ----------
    guide : RectangularGuide or CircularGuide
    first : float
        Thickness of the cells along the outline [m].
    wavelength : float
        Shortest wavelength [m].
    refinement : int

    Returns
    -------
    list of PlanPiece
    list of (curve, float, float, (n,) array)
        Stretches of the outline from the x axis to the y axis: the curve, the angles at which it
        starts and ends [rad], and the lines along it.
    """
    largest = ACROSS * wavelength / (1 + refinement)
    if isinstance(guide, RectangularGuide):
        a, b = 0.5 * guide.broad_width, 0.5 * guide.narrow_height
        x, y = (lines_towards(side, (0.0, first), min(largest, 0.6 * side)) for side in (a, b))
        corner = math.atan2(b, a)
        piece = PlanPiece(
            line((0, 0), (a, 0)), line((0, b), (a, b)), x, y, 0, {"u0": "x0", "v0": "y0"}
        )
        return [piece], [
            (line((a, 0), (a, b)), 0.0, corner, y),
            (line((a, b), (0, b)), corner, math.pi / 2, 1 - x[::-1]),
        ]
    radius = guide.radius
    s, d = _CORE * radius, _CORE_CORNER * radius
    count = math.ceil(s / largest) + refinement
    even = np.linspace(0.0, 1.0, count + 1)
    across = lines_towards(radius - s, (0.0, first), largest)
    core = PlanPiece(
        line((0, 0), (s, 0)), line((0, s), (d, d)), even, even, 0, {"u0": "x0", "v0": "y0"}
    )
    pieces, outline = [core], []
    middle, end = math.pi / 4, math.pi / 2
    for chord, start, stop, sides in (
        (line((s, 0), (d, d)), 0.0, middle, {"u0": "y0"}),
        (line((d, d), (0, s)), middle, end, {"u1": "x0"}),
    ):
        curve = arc(radius, start, stop)
        pieces.append(PlanPiece(chord, curve, even, across, 0, sides))
        outline.append((curve, start, stop, even))
    return pieces, outline


def ring_pieces(
    outline: list[tuple[Curve, float, float, Array]],
    radii: list[tuple[float, float]],
    start: float,
    wavelength: float,
    refinement: int,
    last: str,
) -> list[PlanPiece]:
    """Pieces of the rings around an opening.

    Parameters
    ----------
    outline : list
        See `opening_pieces`.
    radii : list of (float, float)
        Outer radius of each ring, and the thickness of the cells along it [m]; 0 for none.
    start : float
        Thickness of the cells along the outline [m].
    wavelength : float
    refinement : int
    last : str
        Boundary name of the outermost circle; empty for metal.
    """
    largest = _RING * wavelength / (1 + refinement)
    pieces = []
    inner, thin = outline, start
    nearest = min(float(np.hypot(*curve(np.linspace(0, 1, 9))[0]).min()) for curve, *_ in outline)
    for zone, (radius, fine) in enumerate(radii, start=1):
        lines = lines_towards(radius - nearest, (thin, fine), largest)
        outer = []
        for curve, angle, end, along in inner:
            sides = {"u1": "x0"} if abs(end - math.pi / 2) < 1e-12 else {}
            if angle == 0.0:
                sides["u0"] = "y0"
            if zone == len(radii) and last:
                sides["v1"] = last
            circle = arc(radius, angle, end)
            pieces.append(PlanPiece(curve, circle, along, lines, zone, sides))
            outer.append((circle, angle, end, along))
        inner, thin, nearest = outer, fine, radius
    return pieces
