"""Parts that come as a file: the user's own mesh, or a STEP body."""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from functools import cached_property
from pathlib import Path
from typing import ClassVar, Literal, get_args

import numpy as np

from geometries.cells.space_ports import FEED, SpaceMesh, SpacePort
from geometries.cells.tetrahedral_cells import TetrahedralCells
from geometries.errors import InvalidDimensionError, MeshingError
from geometries.shapes.guides import CircularGuide
from geometries.shapes.part import NO_MIRRORS, Guide, Mirror, Part
from geometries.shapes.units import GUIDE, NAME
from geometries.user_files.curved_walls import with_curved_walls
from geometries.user_files.mesh_checks import check_cells, check_ports, check_walls
from geometries.user_files.mesh_files import read_mesh_file
from geometries.user_files.port_feeds import with_feed
from geometries.user_files.port_sections import TOLERANCE, port_section, ports_in_frame
from geometries.user_files.step_bodies import PortPoint, mesh_step

Unit = Literal["mm", "m", "in"]

#: Lengths of the units [m].
UNITS: dict[str, float] = {"mm": 1e-3, "m": 1.0, "in": 25.4e-3}
#: Longest part over the shortest wavelength.
_LONGEST = 50.0
#: Wavelength for which a STEP body is meshed to measure it, over the guide's longest side.
_MEASURED_AT = 4.0


@dataclass(frozen=True)
class MeshPart(Part):
    """A part of any shape between two flat ports, in a file.

    Parameters
    ----------
    guide : RectangularGuide or CircularGuide
        Guide of the first port; the file has to agree to 1e-3.
    file : Path
        A mesh of tetrahedra in a format that gmsh or meshio reads, or a STEP body.
    units : {"mm", "m", "in"}
        Unit of the numbers in the file.
    ports : tuple of str or PortPoint
        Names of the boundary groups of the two ports, in order; of a STEP body see
        `geometries.user_files.step_bodies`.
    walls : tuple of str, optional
        Names of the wall's groups, which with the ports have to cover the boundary.  By default
        the group ``wall`` or ``walls`` if there is one, and else all that is no port.

    Raises
    ------
    InvalidDimensionError
    """

    kind: ClassVar[str] = "mesh"

    guide: Guide = field(metadata=GUIDE)
    file: Path = field(metadata=NAME)
    units: Unit = field(metadata=NAME)
    ports: tuple[str | PortPoint, ...] = field(default=("port1", "port2"), metadata=NAME)
    walls: tuple[str, ...] | None = field(default=None, metadata=NAME)

    def __post_init__(self) -> None:
        if self.units not in get_args(Unit):
            raise InvalidDimensionError("units", self.units, "mm, m or in")
        if len(self.ports) != 2 or len(set(self.port_names)) != 2:
            raise InvalidDimensionError("ports", self.port_names, "two different ports")

    @property
    def guides(self) -> tuple[Guide, Guide]:
        """Guide at each port; that of the second is read from the file.

        Raises
        ------
        MeshingError
        """
        return self.guide, self._measured[0]

    @property
    def exact_plane(self) -> None:
        """None: nothing is known of its shape."""
        return None

    @property
    def axis_length(self) -> float:
        """Estimate from above, read from the file [m].

        The diagonal of the box about the part, or its volume over the opening of its smaller port
        where that is more, as in a folded run.

        Raises
        ------
        MeshingError
        """
        return self._measured[1]

    @property
    def mirrors(self) -> frozenset[Mirror]:
        """None: nothing is known of its shape."""
        return NO_MIRRORS

    @property
    def has_sharp_edges(self) -> bool:
        """True: it may have some."""
        return True

    @cached_property
    def _measured(self) -> tuple[Guide, float]:
        return _measured(self)

    @property
    def port_names(self) -> tuple[str, ...]:
        """Names of the ports."""
        return tuple(port if isinstance(port, str) else port.name for port in self.ports)

    @property
    def is_step(self) -> bool:
        """Whether the file is a STEP body by its name."""
        return self.file.suffix.lower() in (".step", ".stp")


