"""A field and its mesh as a VTU file, the open format of the Visualization Toolkit."""

from __future__ import annotations

import tempfile
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

from solver.errors import OutputError

if TYPE_CHECKING:
    from solver.parts.field_picture import FieldPicture

_CELLS = {(2, 3): "triangle", (3, 3): "triangle", (3, 4): "tetra"}


def vtu_bytes(field: FieldPicture) -> bytes:
    """Return the field as the content of a VTU file; coordinates in metres.

    The file holds the mesh and three point arrays: real part, imaginary part and magnitude.

    Raises
    ------
    OutputError
        If the cells are neither triangles nor tetrahedra.
    """
    import meshio

    space, corners = field.points.shape[0], field.cells.shape[0]
    if (space, corners) not in _CELLS:
        raise OutputError(f"no cell of {corners} corners in {space} dimensions can be written")
    points = np.zeros((field.points.shape[1], 3))
    points[:, :space] = field.points.T
    name = field.quantity
    mesh = meshio.Mesh(
        points,
        [(_CELLS[space, corners], field.cells.T)],
        point_data={
            f"{name} real": np.ascontiguousarray(field.values.real),
            f"{name} imaginary": np.ascontiguousarray(field.values.imag),
            f"{name} magnitude": np.abs(field.values),
        },
        field_data={},
    )
    # meshio writes this format to a path only.
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "field.vtu"
        mesh.write(path)
        return path.read_bytes()
