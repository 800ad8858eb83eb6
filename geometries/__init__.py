"""What the metal looks like: guides and parts, and their meshes; knows no fields."""

from geometries.bends import Bend
from geometries.corners import Corner
from geometries.guides import CircularGuide, RectangularGuide, standard_guide, standard_guides
from geometries.straights import Straight

__all__ = [
    "Bend",
    "CircularGuide",
    "Corner",
    "RectangularGuide",
    "Straight",
    "standard_guide",
    "standard_guides",
]
