"""A field and its mesh as a VTU file, the open format of the Visualization Toolkit."""

from __future__ import annotations

import tempfile
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np

from geometries.arrays import ComplexArray
from solver.errors import OutputError
from solver.exchange.whole_fields import goes_on, whole_field

if TYPE_CHECKING:
    from solver.parts.field_picture import FieldPicture

_CELLS = {(2, 3): "triangle", (3, 3): "triangle", (3, 4): "tetra", (3, 6): "wedge"}
#: Where the two coordinates of a plane lie in space.
_COORDINATES = {
    ("z", "y"): (2, 1),
    ("z", "x"): (2, 0),
    ("z", "r"): (2, 0),
}


def vtu_bytes(field: FieldPicture, part: Any = None) -> bytes:
    """Return the field as the content of a VTU file; coordinates in metres, in those of `field`.

    Parameters
    ----------
    field : FieldPicture
    part : object, optional
        The part that was solved: then, if the picture holds E and H, the whole part in space is
        written, else the picture as it is.

    Returns
    -------
    bytes
        The mesh and its point arrays: real part, imaginary part and magnitude of E and of eta0 H,
        over the peak of E of the entering wave alone; or of the picture's own quantity.

    Raises
    ------
    OutputError
        If the cells are of no known shape.
    """
    import meshio

    vectors = part is not None and goes_on(field)
    if vectors:
        field = whole_field(field, part)
    elif field.mirrors:
        field = field.whole()
    space, corners = field.points.shape[0], field.cells.shape[0]
    if (space, corners) not in _CELLS:
        raise OutputError(f"no cell of {corners} corners in {space} dimensions can be written")
    points = np.zeros((field.points.shape[1], 3))
    points[:, _COORDINATES.get(field.axes, (0, 1, 2))[:space]] = field.points.T
    arrays = _scalars(field.quantity, field.values)
    if vectors:
        arrays = _vectors("E", field.electric) | _vectors("eta0 H", field.magnetic)
    cells = [(_CELLS[space, corners], field.cells.T)]
    mesh = meshio.Mesh(points, cells, point_data=arrays, field_data={})
    # meshio writes this format to a path only.
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "field.vtu"
        mesh.write(path)
        return path.read_bytes()


def _scalars(name: str, values: ComplexArray) -> dict[str, Any]:
    return {
        f"{name} real": np.ascontiguousarray(values.real),
        f"{name} imaginary": np.ascontiguousarray(values.imag),
        f"{name} magnitude": np.abs(values),
    }


def _vectors(name: str, field: Any) -> dict[str, Any]:
    """Seven digits are more than the error bar of any field here."""
    return {
        f"{name} real": np.ascontiguousarray(field.real.T, dtype=np.float32),
        f"{name} imaginary": np.ascontiguousarray(field.imag.T, dtype=np.float32),
        f"{name} magnitude": np.linalg.norm(field, axis=0).astype(np.float32),
    }
