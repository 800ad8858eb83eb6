"""Which mesh serves a part that is uniform across the plane in which it turns."""

from __future__ import annotations

from geometries.plane_meshes.corner_mesh import mesh_corner
from geometries.plane_meshes.lattice_mesh import mesh_bend, mesh_straight
from geometries.plane_meshes.offset_mesh import mesh_offset
from geometries.plane_meshes.plane_mesh import PlaneMesh
from geometries.shapes.bends import Bend
from geometries.shapes.corners import Corner
from geometries.shapes.offsets import Offset
from geometries.shapes.straights import Straight


def mesh_in_plane(
    part: Bend | Corner | Offset | Straight,
    wavelength: float,
    *,
    plane: str = "H",
    refinement: int = 0,
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

    Returns
    -------
    PlaneMesh

    Raises
    ------
    MeshingError
    """
    if isinstance(part, Bend):
        return mesh_bend(part, wavelength, refinement)
    if isinstance(part, Straight):
        return mesh_straight(part, wavelength, plane, refinement)
    if isinstance(part, Offset):
        return mesh_offset(part, wavelength, refinement)
    return mesh_corner(part, wavelength, refinement)
