"""Meshes of STEP bodies, drawn by gmsh.

STEP files seldom name faces.  A port is therefore given by the name of its face, where the file
has names, or by a point on it; ports that are only names and not in the file are looked for among
the flat faces that have the outline of the guide, of which there must be exactly two.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from pathlib import Path
from types import ModuleType

import numpy as np

from geometries.cells.gmsh_session import gmsh_session
from geometries.cells.tetrahedral_cells import TetrahedralCells, read_tetrahedra
from geometries.errors import MeshingError
from geometries.shapes.guides import CircularGuide, RectangularGuide

#: Elements round a full turn of a curved wall: second-order cells are then within 2e-5 of its
#: radius.
_ROUND = 24
#: Longest cell over the shortest wavelength.
_LONGEST = 0.35


@dataclass(frozen=True, repr=False)
class PortPoint:
    """A port of a STEP body, by a point on its face.

    Parameters
    ----------
    name : str
    point : (float, float, float)
        [m]
    """

    name: str
    point: tuple[float, float, float]

    def __repr__(self) -> str:
        return f"{self.name} at ({', '.join(f'{x * 1e3:g}' for x in self.point)}) mm"


def mesh_step(
    path: Path,
    metres: float,
    ports: tuple[str | PortPoint, ...],
    guide: RectangularGuide | CircularGuide,
    wavelength: float,
    refinement: int,
) -> TetrahedralCells:
    """Mesh the one solid of a STEP file with second-order tetrahedra.

    Parameters
    ----------
    path : Path
    metres : float
        Length of the unit in which the file's numbers are [m].
    ports : tuple of str or PortPoint
    guide : RectangularGuide or CircularGuide
        Guide of the first port, for ports that nothing else tells.
    wavelength : float
        Shortest wavelength [m].
    refinement : int

    Returns
    -------
    TetrahedralCells
        With a group for each port.

    Raises
    ------
    MeshingError
    """
    text = _text(path)
    with gmsh_session(f"body of {path.name}") as gmsh:
        gmsh.option.setString("Geometry.OCCTargetUnit", _declared_unit(text))
        try:
            gmsh.model.occ.importShapes(str(path))
        except Exception as error:  # gmsh raises bare Exception objects
            raise MeshingError("not a STEP file that can be read") from error
        gmsh.model.occ.synchronize()
        solids = gmsh.model.getEntities(3)
        if len(solids) != 1:
            what = "its walls are open" if not solids else "unite them"
            raise MeshingError(f"the file holds {len(solids)} solids, not one; {what}")
        faces = [tag for _, tag in gmsh.model.getEntities(2)]
        gmsh.model.addPhysicalGroup(3, [solids[0][1]], name="inside")
        for name, tag in _port_faces(gmsh, faces, ports, guide, metres).items():
            gmsh.model.addPhysicalGroup(2, [tag], name=name)
        gmsh.option.setNumber("Mesh.MeshSizeMax", _LONGEST * wavelength / metres * 0.7**refinement)
        gmsh.option.setNumber("Mesh.MeshSizeFromCurvature", _ROUND * 1.4**refinement)
        gmsh.option.setNumber("Mesh.ElementOrder", 2)
        gmsh.option.setNumber("Mesh.HighOrderOptimize", 1)
        gmsh.model.mesh.generate(3)
        cells = read_tetrahedra(gmsh)
    return TetrahedralCells(cells.points * metres, cells.tets, cells.groups)


def _text(path: Path) -> str:
    text = path.read_bytes().decode("latin-1")
    if "ISO-10303-21" not in text[:1000]:
        raise MeshingError("not a STEP file: it does not start with ISO-10303-21")
    return text


def _declared_unit(text: str) -> str:
    """Unit that the file declares, so that gmsh leaves its numbers as they are."""
    if re.search(r"CONVERSION_BASED_UNIT\s*\(\s*'INCH'", text, re.IGNORECASE):
        return "INCH"
    prefix = re.search(r"SI_UNIT\s*\(\s*(\.\w+\.|\$)\s*,\s*\.METRE\.\s*\)", text)
    return {"$": "M", ".CENTI.": "CM"}.get(prefix[1] if prefix else "", "MM")


def _port_faces(
    gmsh: ModuleType,
    faces: list[int],
    ports: tuple[str | PortPoint, ...],
    guide: RectangularGuide | CircularGuide,
    metres: float,
) -> dict[str, int]:
    """Face of each port."""
    labels = {gmsh.model.getEntityName(2, tag).split("/")[-1]: tag for tag in faces}
    found = {}
    for port in ports:
        if isinstance(port, PortPoint):
            found[port.name] = _face_at(gmsh, faces, port, metres)
        elif port in labels:
            found[port] = labels[port]
    unknown = [port for port in ports if isinstance(port, str) and port not in labels]
    if not unknown:
        return found
    alike = [tag for tag in faces if _fits(gmsh, tag, guide, metres)]
    left = [tag for tag in alike if tag not in found.values()]
    if len(alike) != 2 or len(left) != len(unknown):
        raise MeshingError(
            f"no face is called {unknown[0]!r}, and {len(alike)} flat faces fit {guide.label}, not "
            "two; name the ports' faces, or give each port as {point_mm = [x, y, z]} on its face"
        )
    return found | dict(zip(unknown, left, strict=True))


def _face_at(gmsh: ModuleType, faces: list[int], port: PortPoint, metres: float) -> int:
    place = np.array(port.point) / metres
    box = np.array(gmsh.model.getBoundingBox(-1, -1)).reshape(2, 3)
    near = 1e-4 * float(np.linalg.norm(box[1] - box[0]))
    hit = []
    for tag in faces:
        closest, parameters = gmsh.model.getClosestPoint(2, tag, list(place))
        inside = gmsh.model.isInside(2, tag, list(parameters), parametric=True)
        if inside and np.linalg.norm(np.array(closest) - place) < near:
            hit.append(tag)
    if len(hit) != 1:
        where = ", ".join(f"{x * 1e3:g}" for x in port.point)
        raise MeshingError(
            f"{len(hit)} faces pass through the point ({where}) mm of {port.name}; "
            "give a point inside the port's face"
        )
    return hit[0]


def _fits(
    gmsh: ModuleType, tag: int, guide: RectangularGuide | CircularGuide, metres: float
) -> bool:
    """Whether a face is flat and has the area and the rim of the guide."""
    if gmsh.model.getType(2, tag) != "Plane":
        return False
    area = gmsh.model.occ.getMass(2, tag) * metres**2
    curves = gmsh.model.getBoundary([(2, tag)], oriented=False)
    rim = sum(gmsh.model.occ.getMass(1, curve) for _, curve in curves) * metres
    if isinstance(guide, RectangularGuide):
        a, b = guide.broad_width, guide.narrow_height
        wanted = (a * b, 2 * (a + b))
    else:
        wanted = (np.pi * guide.radius**2, np.pi * guide.diameter)
    return bool(np.allclose((area, rim), wanted, rtol=2e-3, atol=0))
