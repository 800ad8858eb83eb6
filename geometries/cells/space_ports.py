"""Ports of a part in space, and a mesh together with them."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from geometries.arrays import Array
from geometries.shapes.guides import CircularGuide, RectangularGuide

#: Straight guide in the mesh before each port, over the guide's longest side.
FEED = 0.55
#: Name of the open boundary of a mesh that ends in a half sphere before a wall.
HALF_SPHERE = "open_half_sphere"
#: Name of metal sheets without thickness between cells, and of a box that holds all sources.
SHEET, BOX = "sheet", "box"


@dataclass(frozen=True, eq=False)
class SpacePort:
    """A flat port whose cross-section is that of a uniform guide.

    Parameters
    ----------
    name : str
        Name of the boundary in the mesh.
    guide : RectangularGuide or CircularGuide
    origin : (3,) array
        Centre of the cross-section, in the plane of the port [m].
    x_axis, y_axis : (3,) array
        Unit vectors along the broad and the narrow wall (or of the circle's two polarisations),
        carried along the axis from the first port; x_axis x y_axis points along the axis from
        the first port towards the second.
    outward : (3,) array
        Unit normal that points out of the mesh.
    feed_length : float
        Straight guide between this port and its reference plane [m].
    """

    name: str
    guide: RectangularGuide | CircularGuide
    origin: Array
    x_axis: Array
    y_axis: Array
    outward: Array
    feed_length: float

    def coordinates(self, points: Array) -> Array:
        """Position (2, ...) [m] of points (3, ...) along the port's two axes."""
        shift = points - self.origin.reshape(3, *[1] * (points.ndim - 1))
        return np.tensordot(np.stack([self.x_axis, self.y_axis]), shift, axes=1)


@dataclass(frozen=True, eq=False)
class SpaceMesh:
    """A mesh in space and its ports.

    Parameters
    ----------
    mesh : HexahedralMesh, skfem.MeshTet1 or skfem.MeshTet2
        With a boundary of each port's name, as ``port1``, of each open boundary's, which starts
        with ``open``, and ``magnetic`` for magnetic mirrors; all other boundary facets are wall,
        and metal unless they are an ``electric`` mirror.
    ports : tuple of SpacePort
    description : dict
        What was meshed and how, for the record.
    original : SpaceMesh, optional
        The mesh before its straight edges were bent to curved walls.
    permittivity : float or (n_cells,) array
        Relative permittivity of each cell [-].
    images : int
        How many images of the mesh make up the part: 4 for a quarter between two mirrors.
    stretch : (3, n_cells) complex array, optional
        Derivatives of complex coordinates by x, y and z [-]: absorbing layers. Where one of a
        cell is not 1, its edges lie along the axes.
    """

    mesh: Any
    ports: tuple[SpacePort, ...]
    description: dict[str, object]
    original: SpaceMesh | None = None
    permittivity: Array | float = 1.0
    images: int = 1
    stretch: Any = None

    @property
    def plain_cells(self) -> NDArray[np.integer]:
        """Cells of real coordinates, ascending: those in no absorbing layer."""
        if self.stretch is None:
            return np.arange(self.mesh.t.shape[1])
        return np.flatnonzero((self.stretch == 1.0).all(axis=0))