def user_mesh(
    part: MeshPart,
    *,
    wavelength: float,
    refinement: int = 0,
    feeds: tuple[float, float] | None = None,
) -> SpaceMesh:
    """Read, check and extend a user's mesh.

    A straight feed is added before each port, whose own plane stays the plane of reference.  A
    mesh file is refined by cutting every cell into eight; a STEP body is meshed again.

    Parameters
    ----------
    part : MeshPart
    wavelength : float
        Shortest free-space wavelength in the band [m].
    refinement : int
        0 for the mesh as it is.
    feeds : (float, float), optional
        Straight guide to add before each port [m]; 0 leaves the port where it is.  By default so
        much that few modes reach its end.

    Returns
    -------
    SpaceMesh

    Raises
    ------
    MeshingError
        With one line that names the file and says what is wrong with it.
    """
    try:
        return _checked(part, wavelength, refinement, feeds)
    except MeshingError as error:
        raise MeshingError(f"{part.file}: {error}") from error


def _checked(
    part: MeshPart, wavelength: float, refinement: int, feeds: tuple[float, float] | None
) -> SpaceMesh:
    from geometries.cells.tetrahedral_mesh import tetrahedral_mesh  # its library takes long to load

    cells = _read(part, wavelength, refinement)
    names = part.port_names
    check_ports(cells, names)
    check_cells(cells)
    walls = part.walls
    if walls is None:
        walls = tuple(name for name in ("wall", "walls") if name in cells.groups)
    if walls:
        check_walls(cells, names, walls)
    # refuses ports inside the part
    tetrahedral_mesh(cells.points, cells.tets, {name: cells.groups[name] for name in names})
    sections = [port_section(cells, name) for name in names]
    _check_guide(part, sections[0].guide, sections[1].guide)
    # other groups, whatever they are called, are no business of the solver
    kept = {f"port{i}": cells.groups[name] for i, name in enumerate(names, start=1)}
    cells = TetrahedralCells(cells.points, cells.tets, kept)
    _check_length(cells, wavelength)
    ports = ports_in_frame(sections[0], sections[1], ("port1", "port2"))
    if feeds is None:
        feeds = (FEED * ports[0].guide.longest_side, FEED * ports[1].guide.longest_side)
    bent = with_curved_walls(cells, tuple(kept))
    if bent is None:
        return _extended(part, cells, ports, feeds, refinement)
    try:
        check_cells(bent)
    except MeshingError as error:
        raise MeshingError(
            f"the elements are too coarse for the part's curved walls ({error}); use smaller "
            "elements, or elements of second order"
        ) from error
    original = _extended(part, cells, ports, feeds, refinement)
    return replace(_extended(part, bent, ports, feeds, refinement), original=original)


def _measured(part: MeshPart) -> tuple[Guide, float]:
    """Guide of the second port, and an estimate of the length from above [m]."""
    try:
        cells = _read(part, _MEASURED_AT * part.guide.longest_side, 0)
        check_ports(cells, part.port_names)
        sections = [port_section(cells, name) for name in part.port_names]
    except MeshingError as error:
        raise MeshingError(f"{part.file}: {error}") from error
    points = cells.points[:, np.unique(cells.tets)]
    corners = cells.points[:, cells.tets[:4]]
    first, second, third = (corners[:, i] - corners[:, 0] for i in (1, 2, 3))
    volume = np.abs((np.cross(first, second, axis=0) * third).sum(axis=0)).sum() / 6
    opening = min(_opening(section.guide) for section in sections)
    diagonal = np.linalg.norm(np.ptp(points, axis=1))
    return sections[1].guide, float(max(diagonal, volume / opening))


