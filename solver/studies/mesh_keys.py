"""The keys of a part in a file: the user's own mesh, or a STEP body."""

from __future__ import annotations

import math
from pathlib import Path
from typing import Annotated, Any, ClassVar, Literal

from pydantic import AfterValidator, Field

from geometries.shapes.guides import CircularGuide, RectangularGuide
from geometries.user_files.step_bodies import PortPoint
from geometries.user_files.user_meshes import MeshPart
from solver.studies.guide_keys import Guide
from solver.studies.inches import millimetres
from solver.studies.kind_keys import ComponentKeys


def _named_ports(ports: Any) -> Any:
    """Let a list of two names, or of tables with a point on the port, pass."""
    if not isinstance(ports, list) or len(ports) != 2:
        raise ValueError("must be a list of the two ports")
    for port in ports:
        point = _point_in_mm(port)
        place = point if isinstance(point, list) and len(point) == 3 else [None]
        on_face = all(isinstance(x, float | int) and math.isfinite(x) for x in place)
        if not (isinstance(port, str) and port) and not on_face:
            raise ValueError('each must be a name, as "port1", or {point_mm = [x, y, z]}')
    if ports[0] == ports[1]:
        raise ValueError("must be two different ports")
    return ports


def _point_in_mm(port: Any) -> Any:
    """Coordinates of a port given as ``{point_mm = [x, y, z]}``, or with ``point_in``."""
    if not (isinstance(port, dict) and len(port) == 1):
        return None
    if isinstance(point := port.get("point_in"), list):
        return [millimetres(x) if isinstance(x, float | int) else x for x in point]
    return port.get("point_mm")


def _named_walls(walls: Any) -> Any:
    """Let "rest", a name or a list of names pass."""
    names = [walls] if isinstance(walls, str) else walls
    if not isinstance(names, list) or not names or not all(isinstance(n, str) for n in names):
        raise ValueError('must be "rest", or a list of names of boundary groups')
    return names


class MeshKeys(ComponentKeys):
    """A part in a file: the user's own mesh, or a STEP body."""

    takes: ClassVar[Any] = RectangularGuide | CircularGuide
    kind: Literal["mesh"]
    file: Annotated[str, Field(min_length=1, max_length=1000)]
    units: Literal["mm", "m", "in"]
    ports: Annotated[Any, AfterValidator(_named_ports)] = Field(default=["port1", "port2"])
    walls: Annotated[Any, AfterValidator(_named_walls)] = None

    def build(self, guide: Guide) -> MeshPart:
        """Return the component in this guide; its file counts from the working folder."""
        ports = tuple(
            port
            if isinstance(port, str)
            else PortPoint(f"port{i}", tuple(x / 1000 for x in _point_in_mm(port)))
            for i, port in enumerate(self.ports, start=1)
        )
        # "rest" as a list of one name: an empty list asks for no group
        walls = None if self.walls is None else tuple(n for n in self.walls if n != "rest")
        return MeshPart(guide, Path(self.file), self.units, ports, walls)
