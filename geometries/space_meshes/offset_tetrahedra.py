"""Tetrahedral meshes of offsets that turn, drawn by gmsh and graded towards the opening's rim."""

from __future__ import annotations

import math
from types import ModuleType

import numpy as np

from geometries.cells.gmsh_session import gmsh_session
from geometries.cells.space_ports import SpaceMesh, SpacePort
from geometries.cells.tetrahedral_cells import TetrahedralCells, read_tetrahedra
from geometries.shapes.guides import RectangularGuide
from geometries.shapes.offsets import Offset

#: Cells at the rim of the opening over the narrow height, and how they grow with the distance.
_AT_RIM, _GROWTH = 0.1, 0.6
#: Longest cell over the shortest wavelength.
_LONGEST = 0.4


def offset_tetrahedra(
    offset: Offset, *, wavelength: float, refinement: int = 0, feeds: tuple[float, float]
) -> SpaceMesh:
    """Mesh any offset with tetrahedra.

    The joint is the plane z = 0, with the first guide's axis at the origin along +z, its broad
    wall along x and its narrow wall along y.  At the second port x and y turn with the guide.

    Parameters
    ----------
    offset : Offset
    wavelength : float
        Shortest free-space wavelength in the band [m]; it bounds the cells.
    refinement : int
        Each step halves the cells at the rim of the opening.
    feeds : (float, float)
        Straight guide between the joint and each port [m].

    Returns
    -------
    SpaceMesh

    Raises
    ------
    MeshingError
    """
    from geometries.cells.tetrahedral_mesh import tetrahedral_mesh

    at_rim = _AT_RIM * offset.guide.narrow_height * 0.5**refinement
    with gmsh_session("offset") as gmsh:
        # drawn in millimetres, for the geometry kernel's tolerances are absolute
        rim = _draw(gmsh, offset, (feeds[0] * 1e3, feeds[1] * 1e3))
        _grade(gmsh, rim, at_rim * 1e3, _LONGEST * wavelength * 1e3)
        gmsh.model.mesh.generate(3)
        cells = read_tetrahedra(gmsh)
    cells = TetrahedralCells(cells.points * 1e-3, cells.tets, cells.groups)
    mesh = tetrahedral_mesh(cells.points, cells.tets, cells.groups)
    cos, sin = math.cos(offset.turn), math.sin(offset.turn)
    one, two, three = np.eye(3)
    away = np.array([offset.shift_x, offset.shift_y, feeds[1]])
    x, y = cos * one + sin * two, cos * two - sin * one
    ports = (
        SpacePort("port1", offset.guide, -feeds[0] * three, one, two, -three, feeds[0]),
        SpacePort("port2", offset.guide, away, x, y, three, feeds[1]),
    )
    description: dict[str, object] = {
        "cells": int(cells.tets.shape[1]),
        "shape": "tetrahedra",
        "geometry": "exact",
        "cells_at_rim_mm": at_rim * 1e3,
    }
    return SpaceMesh(mesh, ports, description)


def _draw(gmsh: ModuleType, offset: Offset, feeds: tuple[float, float]) -> list[int]:
    """Unite the two lengths, name the ports and return the curves of the opening's rim."""
    occ, guide = gmsh.model.occ, offset.guide
    a, b = guide.broad_width * 1e3, guide.narrow_height * 1e3
    first = occ.addBox(-a / 2, -b / 2, -feeds[0], a, b, feeds[0])
    second = occ.addBox(-a / 2, -b / 2, 0, a, b, feeds[1])
    occ.rotate([(3, second)], 0, 0, 0, 0, 0, 1, offset.turn)
    occ.translate([(3, second)], offset.shift_x * 1e3, offset.shift_y * 1e3, 0)
    whole, _ = occ.fuse([(3, first)], [(3, second)])
    occ.synchronize()
    gmsh.model.addPhysicalGroup(3, [tag for _, tag in whole], name="inside")
    for name, at in (("port1", -feeds[0]), ("port2", feeds[1])):
        ends = [
            tag
            for _, tag in gmsh.model.getEntities(2)
            if all(abs(z - at) < 1e-6 for z in gmsh.model.getBoundingBox(2, tag)[2::3])
        ]
        gmsh.model.addPhysicalGroup(2, ends, name=name)
    return [tag for _, tag in gmsh.model.getEntities(1) if _on_rim(gmsh, tag, offset)]


def _on_rim(gmsh: ModuleType, tag: int, offset: Offset) -> bool:
    """Whether a curve lies in the joint with its middle inside one of the guides."""
    low, high = gmsh.model.getParametrizationBounds(1, tag)
    x, y, z = np.array(gmsh.model.getValue(1, tag, [0.5 * (low[0] + high[0])])) * 1e-3
    if abs(z) > 1e-9:
        return False
    cos, sin = math.cos(offset.turn), math.sin(offset.turn)
    dx, dy = x - offset.shift_x, y - offset.shift_y
    turned = (cos * dx + sin * dy, cos * dy - sin * dx)
    return _inside(offset.guide, x, y) or _inside(offset.guide, *turned)


def _inside(guide: RectangularGuide, x: float, y: float) -> bool:
    slack = 1e-6 * guide.broad_width
    return abs(x) < guide.broad_width / 2 - slack and abs(y) < guide.narrow_height / 2 - slack


def _grade(gmsh: ModuleType, rim: list[int], at_rim: float, longest: float) -> None:
    """Let cells grow in proportion to the distance from the rim."""
    field = gmsh.model.mesh.field
    distance = field.add("Distance")
    field.setNumbers(distance, "CurvesList", rim)
    field.setNumber(distance, "Sampling", 200)
    near, far, least = field.add("MathEval"), field.add("MathEval"), field.add("Min")
    field.setString(near, "F", f"{at_rim} + {_GROWTH} * F{distance}")
    field.setString(far, "F", f"{longest}")
    field.setNumbers(least, "FieldsList", [near, far])
    field.setAsBackgroundMesh(least)
    for source in ("ExtendFromBoundary", "FromPoints", "FromCurvature"):
        gmsh.option.setNumber(f"Mesh.MeshSize{source}", 0)
