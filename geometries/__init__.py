"""What the metal looks like: guides and parts, and their meshes; knows no fields."""

from geometries.shapes.bends import Bend
from geometries.shapes.choke_flanges import ChokeFlange
from geometries.shapes.corners import Corner
from geometries.shapes.dents import Dent
from geometries.shapes.guides import (
    CircularGuide,
    RectangularGuide,
    standard_guide,
    standard_guides,
)
from geometries.shapes.loads import Load
from geometries.shapes.offsets import Offset
from geometries.shapes.rotating_joints import RotatingJoint
from geometries.shapes.straights import Straight
from geometries.shapes.tapers import Taper
from geometries.shapes.transitions import Transition
from geometries.shapes.twists import Twist

__all__ = [
    "Bend",
    "ChokeFlange",
    "CircularGuide",
    "Corner",
    "Dent",
    "Load",
    "Offset",
    "RectangularGuide",
    "RotatingJoint",
    "Straight",
    "Taper",
    "Transition",
    "Twist",
    "standard_guide",
    "standard_guides",
]
