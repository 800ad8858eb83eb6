"""Edges of a part that comes as a file, to draw it."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from geometries.arrays import Array, Numbers
from geometries.user_files.port_sections import port_section, ports_in_frame
from geometries.user_files.user_meshes import MeshPart, read_cells

#: Facets that meet at more than this angle make an edge [degrees].
_SHARP = 25.0


@dataclass(frozen=True, eq=False)
class FileOutline:
    """Edges and ports in the frame of port 1: x along its broad wall, z along its axis.

    Parameters
    ----------
    edges : (3, 2, n) array
        Ends of each edge [m].
    ports : tuple of (3, k) arrays
        Points on each port [m].
    """

    edges: Array
    ports: tuple[Array, ...]


def outline_of(part: MeshPart) -> FileOutline:
    """Return where the surface of a part bends sharply, and its ports.

    Raises
    ------
    MeshingError
        If the file cannot be read.
    """
    cells = read_cells(part)
    sections = [port_section(cells, name) for name in part.port_names]
    port = ports_in_frame(sections[0], sections[1], ("port1", "port2"))[0]
    frame = np.stack([port.x_axis, port.y_axis, np.cross(port.x_axis, port.y_axis)])
    points = frame @ (cells.points - port.origin[:, None])
    edges = _sharp_edges(points, cells.boundary())
    ports = tuple(points[:, np.unique(cells.groups[name])] for name in part.port_names)
    return FileOutline(points[:, edges], ports)


def _sharp_edges(points: Array, facets: Numbers) -> Numbers:
    """Ends (2, n) of the edges at which two facets (3, k) of the surface meet at an angle."""
    a, b, c = (points[:, corner] for corner in facets)
    normal = np.cross(b - a, c - a, axis=0)
    normal /= np.linalg.norm(normal, axis=0)
    ends = np.concatenate([facets[list(pair)] for pair in ((0, 1), (1, 2), (0, 2))], axis=1)
    owner = np.tile(np.arange(facets.shape[1]), 3)
    order = np.lexsort(ends)
    ends, owner = ends[:, order], owner[order]
    # the surface is closed: every edge is listed twice, one behind the other
    first, second = owner[::2], owner[1::2]
    cosine = np.abs((normal[:, first] * normal[:, second]).sum(axis=0))
    return np.asarray(ends[:, ::2][:, cosine < np.cos(np.radians(_SHARP))])
