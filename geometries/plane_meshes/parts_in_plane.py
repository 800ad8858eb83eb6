"""Which mesh serves a part that is uniform across the plane in which it turns."""

from __future__ import annotations

from functools import singledispatch
from typing import Any

from geometries.errors import MeshingError
from geometries.plane_meshes.corner_mesh import mesh_corner
from geometries.plane_meshes.lattice_mesh import mesh_bend, mesh_straight
from geometries.plane_meshes.offset_mesh import mesh_offset
from geometries.plane_meshes.plane_mesh import PlaneMesh
from geometries.shapes.bends import Bend
from geometries.shapes.corners import Corner
from geometries.shapes.offsets import Offset
from geometries.shapes.part import kind_of
from geometries.shapes.straights import Straight


@singledispatch
def mesh_in_plane(
    part: Any,
    wavelength: float,
    *,
    plane: str = "H",
    refinement: int = 0,
    feeds: tuple[float, float] | None = None,
) -> PlaneMesh:
    """Mesh a part in its plane, with a straight feed before each port.

    Parameters
    ----------
    part : Bend, Corner, Offset or Straight
    wavelength : float
        Shortest wavelength in the plane over the band [m]; it bounds the cells.
    plane : {"E", "H"}
        Plane in which a straight part is cut; the others bring their own.
    refinement : int
        0 for the coarsest mesh; each step grades further and halves the cells.
    feeds : (float, float), optional
        Straight guide before each plane of reference [m]; by default one width, and more where
        the metal reaches back behind the plane. 0 puts the port into the plane itself.

    Returns
    -------
    PlaneMesh

    Raises
    ------
    MeshingError
        Also for a part that has no mesh in a plane.
    """
    raise MeshingError(f"a {kind_of(part)} has no mesh in a plane")


Feeds = tuple[float, float] | None


@mesh_in_plane.register
def _(
    part: Bend,
    wavelength: float,
    *,
    plane: str = "H",
    refinement: int = 0,
    feeds: Feeds = None,
) -> PlaneMesh:
    return mesh_bend(part, wavelength, refinement, feeds)


@mesh_in_plane.register
def _(
    part: Straight,
    wavelength: float,
    *,
    plane: str = "H",
    refinement: int = 0,
    feeds: Feeds = None,
) -> PlaneMesh:
    return mesh_straight(part, wavelength, plane, refinement, feeds)


@mesh_in_plane.register
def _(
    part: Offset,
    wavelength: float,
    *,
    plane: str = "H",
    refinement: int = 0,
    feeds: Feeds = None,
) -> PlaneMesh:
    return mesh_offset(part, wavelength, refinement, feeds)


@mesh_in_plane.register
def _(
    part: Corner,
    wavelength: float,
    *,
    plane: str = "H",
    refinement: int = 0,
    feeds: Feeds = None,
) -> PlaneMesh:
    return mesh_corner(part, wavelength, refinement, feeds)
