"""Hexahedral meshes of swept parts on the exact map of their shape."""

from __future__ import annotations

import math
from collections.abc import Callable

import numpy as np

from geometries.arrays import Array
from geometries.cells.hexahedral_mesh import Block, hexahedral_mesh
from geometries.cells.space_ports import SpaceMesh, SpacePort
from geometries.errors import InvalidDimensionError, MeshingError
from geometries.shapes.bends import Bend
from geometries.shapes.dents import Dent
from geometries.shapes.guides import CircularGuide, RectangularGuide
from geometries.shapes.part import kind_of
from geometries.shapes.straights import Straight
from geometries.shapes.tapers import Taper
from geometries.shapes.transitions import Transition
from geometries.shapes.twists import Twist
from geometries.space_meshes.round_sections import RoundSection
from geometries.space_meshes.swept_lines import (
    SweptPart,
    across_lines,
    axis_lines,
    bend_lines,
    cells_across,
    dent_lines,
    round_lines,
)
from geometries.space_meshes.swept_maps import (
    Mapping,
    dented_map,
    straight_on,
    sweep_of,
    swept_map,
)

SWEPT_PARTS = (Straight, Bend, Twist, Taper, Dent, Transition)
_SIDES = ("core", 0, 1, 2, 3)


def swept_mesh(
    part: SweptPart, *, wavelength: float, refinement: int = 0, feeds: tuple[float, float]
) -> SpaceMesh:
    """Mesh a swept part, with straight feeds before its two ports, on its exact map.

    The first end of the part lies at the origin, the axis leaves it along +z, with the broad wall
    along x and the narrow wall along y.

    Parameters
    ----------
    part : Straight, Bend, Twist, Taper, Dent or Transition
    wavelength : float
        Shortest free-space wavelength in the band [m]; it bounds the cells.
    refinement : int
        0 for the coarsest mesh. Each step shortens the cells along the axis and adds a layer at
        the walls and, every other time, at the ends of the part; every second one also halves the
        cells across.
    feeds : (float, float)
        Straight guide between each end of the part and its port [m]; 0 puts the port there.

    Returns
    -------
    SpaceMesh

    Raises
    ------
    MeshingError
        For a part that is not swept.
    InvalidDimensionError
        For a feed that is not a length.
    """
    if not isinstance(part, SWEPT_PARTS):
        raise MeshingError(f"a {kind_of(part)} is not a swept part")
    for feed in feeds:
        if not (math.isfinite(feed) and feed >= 0):
            raise InvalidDimensionError("feeds", feed, "finite and at least 0 m")
    lines = axis_lines(part, feeds, wavelength, refinement)
    if _is_round(part):
        blocks = _round_blocks(part, lines, wavelength, refinement)
    else:
        blocks = _rectangular_blocks(part, lines, wavelength, refinement)
    mesh = hexahedral_mesh(blocks)
    along = sum(len(values) - 1 for values in lines.values())
    description: dict[str, object] = {
        "cells": int(mesh.t.shape[1]),
        "cells_along": along,
        "cells_in_section": int(mesh.t.shape[1]) // along,
        "shape": "hexahedra",
        "geometry": "exact map",
    }
    return SpaceMesh(mesh, _ports(part, feeds), description)


def _is_round(part: SweptPart) -> bool:
    return isinstance(part, Transition) or isinstance(part.guide, CircularGuide)


def _named_ends(lines: dict[str, Array], stretch: str) -> dict[str, str]:
    """Sides of a stretch that are ports."""
    names = list(lines)
    first = {"w0": "port1"} if stretch == names[0] else {}
    last = {"w1": "port2"} if stretch == names[-1] else {}
    return first | last


def _rectangular_blocks(
    part: SweptPart, lines: dict[str, Array], wavelength: float, refinement: int
) -> list[Block]:
    sweep = sweep_of(part)
    maps: dict[str, Mapping] = {
        "feed1": swept_map(straight_on(sweep, 0.0)),
        "part": dented_map(part) if isinstance(part, Dent) else swept_map(sweep),
        "feed2": swept_map(straight_on(sweep, part.axis_length)),
    }
    u, v = (values - 0.5 for values in _lines_in_section(part, wavelength, refinement))
    return [
        Block((u, v, values), maps[stretch], _named_ends(lines, stretch))
        for stretch, values in lines.items()
    ]


