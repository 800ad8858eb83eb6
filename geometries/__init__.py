"""What the metal looks like: guides and parts, and their meshes; knows no fields."""

from geometries.bends import Bend
from geometries.choke_flanges import ChokeFlange
from geometries.corners import Corner
from geometries.dents import Dent
from geometries.guides import CircularGuide, RectangularGuide, standard_guide, standard_guides
from geometries.offsets import Offset
from geometries.rotating_joints import RotatingJoint
from geometries.straights import Straight
from geometries.tapers import Taper
from geometries.transitions import Transition
from geometries.twists import Twist

__all__ = [
    "Bend",
    "ChokeFlange",
    "CircularGuide",
    "Corner",
    "Dent",
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
