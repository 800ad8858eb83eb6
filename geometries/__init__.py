"""What the metal looks like: guides and parts, and their meshes; knows no fields.

Parts in files of users are loaded when they are first named.
"""

from importlib import import_module
from typing import TYPE_CHECKING, Any

from geometries.shapes.bends import Bend
from geometries.shapes.choke_flanges import ChokeFlange
from geometries.shapes.corners import Corner
from geometries.shapes.dents import Dent
from geometries.shapes.flexibles import Flexible
from geometries.shapes.guides import (
    CircularGuide,
    RectangularGuide,
    standard_guide,
    standard_guides,
)
from geometries.shapes.horns import ConicalHorn, RectangularHorn
from geometries.shapes.loads import Load
from geometries.shapes.offsets import Offset
from geometries.shapes.rotating_joints import RotatingJoint
from geometries.shapes.straights import Straight
from geometries.shapes.tapers import Taper
from geometries.shapes.transitions import Transition
from geometries.shapes.twists import Twist

if TYPE_CHECKING:
    from geometries.user_files.step_bodies import PortPoint
    from geometries.user_files.user_meshes import MeshPart

__all__ = [
    "Bend",
    "ChokeFlange",
    "CircularGuide",
    "ConicalHorn",
    "Corner",
    "Dent",
    "Flexible",
    "Load",
    "MeshPart",
    "Offset",
    "PortPoint",
    "RectangularGuide",
    "RectangularHorn",
    "RotatingJoint",
    "Straight",
    "Taper",
    "Transition",
    "Twist",
    "standard_guide",
    "standard_guides",
]

_HOMES = {
    "MeshPart": "geometries.user_files.user_meshes",
    "PortPoint": "geometries.user_files.step_bodies",
}


def __getattr__(name: str) -> Any:
    if name not in _HOMES:
        raise AttributeError(f"module 'geometries' has no attribute {name!r}")
    return getattr(import_module(_HOMES[name]), name)
