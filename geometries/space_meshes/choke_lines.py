"""Lines of a joint's mesh along its axis and along its radius, for one joint or for many alike.

Joints that differ in the height of the gap and in the depth of grooves can be meshed by the same
cells: the layers at the edges stay as they are, and what lies between them stretches. Then every
matrix is a sum of few fixed ones, times a stretched length or its inverse.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from geometries.arrays import Array
from geometries.shapes.choke_flanges import ChokeFlange
from geometries.shapes.grooves import gap_end
from geometries.shapes.guides import RectangularGuide
from geometries.shapes.rotating_joints import RotatingJoint
from geometries.space_meshes.choke_plans import GRADING, lines_towards

Joint = ChokeFlange | RotatingJoint

#: Least and largest thickness of the cells along an edge over the opening's smaller side, on the
#: coarsest mesh; between them it is the gap.
_FIRST = (0.02, 0.05)
#: Longest cell along the axis over the shortest wavelength.
_ALONG = 0.35
#: Layers of a groove within this part of its least depth stay as they are.
_STAYS = 0.5
#: Depths of the grooves, in the order of `Joint.grooves`.
DEPTHS = ("groove_depth", "second_groove_depth")


@dataclass(frozen=True)
class JointBox:
    """Joints that differ in gap and groove depths alone.

    Parameters
    ----------
    least, largest : ChokeFlange or RotatingJoint
        With the least and the largest of each; one and the same for one joint.
    """

    least: Joint
    largest: Joint

    @classmethod
    def about(cls, parts: Sequence[Joint]) -> JointBox:
        """The smallest box that holds some joints of one `topology`."""
        names = ["gap", *(name for name in DEPTHS if getattr(parts[0], name))]
        sizes = {name: [getattr(part, name) for part in parts] for name in names}
        least: Any = {name: min(values) for name, values in sizes.items()}
        largest: Any = {name: max(values) for name, values in sizes.items()}
        return cls(replace(parts[0], **least), replace(parts[0], **largest))

    @property
    def end(self) -> float:
        """Radius to which the gap is meshed [m]; see `gap_end`."""
        return gap_end(self.largest)

    def first(self, refinement: int) -> float:
        """Thickness of the cells along every edge [m].

        What the largest gap asks for: with thinner ones its answers converge more slowly, while
        those of small gaps hardly change.
        """
        return _first(self.largest) * GRADING**refinement

    def gap_lines(self, wavelength: float, refinement: int) -> Array:
        """Lines across the gap, from 0 to 1."""
        gap, first = self.largest.gap, _first(self.largest) * GRADING**refinement
        return lines_towards(gap, (first, first), _ALONG * wavelength)

    def groove_lines(self, number: int, wavelength: float, refinement: int) -> tuple[Array, Array]:
        """Lines along a groove: those that stay (k,) [m], and the rest (n,), from 0 to 1.

        The first of the rest lies at the last of those that stay.
        """
        least, most = (part.grooves[number].depth for part in (self.least, self.largest))
        first = self.first(refinement)
        lines = most * lines_towards(most, (first, 0.0), _ALONG * wavelength)
        stays = lines[:-1] <= _STAYS * least
        last = lines[:-1][stays][-1]
        rest = (lines[len(lines[:-1][stays]) - 1 :] - last) / (most - last)
        return lines[:-1][stays], rest

    def stretches(self, part: Joint, wavelength: float) -> Array:
        """Lengths (1 + grooves,) that stretch on the coarsest mesh [m].

        The gap, and what is left of each groove beyond the lines that stay.
        """
        return np.array([part.gap, *(groove.depth for groove in part.grooves)]) - self._stay(
            wavelength
        )

    def stretched(self, lengths: Array, wavelength: float) -> Joint:
        """The joint of these `stretches`."""
        gap, *depths = (float(size) for size in lengths + self._stay(wavelength))
        names = (name for name in DEPTHS if getattr(self.least, name))
        sizes: Any = dict(zip(names, depths, strict=True))
        return replace(self.least, gap=gap, **sizes)

    def _stay(self, wavelength: float) -> Array:
        grooves = range(len(self.least.grooves))
        return np.array([0.0, *(self.groove_lines(n, wavelength, 0)[0][-1] for n in grooves)])


def along_groove(stays: Array, rest: Array, depth: float) -> Array:
    """Lines along a groove of some depth, from 0 to the depth [m]; see `JointBox`."""
    return np.concatenate([stays, stays[-1] + (depth - stays[-1]) * rest[1:]])


def along_feed(feed: float, first: float, wavelength: float) -> Array:
    """Lines along a straight guide from its edge, from 0 to its length [m]."""
    return feed * lines_towards(feed, (first, 0.0), _ALONG * wavelength)


def topology(part: Joint) -> Joint:
    """Return the joint with its gap and depths put to one value: equal for joints of one box."""
    sizes: Any = {name: 1e-3 for name in DEPTHS if getattr(part, name)}
    return replace(part, gap=1e-3, **sizes)


def _first(part: Joint) -> float:
    guide = part.guide
    smaller = guide.narrow_height if isinstance(guide, RectangularGuide) else guide.diameter
    thinnest, thickest = (part_of * smaller for part_of in _FIRST)
    return min(max(part.gap, thinnest), thickest)
