"""A field at one frequency on the points of its mesh, for those who draw or save it."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from geometries.arrays import Array, ComplexArray


@dataclass(frozen=True, eq=False)
class CutPlane:
    """A plane through a part that tells something of its field.

    Parameters
    ----------
    title : str
    origin : (3,) array
        A point of it [m].
    across, up : (3,) array
        Unit vectors in it, as they are drawn.
    names : (str, str)
        What they are.
    window : (float, float, float, float) or None
        What to show of it, from left to right and from below upwards, counted from the origin
        [m]; all by default.
    """

    title: str
    origin: Array
    across: Array
    up: Array
    names: tuple[str, str]
    window: tuple[float, float, float, float] | None = None


@dataclass(frozen=True, eq=False)
class MirrorPlane:
    """A plane through the origin beyond which the field goes on as its mirror image.

    Parameters
    ----------
    axis : {0, 1, 2}
        Coordinate that changes its sign.
    kind : {"electric", "magnetic"}
        What the plane is: where E or H has no component along it.
    """

    axis: int
    kind: Literal["electric", "magnetic"]


#: What the planes x = 0 and y = 0 are to a field that TE10, or TE11 with E along y, drives.
DRIVEN_MIRRORS = (MirrorPlane(0, "magnetic"), MirrorPlane(1, "electric"))


@dataclass(frozen=True, eq=False)
class FieldPicture:
    """A field at one frequency, on the mesh it was computed on.

    Parameters
    ----------
    points : (2, n) or (3, n) array
        Points of the mesh [m].
    cells : (3, t) or (4, t) int array
        Triangles or tetrahedra, as rows of `points`.
    values : (n,) complex array
        The field at the points, for a wave that enters in the first port mode, over the peak of
        that wave alone.
    frequency : float
        [Hz]
    quantity : str
        What `values` is, for example ``"E_y"``.
    electric, magnetic : (3, n) complex array or None
        E and eta0 H at the points, both over the peak of E of the entering wave alone. In a
        plane the first two components lie in it, and the third is right-handed upon it.
    axes : (str, str)
        What the coordinates of a plane are.
    turned : ((3, n) complex array, (3, n) complex array) or None
        E and eta0 H a quarter of a turn about the axis on, of a field that varies once about it;
        None where it does not vary.
    cuts : tuple of CutPlane
        Planes that tell, of a field in space.
    mirrors : tuple of MirrorPlane
        What makes the whole of a part of which a half or a quarter was solved.
    """

    points: Array
    cells: NDArray[np.integer]
    values: ComplexArray
    frequency: float
    quantity: str
    electric: ComplexArray | None = None
    magnetic: ComplexArray | None = None
    axes: tuple[str, str] = ("", "")
    turned: tuple[ComplexArray, ComplexArray] | None = None
    cuts: tuple[CutPlane, ...] = ()
    mirrors: tuple[MirrorPlane, ...] = ()

    def whole(self) -> FieldPicture:
        """Return the field with its mirror images: the whole part."""
        picture = self
        for mirror in self.mirrors:
            picture = picture._with_image(mirror)
        return replace(picture, mirrors=())

    def _with_image(self, mirror: MirrorPlane) -> FieldPicture:
        count, sign = self.points.shape[1], np.ones(len(self.points))
        sign[mirror.axis] = -1.0
        # E keeps its normal component at an electric wall, and the others at a magnetic one
        e = -sign if mirror.kind == "electric" else sign
        cells = self.cells[::-1] + count
        return replace(
            self,
            points=np.hstack([self.points, sign[:, None] * self.points]),
            cells=np.hstack([self.cells, cells]),
            values=np.concatenate([self.values, self.values]),
            electric=_imaged(self.electric, e),
            magnetic=_imaged(self.magnetic, -e),
        )


def _imaged(field: ComplexArray | None, sign: Array) -> ComplexArray | None:
    return None if field is None else np.hstack([field, sign[:, None] * field])