def _lines_in_section(part: SweptPart, wavelength: float, refinement: int) -> tuple[Array, Array]:
    """Lines across the broad and across the narrow wall, from 0 to 1."""
    guide = part.guide
    if isinstance(guide, CircularGuide):
        raise MeshingError(f"{guide.label} has no broad and narrow wall")
    widest, highest = guide.broad_width, guide.narrow_height
    if isinstance(part, Taper):
        widest = max(widest, part.to_guide.broad_width)
        highest = max(highest, part.to_guide.narrow_height)
    counts = (
        cells_across(widest, wavelength, 1, refinement),
        cells_across(highest, wavelength, 1, refinement),
    )
    layers = 0 if isinstance(part, Straight) else refinement
    u, v = (across_lines(count, (layers, layers)) for count in counts)
    if isinstance(part, Bend):
        in_plane = bend_lines(part, counts[0 if part.plane == "H" else 1], layers)
        return (in_plane, v) if part.plane == "H" else (u, in_plane)
    if isinstance(part, Dent):
        across = dent_lines(part, wavelength, refinement)
        return (across, v) if part.wall == "broad" else (u, across)
    return u, v


def _round_section(part: SweptPart) -> tuple[RoundSection, dict[str, Callable]]:
    """Section, and the fraction of the way from rectangle to circle on each stretch."""

    def still(fraction: float) -> Callable[[Array], tuple[Array, float]]:
        return lambda z: (np.full_like(z, fraction), 0.0)

    if isinstance(part, Transition):
        section = RoundSection(part.guide.broad_width, part.guide.narrow_height, part.to_diameter)
        length = part.length
        stretches = {"feed1": still(0.0), "part": lambda z: (z / length, 1 / length)}
        return section, stretches | {"feed2": still(1.0)}
    if not isinstance(part.guide, CircularGuide):
        raise MeshingError(f"a {part.kind} in {part.guide.label} is not round")
    diameter = part.guide.diameter
    square = diameter / math.sqrt(2)
    names = ("feed1", "part", "feed2")
    return RoundSection(square, square, diameter), {name: still(1.0) for name in names}


def _round_blocks(
    part: SweptPart, lines: dict[str, Array], wavelength: float, refinement: int
) -> list[Block]:
    section, fractions = _round_section(part)
    layers = 0 if isinstance(part, Straight) else refinement
    u, v, rho = round_lines(section, wavelength, refinement, layers)
    blocks = []
    for stretch, values in lines.items():
        for side in _SIDES:
            first, second = (u, v) if side == "core" else (rho, v if side in (0, 2) else u)
            mapping = section.mapping(side, fractions[stretch])
            blocks.append(Block((first, second, values), mapping, _named_ends(lines, stretch)))
    return blocks


def _ports(part: SweptPart, feeds: tuple[float, float]) -> tuple[SpacePort, SpacePort]:
    """Ports at the outer ends of the feeds."""
    length = part.axis_length
    first, second = part.guides
    return (
        _port(part, "port1", first, 0.0, -1, feeds[0]),
        _port(part, "port2", second, length, 1, feeds[1]),
    )


def _port(
    part: SweptPart,
    name: str,
    guide: RectangularGuide | CircularGuide,
    end: float,
    sign: int,
    feed: float,
) -> SpacePort:
    if _is_round(part):
        x, y, centre = np.eye(3)[0], np.eye(3)[1], np.array([0.0, 0.0, end])
    else:
        at, _ = sweep_of(part)(np.array([end]))
        x, y = (wall[:, 0] / np.linalg.norm(wall) for wall in (at.broad, at.narrow))
        centre = at.centre[:, 0]
    outward = sign * np.cross(x, y)
    return SpacePort(name, guide, centre + feed * outward, x, y, outward, feed)
