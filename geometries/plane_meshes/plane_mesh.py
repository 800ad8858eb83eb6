"""Plane meshes with named boundaries, as values."""

from __future__ import annotations

from dataclasses import dataclass
from types import ModuleType
from typing import Any

import numpy as np

from geometries.arrays import Array, ComplexArray, Numbers
from geometries.cells.charts import Chart
from geometries.errors import MeshingError


@dataclass(frozen=True)
class PlanePort:
    """A straight port of a plane mesh.

    Parameters
    ----------
    name : str
        Name of the boundary in the mesh.
    start : (2,) array
        End of the port from which the transverse coordinate is counted [m]: the wall
        on the side towards which the part turns.
    direction : (2,) array
        Unit vector across the port.
    width : float
        Width of the port [m].
    feed_length : float
        Straight guide between this port and its reference plane [m].
    """

    name: str
    start: Array
    direction: Array
    width: float
    feed_length: float

    def coordinate(self, points: Array) -> Array:
        """Transverse coordinate [m], from 0 to `width`, of points (2, ...) on the port."""
        shift = points - self.start.reshape(2, *[1] * (points.ndim - 1))
        return np.tensordot(self.direction, shift, axes=1)


@dataclass(frozen=True, eq=False)
class Filling:
    """Materials of the cells of a mesh, relative to vacuum; real where none loses power.

    Parameters
    ----------
    permittivity, permeability : (cells,) array
        Real, or complex with an imaginary part below zero where power is lost [-].
    """

    permittivity: Array | ComplexArray
    permeability: Array | ComplexArray


@dataclass(frozen=True)
class PlaneMesh:
    """A mesh with named boundaries: one for each port, and ``wall``.

    Parameters
    ----------
    mesh : skfem.MeshTri or skfem.MeshQuad
        Vertices of a triangle are sorted; those of a quadrilateral go round from the
        least (s, t), so that neighbours agree on the direction of a shared edge.
    chart : Chart
        Map from the mesh's coordinates to the metal.
    ports : tuple of PlanePort
    description : dict
        What was meshed and how, for the record.
    filling : Filling, optional
        Vacuum when absent.
    """

    mesh: Any
    chart: Chart
    ports: tuple[PlanePort, ...]
    description: dict[str, object]
    filling: Filling | None = None


def feed_length(width: float) -> float:
    """Straight guide that a mesh adds before each port [m]."""
    return width


def read_plane_mesh(gmsh: ModuleType, corners: int) -> tuple[Array, Numbers, dict[str, Any]]:
    """Points (2, n), cells (corners, m) and named edges (2, k) of the mesh in memory."""
    tags, coordinates, _ = gmsh.model.mesh.getNodes()
    types, _, nodes = gmsh.model.mesh.getElements(2)
    wanted = {3: 2, 4: 3}[corners]
    if list(types) != [wanted]:
        raise MeshingError(f"gmsh made cells of types {list(types)}, not of type {wanted} alone")
    used = np.unique(nodes[0])
    number = np.full(int(tags.max()) + 1, -1)
    number[used] = np.arange(len(used))
    order = np.empty(int(tags.max()) + 1, dtype=np.int64)
    order[tags] = np.arange(len(tags))
    points = coordinates.reshape(-1, 3)[order[used], :2].T
    named = {}
    for dimension, group in gmsh.model.getPhysicalGroups(1):
        edges = [
            gmsh.model.mesh.getElements(1, entity)[2][0]
            for entity in gmsh.model.getEntitiesForPhysicalGroup(dimension, group)
        ]
        name = gmsh.model.getPhysicalName(dimension, group)
        named[name] = number[np.concatenate(edges)].reshape(-1, 2).T
    return np.ascontiguousarray(points), number[nodes[0]].reshape(-1, corners).T, named


def with_named_boundaries(mesh: Any, named: dict[str, Numbers]) -> Any:
    """Attach the named edges to the mesh as boundaries."""
    n = mesh.p.shape[1]
    key = mesh.facets.min(axis=0).astype(np.int64) * n + mesh.facets.max(axis=0)
    order = np.argsort(key)
    boundaries = {}
    for name, ends in named.items():
        wanted = ends.min(axis=0) * n + ends.max(axis=0)
        boundaries[name] = order[np.searchsorted(key, wanted, sorter=order)]
    return mesh.with_boundaries(boundaries)