def read_cells(part: MeshPart) -> TetrahedralCells:
    """Return the cells of a part's file as coarse as they measure it; unchecked but for ports.

    Raises
    ------
    MeshingError
    """
    try:
        cells = _read(part, _MEASURED_AT * part.guide.longest_side, 0)
        check_ports(cells, part.port_names)
    except MeshingError as error:
        raise MeshingError(f"{part.file}: {error}") from error
    return cells


def _opening(guide: Guide) -> float:
    """Area of a guide's cross-section [m^2]."""
    if isinstance(guide, CircularGuide):
        return float(np.pi * guide.radius**2)
    return guide.broad_width * guide.narrow_height


def _extended(
    part: MeshPart,
    cells: TetrahedralCells,
    ports: tuple[SpacePort, SpacePort],
    feeds: tuple[float, float],
    refinement: int,
) -> SpaceMesh:
    """Refine cells, and add the feeds."""
    from geometries.cells.tetrahedral_mesh import tetrahedral_mesh

    for _ in range(0 if part.is_step else refinement):
        cells = cells.refined()
    moved = []
    for port, feed in zip(ports, feeds, strict=True):
        if feed > 0:
            cells, port = with_feed(cells, port, feed)
        moved.append(port)
    mesh = tetrahedral_mesh(cells.points, cells.tets, cells.groups)
    return SpaceMesh(mesh, tuple(moved), _description(part, cells))


def _read(part: MeshPart, wavelength: float, refinement: int) -> TetrahedralCells:
    if not part.file.is_file():
        raise MeshingError("there is no such file")
    metres = UNITS[part.units]
    if part.is_step:
        return mesh_step(part.file, metres, part.ports, part.guide, wavelength, refinement)
    if not all(isinstance(port, str) for port in part.ports):
        raise MeshingError("a port of a mesh file is given by the name of its group, not a point")
    return read_mesh_file(part.file, metres)


def _check_guide(part: MeshPart, found: Guide, other: Guide) -> None:
    """Refuse a first port that is not of the study's guide; tell wrong units and order apart."""
    ours, theirs = _sides(part.guide), _sides(found)
    if len(ours) == len(theirs) and np.allclose(ours, theirs, rtol=2 * TOLERANCE, atol=0):
        return
    shown = " x ".join(f"{side * 1e3:.5g}" for side in theirs)
    text = f"{part.port_names[0]} is {shown} mm"
    if len(ours) == len(theirs):
        for unit, metres in UNITS.items():
            scaled = np.array(theirs) * metres / UNITS[part.units]
            if np.allclose(ours, scaled, rtol=2 * TOLERANCE, atol=0):
                raise MeshingError(
                    f'{text} with units = "{part.units}", but the guide is {part.guide.label}; '
                    f'the numbers fit units = "{unit}"'
                )
    what = "correct the units, the guide or the file"
    others = _sides(other)
    if len(ours) == len(others) and np.allclose(ours, others, rtol=2 * TOLERANCE, atol=0):
        what = f"{part.port_names[1]} is of that guide: swap the ports"
    raise MeshingError(f"{text}, but the guide is {part.guide.label}; {what}")


def _check_length(cells: TetrahedralCells, wavelength: float) -> None:
    size = float(np.ptp(cells.points[:, np.unique(cells.tets)], axis=1).max())
    if size > _LONGEST * wavelength:
        raise MeshingError(
            f"the part is {size * 1e3:.4g} mm long, {size / wavelength:.0f} wavelengths; at most "
            f"{_LONGEST:.0f} can be solved; check the units"
        )


def _sides(guide: Guide) -> tuple[float, ...]:
    if isinstance(guide, CircularGuide):
        return (guide.diameter,)
    return guide.broad_width, guide.narrow_height


def _description(part: MeshPart, cells: TetrahedralCells) -> dict[str, object]:
    return {
        "cells": int(cells.tets.shape[1]),
        "shape": "tetrahedra",
        "geometry": "second-order cells" if cells.curved else "straight-edged cells",
        "file": part.file.name,
    }
