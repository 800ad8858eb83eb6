"""Which guide a flat port of a mesh belongs to, read from the port's outline."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from geometries.arrays import Array, Numbers
from geometries.cells.space_ports import SpacePort
from geometries.cells.tetrahedral_cells import TetrahedralCells
from geometries.errors import MeshingError
from geometries.shapes.guides import CircularGuide, RectangularGuide

#: Largest departure from flat, from a rectangle and from a circle, over the port's size.
TOLERANCE = 1e-3


@dataclass(frozen=True, eq=False)
class PortSection:
    """The cross-section of a port.

    Parameters
    ----------
    guide : RectangularGuide or CircularGuide
    centre : (3,) array
        [m]
    outward : (3,) array
        Unit normal out of the mesh.
    broad : (3,) array
        Unit vector along the broad wall, of either sign; for a circle any in its plane.
    """

    guide: RectangularGuide | CircularGuide
    centre: Array
    outward: Array
    broad: Array


def port_section(cells: TetrahedralCells, name: str) -> PortSection:
    """Recognise the cross-section of a port.

    Raises
    ------
    MeshingError
        If the port is not flat, or neither a rectangle nor a circle to 1e-3 of its size.
    """
    facets = cells.groups[name]
    corners = cells.points[:, facets]
    areas = 0.5 * np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0], axis=0)
    outward = _mean_normal(areas)
    outline = _outline(cells, facets)
    centre = 0.5 * (outline.max(axis=1) + outline.min(axis=1))
    size = float(np.linalg.norm(np.ptp(outline, axis=1)))
    height = outward @ (corners.reshape(3, -1) - centre[:, None])
    if np.ptp(height) > TOLERANCE * size:
        raise MeshingError(
            f"{name} is not flat: it departs from a plane by {np.ptp(height) * 1e3:.3g} mm; "
            "a port has to be a flat cross-section of a straight guide"
        )
    area = float(np.linalg.norm(areas, axis=0).sum())
    outward = outward * _way_out(cells, facets, outward)
    axes = _axes(outward)
    flat = axes @ (outline - centre[:, None])
    found = _rectangle(flat, area) or _circle(flat, area)
    if found is None:
        across = " x ".join(f"{x * 1e3:.4g}" for x in np.ptp(flat, axis=1))
        raise MeshingError(
            f"{name} is neither a rectangle nor a circle (about {across} mm); only ports of "
            "rectangular and circular guide can be solved"
        )
    guide, middle, broad = found
    return PortSection(guide, centre + middle @ axes, outward, broad @ axes)


def ports_in_frame(
    first: PortSection, second: PortSection, names: tuple[str, str]
) -> tuple[SpacePort, SpacePort]:
    """Give two ports their frames.

    x runs along the broad wall and x cross y along the axis from the first port to the second.
    At the first port the largest component of x is positive (for a circle, x is the coordinate
    axis nearest to the port's plane).  The second port's x is chosen nearest to the first one's,
    carried there by the shortest turn between the two axes, as through a plain bend.
    """
    inward, away = -first.outward, second.outward
    x = first.broad
    if isinstance(first.guide, CircularGuide):
        nearest = np.eye(3)[np.argmin(np.abs(inward))]
        x = nearest - (nearest @ inward) * inward
        x /= np.linalg.norm(x)
    x = x * np.sign(x[np.argmax(np.abs(x).round(9))])
    carried = _carry(x, inward, away, second.centre - first.centre)
    if isinstance(second.guide, CircularGuide):
        x2 = carried - (carried @ away) * away
        x2 /= np.linalg.norm(x2)
    else:
        options = [second.broad, -second.broad]
        if math.isclose(second.guide.broad_width, second.guide.narrow_height, rel_tol=1e-3):
            turned = np.cross(away, second.broad)
            options += [turned, -turned]
        x2 = max(options, key=lambda option: round(float(option @ carried), 9))
    return (
        SpacePort(names[0], first.guide, first.centre, x, np.cross(inward, x), first.outward, 0.0),
        SpacePort(names[1], second.guide, second.centre, x2, np.cross(away, x2), away, 0.0),
    )


def _carry(x: Array, axis: Array, to_axis: Array, between: Array) -> Array:
    """Turn x by the shortest turn from one axis to another; by way of `between` for a U."""
    cosine = float(axis @ to_axis)
    if cosine < -1 + 1e-9:
        across = np.cross(axis, between)
        if np.linalg.norm(across) < 1e-9 * np.linalg.norm(between):
            return x
        across /= np.linalg.norm(across)
        return np.asarray(2 * (across @ x) * across - x)
    turn = np.cross(axis, to_axis)
    return np.asarray(x + np.cross(turn, x) + np.cross(turn, np.cross(turn, x)) / (1 + cosine))


def _mean_normal(areas: Array) -> Array:
    """Unit normal (3,) of facets whose orientations may differ."""
    largest = areas[:, np.argmax(np.linalg.norm(areas, axis=0))]
    total = (areas * np.sign(largest @ areas)).sum(axis=1)
    return np.asarray(total / np.linalg.norm(total))


def _outline(cells: TetrahedralCells, facets: Numbers) -> Array:
    """Points (3, k) of the port's edge, middles of second-order edges among them."""
    edges = np.sort(
        np.concatenate([facets[[0, 1]], facets[[1, 2]], facets[[0, 2]]], axis=1), axis=0
    )
    distinct, counts = np.unique(edges, axis=1, return_counts=True)
    rim = distinct[:, counts == 1]
    points = cells.points[:, np.unique(rim)]
    if cells.curved:
        points = np.concatenate([points, cells.points[:, cells.middle_nodes(*rim)]], axis=1)
    return np.asarray(points)


def _way_out(cells: TetrahedralCells, facets: Numbers, normal: Array) -> float:
    """Sign of the normal that points out of the cell behind the first facet."""
    on_port = np.isin(cells.tets[:4], facets)
    cell = np.flatnonzero(on_port.sum(axis=0) == 3)
    if not cell.size:
        raise MeshingError("the facets of a port belong to no element")
    apex = cells.points[:, cells.tets[:4, cell[0]][~on_port[:, cell[0]]][0]]
    return -float(np.sign(normal @ (apex - cells.points[:, facets[0, 0]])))


def _axes(normal: Array) -> Array:
    """Two unit vectors (2, 3) across a normal."""
    nearest = np.eye(3)[np.argmin(np.abs(normal))]
    first = nearest - (nearest @ normal) * normal
    first /= np.linalg.norm(first)
    return np.stack([first, np.cross(normal, first)])


def _rectangle(flat: Array, area: float) -> tuple[RectangularGuide, Array, Array] | None:
    """Guide, centre and direction (2,) of the broad wall, if the outline is a rectangle."""
    from scipy.spatial import ConvexHull

    hull = flat[:, ConvexHull(flat.T).vertices]
    sides = np.roll(hull, -1, axis=1) - hull
    lengths = np.hypot(*sides)
    # four equal directions a quarter turn apart add up at four times their angle
    angle = np.angle((lengths * np.exp(4j * np.arctan2(sides[1], sides[0]))).sum()) / 4
    turn = np.array([[math.cos(angle), math.sin(angle)], [-math.sin(angle), math.cos(angle)]])
    turned = turn @ flat
    low, high = turned.min(axis=1), turned.max(axis=1)
    size = high - low
    off = np.minimum(turned - low[:, None], high[:, None] - turned).min(axis=0)
    if off.max() > TOLERANCE * size.max() or abs(area / size.prod() - 1) > 3 * TOLERANCE:
        return None
    longer = int(np.argmax(size))
    guide = RectangularGuide(float(size[longer]), float(size[1 - longer]))
    return guide, 0.5 * (low + high) @ turn, turn[longer]


def _circle(flat: Array, area: float) -> tuple[CircularGuide, Array, Array] | None:
    """Guide, centre and a direction (2,), if the outline is a circle."""
    # least squares of x^2 + y^2 = 2 c.x + d
    left = np.column_stack([2 * flat.T, np.ones(flat.shape[1])])
    solution, *_ = np.linalg.lstsq(left, (flat**2).sum(axis=0), rcond=None)
    centre = solution[:2]
    radii = np.hypot(*(flat - centre[:, None]))
    radius = float(radii.mean())
    # straight facets cover less than the disc; a ring or a coarse polygon covers far less
    if np.ptp(radii) > TOLERANCE * radius or not 0.9 < area / (math.pi * radius**2) < 1.001:
        return None
    return CircularGuide(2 * radius), centre, np.array([1.0, 0.0])
