"""Triangle meshes of offsets that shift along one wall only."""

from __future__ import annotations

import numpy as np

from geometries.cells.charts import PlainChart
from geometries.errors import InvalidDimensionError, MeshingError
from geometries.plane_meshes.plane_mesh import PlaneMesh, PlanePort, feed_length
from geometries.plane_meshes.polygon_mesh import mesh_polygon
from geometries.shapes.bends import width_in_plane
from geometries.shapes.offsets import Offset

#: A smaller step over the width, whose reflection is of its square, is left out.
_LEAST_STEP = 1e-6


def mesh_offset(
    offset: Offset,
    wavelength: float,
    refinement: int,
    feeds: tuple[float, float] | None = None,
) -> PlaneMesh:
    """Mesh an offset; see `mesh_in_plane`.

    The plane's first coordinate runs along the guide's axis from the joint, its second along the
    wall of the shift from the first guide's axis.

    Raises
    ------
    MeshingError
        Also for an offset that is not uniform across a plane.
    """
    if offset.plane is None:
        raise MeshingError("an offset that turns or shifts both ways has no plane to cut it in")
    width = width_in_plane(offset.guide, offset.plane)
    shift = offset.shift_x if offset.plane == "H" else offset.shift_y
    (first, second), half = feeds or (feed_length(width),) * 2, 0.5 * width
    if min(first, second) <= 0:
        raise InvalidDimensionError("feeds", min(first, second), "above 0 m at an offset")
    lower, upper = shift - half, shift + half
    outline = [(-first, half), (-first, -half)]
    singular: list[int] = []
    stepped = abs(shift) > _LEAST_STEP * width
    if stepped:
        # of the two vertices of each step the one at the opening's edge is re-entrant
        singular = [3, 7] if shift > 0 else [2, 6]
        outline += [(0.0, -half), (0.0, lower), (second, lower), (second, upper)]
        outline += [(0.0, upper), (0.0, half)]
    else:
        outline += [(second, lower), (second, upper)]
    mesh, description = mesh_polygon(
        "offset",
        np.array(outline),
        {"port1": 0, "port2": 4 if stepped else 2},
        singular,
        width=width,
        wavelength=wavelength,
        refinement=refinement,
    )
    across = np.array([0.0, 1.0])
    ports = (
        PlanePort("port1", np.array([-first, -half]), across, width, first),
        PlanePort("port2", np.array([second, lower]), across, width, second),
    )
    return PlaneMesh(mesh, PlainChart(), ports, description)
