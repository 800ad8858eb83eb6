"""A part's inside as the content of an STL or STEP file; both in mm."""

from __future__ import annotations

import os
import sys
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from types import ModuleType
from typing import Any

import numpy as np

from geometries.arrays import Array, Numbers
from geometries.cells.gmsh_session import gmsh_session
from geometries.errors import MeshingError
from geometries.solids.part_solids import solid_of
from geometries.user_files.user_meshes import MeshPart, user_mesh

#: Endings of the files that can be written.
ENDINGS = (".stl", ".step", ".stp")
#: Triangles for each full turn of a curved wall, and along the guide's longest side.
_A_TURN, _A_SIDE = 60, 8


def solid_file(part: Any, ending: str) -> bytes:
    """Return the space inside a part as a file, lengths in mm.

    Parameters
    ----------
    part : object
        A part of any kind that has a solid; a mesh of the user's gives its surface.
    ending : {".stl", ".step", ".stp"}

    Returns
    -------
    bytes
        Binary STL, its triangles counted outwards; or STEP.

    Raises
    ------
    MeshingError
        For another ending, a kind without a solid, or a mesh that is to be a STEP body.
    """
    ending = ending.lower()
    if ending not in ENDINGS:
        raise MeshingError(f'a shape cannot be written as "{ending}"; end it in .stl or .step')
    if isinstance(part, MeshPart):
        return _of_user_mesh(part, ending)
    with gmsh_session("solid") as gmsh:
        bodies = solid_of(part, gmsh)
        gmsh.model.occ.synchronize()
        if ending != ".stl":
            return _written(gmsh)
        points, triangles = _surface(gmsh, bodies, 1e3 * part.guide.longest_side / _A_SIDE)
    return stl_bytes(points, triangles)


def stl_bytes(points: Array, triangles: Numbers) -> bytes:
    """Return triangles (3, t) of points (3, n) as a binary STL file."""
    corners = points.T[triangles.T]
    normal = np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0])
    size = np.linalg.norm(normal, axis=1, keepdims=True)
    normal = np.divide(normal, size, out=np.zeros_like(normal), where=size > 0)
    record = np.dtype([("vectors", "<f4", (4, 3)), ("attribute", "<u2")])
    facets = np.zeros(len(corners), dtype=record)
    facets["vectors"] = np.concatenate([normal[:, None], corners], axis=1)
    head = b"inside of a waveguide part, mm; guideproof".ljust(80)
    return head + np.uint32(len(facets)).tobytes() + facets.tobytes()


def _written(gmsh: ModuleType) -> bytes:
    with tempfile.TemporaryDirectory() as folder, _quiet():
        path = Path(folder) / "solid.step"
        gmsh.write(str(path))
        return path.read_bytes()


@contextmanager
def _quiet() -> Iterator[None]:
    """Keep what OpenCASCADE prints by itself off standard output, on which results stand."""
    sys.stdout.flush()
    kept = os.dup(1)
    nowhere = os.open(os.devnull, os.O_WRONLY)
    try:
        os.dup2(nowhere, 1)
        yield
    finally:
        os.dup2(kept, 1)
        os.close(kept)
        os.close(nowhere)


def _surface(gmsh: ModuleType, bodies: list[tuple[int, int]], size: float) -> tuple[Array, Numbers]:
    """Points (3, n) [mm] and outward triangles (3, t) of the surface of bodies."""
    gmsh.option.setNumber("Mesh.MeshSizeMax", size)
    gmsh.option.setNumber("Mesh.MeshSizeFromCurvature", _A_TURN)
    gmsh.model.mesh.generate(2)
    for _, tag in bodies:
        gmsh.model.mesh.setOutwardOrientation(tag)
    tags, coordinates, _ = gmsh.model.mesh.getNodes()
    order = np.zeros(int(tags.max()) + 1, dtype=np.int64)
    order[tags] = np.arange(len(tags))
    faces = [
        gmsh.model.mesh.getElementsByType(2, tag)[1].reshape(-1, 3)
        for _, tag in gmsh.model.getBoundary(bodies, oriented=False)
    ]
    return coordinates.reshape(-1, 3).T, order[np.concatenate(faces)].T


def _of_user_mesh(part: MeshPart, ending: str) -> bytes:
    """The surface of a user's mesh as it is solved, its feeds included; a STEP body as it is."""
    if ending != ".stl":
        if part.is_step:
            return part.file.read_bytes()
        raise MeshingError(f"{part.file.name}: a mesh has no exact walls; write it as .stl")
    mesh = user_mesh(part, wavelength=2.0 * part.guide.longest_side).mesh
    facets = np.asarray(mesh.facets)[:, np.asarray(mesh.boundary_facets())]
    inside = mesh.p[:, mesh.t[:, mesh.f2t[0, mesh.boundary_facets()]]].mean(axis=1)
    a, b, c = (mesh.p[:, corner] for corner in facets)
    outward = np.einsum("in,in->n", np.cross(b - a, c - a, axis=0), a - inside) > 0.0
    facets = np.where(outward, facets, facets[::-1])
    return stl_bytes(1e3 * mesh.p, facets)
