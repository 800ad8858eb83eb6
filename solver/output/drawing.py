"""Which function draws which kind of part: the one place that a new kind is entered in."""

from __future__ import annotations

from functools import singledispatch
from typing import Any

from geometries.shapes.bends import Bend
from geometries.shapes.choke_flanges import ChokeFlange
from geometries.shapes.corners import Corner
from geometries.shapes.dents import Dent
from geometries.shapes.flexibles import Flexible
from geometries.shapes.horns import ConicalHorn, RectangularHorn
from geometries.shapes.loads import Load
from geometries.shapes.offsets import Offset
from geometries.shapes.part import kind_of
from geometries.shapes.rotating_joints import RotatingJoint
from geometries.shapes.straights import Straight
from geometries.shapes.tapers import Taper
from geometries.shapes.transitions import Transition
from geometries.shapes.twists import Twist
from geometries.user_files.user_meshes import MeshPart
from solver.errors import UnsupportedPartError
from solver.figures.drawings_flexible import draw_flexible
from solver.figures.drawings_gradual import draw_dent, draw_taper, draw_transition, draw_twist
from solver.figures.drawings_horns import draw_conical_horn, draw_rectangular_horn
from solver.figures.drawings_joints import draw_choke_flange, draw_offset, draw_rotating_joint
from solver.figures.drawings_loads import draw_load
from solver.figures.drawings_of_files import draw_mesh_part
from solver.figures.drawings_turning import draw_bend, draw_corner, draw_straight
from solver.figures.views import Drawing


@singledispatch
def drawing_of(component: Any) -> Drawing:
    """Return the drawing of a part, with the dimensions of its study.

    Raises
    ------
    UnsupportedPartError
        For a kind that nothing draws.
    """
    raise UnsupportedPartError(f"nothing draws a {kind_of(component)}")


drawing_of.register(Straight, draw_straight)
drawing_of.register(Bend, draw_bend)
drawing_of.register(Corner, draw_corner)
drawing_of.register(Twist, draw_twist)
drawing_of.register(Taper, draw_taper)
drawing_of.register(Transition, draw_transition)
drawing_of.register(Offset, draw_offset)
drawing_of.register(Dent, draw_dent)
drawing_of.register(RotatingJoint, draw_rotating_joint)
drawing_of.register(ChokeFlange, draw_choke_flange)
drawing_of.register(Load, draw_load)
drawing_of.register(Flexible, draw_flexible)
drawing_of.register(MeshPart, draw_mesh_part)
drawing_of.register(RectangularHorn, draw_rectangular_horn)
drawing_of.register(ConicalHorn, draw_conical_horn)
