"""A field at one frequency on the points of its mesh, for those who draw or save it."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from geometries.arrays import Array, ComplexArray


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
    """

    points: Array
    cells: NDArray[np.integer]
    values: ComplexArray
    frequency: float
    quantity: str
