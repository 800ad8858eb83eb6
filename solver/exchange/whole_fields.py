"""The field of a whole part in space, from the picture of the plane or the half that was solved.

A field solved in a plane goes on across it in closed form; one solved in a half-plane goes round
the axis; mirror images complete a quarter. Coordinates are those of the picture: after
`solver.judgement.port_frame` the frame of port 1.
"""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import numpy as np

from geometries.arrays import Array, ComplexArray, Numbers
from solver.errors import OutputError
from solver.parts.field_picture import FieldPicture
from solver.waves.guide_modes import SPEED_OF_LIGHT

#: Layers of cells across a plane or round an axis, the fewest and the most; and most points.
_ACROSS, _ROUND, _POINTS = (4, 8), (12, 24), 120_000


def goes_on(field: FieldPicture) -> bool:
    """Return whether a picture holds what `whole_field` needs."""
    if field.electric is None or field.magnetic is None:
        return False
    return field.points.shape[0] == 3 or field.axes[1][:1] in ("r", "x", "y")


def whole_field(field: FieldPicture, part: Any) -> FieldPicture:
    """Return E and H of a picture in the whole part.

    Parameters
    ----------
    field : FieldPicture
        With E and H as vectors.
    part : object
        The part that was solved.

    Returns
    -------
    FieldPicture
        In space: tetrahedra as they are, or wedges, cells (6, t), made of a plane's triangles.

    Raises
    ------
    OutputError
        If the plane of the picture is not known.
    """
    if field.points.shape[0] == 3:
        return field.whole()
    up = field.axes[1][:1]
    if up == "r":
        return _round_the_axis(field)
    if up == "y":
        return _across_e_plane(field, part.guide.broad_width)
    if up == "x":
        return _across_h_plane(field, part.guide.narrow_height)
    raise OutputError(f"nothing says how a field on {field.axes} goes on across it")


def _across_e_plane(field: FieldPicture, width: float) -> FieldPicture:
    """E as cos(pi x/a) with no component along x; H follows by curl E = -j k eta0 H."""
    assert field.electric is not None and field.magnetic is not None
    count = _layers(field, _ACROSS)
    x = np.linspace(-width / 2, width / 2, count + 1)[:, None]
    even, odd = np.cos(np.pi * x / width), np.sin(np.pi * x / width)
    k = 2 * np.pi * field.frequency / SPEED_OF_LIGHT
    along_z, along_y = field.electric[0], field.electric[1]
    share = 1j * np.pi / (k * width)
    electric = [0.0 * even * along_y, even * along_y, even * along_z]
    # what stands upright on the plane of z and y is -x
    magnetic = [-even * field.magnetic[2], share * odd * along_z, -share * odd * along_y]
    z, y = field.points
    return _in_layers(field, [x + 0.0 * z, y + 0.0 * x, z + 0.0 * x], electric, magnetic)


def _across_h_plane(field: FieldPicture, height: float) -> FieldPicture:
    """Nothing changes along y."""
    assert field.electric is not None and field.magnetic is not None
    y = np.linspace(-height / 2, height / 2, 3)[:, None]
    one = np.ones_like(y)
    z, x = field.points
    electric, magnetic = (
        [one * vector[1], one * vector[2], one * vector[0]]
        for vector in (field.electric, field.magnetic)
    )
    return _in_layers(field, [x + 0.0 * y, y + 0.0 * x, z + 0.0 * y], electric, magnetic)


def _round_the_axis(field: FieldPicture) -> FieldPicture:
    """The same at every angle about the axis, or once in a turn as sine and cosine."""
    assert field.electric is not None and field.magnetic is not None
    angle = np.linspace(0.0, 2 * np.pi, _layers(field, _ROUND) + 1)[:, None]
    cos, sin = np.cos(angle), np.sin(angle)
    z, r = field.points
    here = [[part + 0.0 * angle for part in v] for v in (field.electric, field.magnetic)]
    if field.turned is not None:
        here = [
            [sin * a + cos * b for a, b in zip(v, on, strict=True)]
            for v, on in zip((field.electric, field.magnetic), field.turned, strict=True)
        ]
    electric, magnetic = ([cos * v[1] - sin * v[2], sin * v[1] + cos * v[2], v[0]] for v in here)
    return _in_layers(field, [r * cos, r * sin, z + 0.0 * angle], electric, magnetic)


def _layers(field: FieldPicture, bounds: tuple[int, int]) -> int:
    fewest, most = bounds
    return int(np.clip(_POINTS // field.points.shape[1], fewest, most))


def _in_layers(
    field: FieldPicture, points: list[Array], electric: list[ComplexArray], magnetic: list[Any]
) -> FieldPicture:
    """Wedges between copies of a plane; each component is (layers + 1, n)."""
    copies, count = points[0].shape
    first = count * np.arange(copies - 1)
    lower: Numbers = (field.cells[:, None, :] + first[None, :, None]).reshape(3, -1)
    size = np.sqrt(sum(np.abs(component) ** 2 for component in electric))
    return replace(
        field,
        points=np.stack([p.ravel() for p in points]),
        cells=np.vstack([lower, lower + count]),
        values=size.ravel().astype(complex),
        quantity="E",
        electric=np.stack([e.ravel() for e in electric]),
        magnetic=np.stack([h.ravel() for h in magnetic]),
        axes=("", ""),
        turned=None,
    )
