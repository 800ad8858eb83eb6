"""Pictures of fields in the frame of port 1, in which solids are written too.

The origin is the centre of port 1 in its reference plane; z runs along the axis into the part, x
along the broad wall, y along the narrow one. A part that turns in its plane turns towards +y
(E-plane) or +x (H-plane). Meshes have frames of their own, in which the signs of S are made.
"""

from __future__ import annotations

from dataclasses import replace
from functools import singledispatch
from typing import Any

import numpy as np

from geometries.arrays import ComplexArray
from geometries.shapes.bends import Bend
from geometries.shapes.corners import Corner
from geometries.shapes.flexibles import Flexible
from geometries.shapes.horns import ConicalHorn, RectangularHorn
from geometries.shapes.loads import Load
from solver.parts.field_picture import FieldPicture


@singledispatch
def in_port_frame(part: Any, field: FieldPicture) -> FieldPicture:
    """Return the picture of a part's field in the frame of port 1.

    Parameters
    ----------
    part : object
        The part that was solved; a user's mesh stays in the coordinates of its file.
    field : FieldPicture
        In the coordinates of the mesh.

    Returns
    -------
    FieldPicture
    """
    return field


@in_port_frame.register(Bend)
@in_port_frame.register(Flexible)
def _(part: Any, field: FieldPicture) -> FieldPicture:
    """In space their meshes turn away from +y or +x."""
    return _half_turned(field) if part.plane and len(field.points) == 3 else field


@in_port_frame.register
def _(part: Corner, field: FieldPicture) -> FieldPicture:
    """In the plane the inner edge is the mesh's origin."""
    return field if len(field.points) == 3 else _moved(field, 0.0, 0.5 * part.width_in_plane)


@in_port_frame.register(ConicalHorn)
@in_port_frame.register(RectangularHorn)
def _(part: Any, field: FieldPicture) -> FieldPicture:
    """The aperture is the mesh's plane z = 0, the throat the reference plane."""
    return _moved(field, part.length, 0.0)


@in_port_frame.register
def _(part: Load, field: FieldPicture) -> FieldPicture:
    """The mesh counts from the wall on which the tip lies, or from the middle."""
    return field if part.symmetric else _moved(field, 0.0, -0.5 * part.width_in_plane)


def _moved(field: FieldPicture, along: float, across: float) -> FieldPicture:
    """Shift along the axis, and in a plane also across it [m]."""
    if len(field.points) == 2:
        return replace(field, points=field.points + np.array([[along], [across]]))
    shift = np.array([0.0, 0.0, along])
    cuts = tuple(replace(cut, origin=cut.origin + shift) for cut in field.cuts)
    return replace(field, points=field.points + shift[:, None], cuts=cuts)


def _half_turned(field: FieldPicture) -> FieldPicture:
    """Turn by 180 degrees about z; the sign of the entering wave keeps its E along +y.

    Cuts through the axis are their own image, and are drawn along x and y as before.
    """
    turn = np.array([-1.0, -1.0, 1.0])[:, None]

    def turned(vectors: ComplexArray | None) -> ComplexArray | None:
        return None if vectors is None else -turn * vectors

    return replace(
        field,
        points=turn * field.points,
        electric=turned(field.electric),
        magnetic=turned(field.magnetic),
    )
