"""Every kind of part is known in every place that has to know it, and no other object is taken."""

import math
import re
from dataclasses import dataclass, field
from pathlib import Path
from types import SimpleNamespace
from typing import ClassVar

import numpy as np
import pytest
from pydantic import TypeAdapter

from geometries.cells.gmsh_session import gmsh_session
from geometries.errors import UndeclaredUnitError
from geometries.plane_meshes.parts_in_plane import mesh_in_plane
from geometries.shapes.guides import CircularGuide, RectangularGuide
from geometries.shapes.part import BOTH_MIRRORS, Part
from geometries.shapes.straights import Straight
from geometries.shapes.units import GUIDE
from solver.output.drawing import drawing_of
from solver.output.wording import part_text
from solver.parts.flexible_solver import solved_flexible
from solver.parts.half_plane_solver import solved_in_half_plane
from solver.parts.horns import solved_horn
from solver.parts.load_solver import solved_load
from solver.parts.peak_field import field_depends_on_edges
from solver.parts.quarter_solver import solved_in_quarter
from solver.parts.solver_choice import solved_in_plane, solved_in_space, solver_for
from solver.parts.space_parts import space_problem, symmetry_of
from solver.studies.component_keys import KNOWN_KINDS, ComponentTable
from solver.studies.plain_values import described_component

README = (Path(__file__).parents[2] / "README.md").read_text(encoding="utf-8")
RECTANGLE, CIRCLE = RectangularGuide(20e-3, 10e-3), CircularGuide(30e-3)
GROOVE = {"groove_inner_radius_mm": 18.0, "groove_outer_radius_mm": 20.0, "groove_depth_mm": 7.0}

#: Keys of one part of each kind, as a study file has them; every dimension apart from the others.
KEYS = {
    "straight": {"length_mm": 31.0},
    "bend": {"plane": "E", "angle_deg": 37.0, "mean_radius_mm": 45.0},
    "corner": {"plane": "H", "angle_deg": 90.0, "cut_mm": 3.0},
    "twist": {"angle_deg": 45.0, "length_mm": 40.0, "profile": "uniform"},
    "taper": {
        "to_guide": {"width_mm": 24.0, "height_mm": 11.0},
        "length_mm": 50.0,
        "profile": "linear",
    },
    "transition": {"to_diameter_mm": 27.0, "length_mm": 40.0},
    "offset": {"shift_x_mm": 0.4, "shift_y_mm": -0.2, "turn_deg": 1.5},
    "dent": {"wall": "broad", "depth_mm": 1.5, "length_mm": 12.0, "width_mm": 8.0},
    "rotating-joint": {"mode": "TM01", "gap_mm": 0.5, "rim_radius_mm": 30.0} | GROOVE,
    "choke-flange": {"gap_mm": 0.5, "rim_radius_mm": 30.0, "gasket_permittivity": 1.0} | GROOVE,
    "load": {
        "plane": "H",
        "position": "wall",
        "taper_length_mm": 41.0,
        "base_length_mm": 13.0,
        "base_width_mm": 6.0,
        "permittivity": 4.0,
        "loss_tangent": 0.3,
        "permeability": 1.5,
        "magnetic_loss_tangent": 0.1,
    },
    "horn": {"aperture_width_mm": 36.0, "aperture_height_mm": 25.0, "length_mm": 42.0},
    "flexible": {
        "pitch_mm": 6.0,
        "convolution_depth_mm": 1.2,
        "count": 11,
        "profile": "sinusoidal",
        "plane": "E",
        "angle_deg": 70.0,
    },
    "mesh": {"file": "box.msh", "units": "mm"},
}
#: Lengths by the definition of each kind [m]; that of the mesh is the diagonal of the box.
LENGTHS = {
    "straight": 31e-3,
    "bend": math.radians(37) * 45e-3,
    "corner": 2 * 20e-3,
    "twist": 40e-3,
    "taper": 50e-3,
    "transition": 40e-3,
    "offset": 0.0,
    "dent": 12e-3,
    "rotating-joint": 0.5e-3,
    "choke-flange": 0.5e-3,
    "load": 54e-3,
    "horn": 42e-3,
    "flexible": 66e-3,
    "mesh": math.hypot(20e-3, 10e-3, 24e-3),
}
IN_PLANE = {solved_in_plane, solved_load}
SOLVERS = IN_PLANE | {
    solved_flexible,
    solved_in_space,
    solved_in_half_plane,
    solved_in_quarter,
    solved_horn,
}


@pytest.fixture(scope="module")
def folder(tmp_path_factory):
    """A folder with a straight length of guide as a mesh."""
    folder = tmp_path_factory.mktemp("meshes")
    with gmsh_session("box") as gmsh:
        gmsh.model.occ.addBox(0, 0, 0, 20, 10, 24)
        gmsh.model.occ.synchronize()
        gmsh.model.addPhysicalGroup(3, [1], name="inside")
        gmsh.model.addPhysicalGroup(2, [5], name="port1")
        gmsh.model.addPhysicalGroup(2, [6], name="port2")
        gmsh.option.setNumber("Mesh.MeshSizeMax", 8)
        gmsh.model.mesh.generate(3)
        gmsh.write(str(folder / "box.msh"))
    return folder


@pytest.fixture(params=KNOWN_KINDS)
def part(request, folder, monkeypatch):
    """One part of each kind that a study file may have."""
    monkeypatch.chdir(folder)
    keys = TypeAdapter(ComponentTable).validate_python(
        {"kind": request.param} | KEYS[request.param]
    )
    return keys.build(CIRCLE if keys.takes is CircularGuide else RECTANGLE)


def test_every_kind_has_its_row_in_the_readme(part):
    assert re.search(rf"^\| `{part.kind}` \|", README, re.MULTILINE)


def test_units_are_those_of_the_keys(part):
    described = described_component(part)
    assert described.pop("kind") == part.kind
    assert {key: described[key] for key in KEYS[part.kind]} == KEYS[part.kind]
    assert part_text(part).startswith(f"{part.kind} in ")


def test_answers_about_the_part(part):
    assert part.guides[0] == part.guide
    assert all(isinstance(guide, RectangularGuide | CircularGuide) for guide in part.guides)
    assert part.axis_length == pytest.approx(LENGTHS[part.kind], rel=1e-9)
    assert part.mirrors <= BOTH_MIRRORS | {"half-turn"}
    assert field_depends_on_edges(part) is part.has_sharp_edges
    # the entering mode is of this class, but for TM01 of a joint
    assert symmetry_of(part)((1, 0))


def test_every_part_has_a_solver_and_a_mesh(part):
    solver = solver_for(part)
    assert solver in SOLVERS
    assert (solver in IN_PLANE) == (part.exact_plane is not None)
    for chosen, meshed in ((solved_in_plane, mesh_in_plane), (solved_in_space, space_problem)):
        if chosen in (solver, solver_for(part, in_space=True)):
            assert meshed.dispatch(type(part)) is not meshed.dispatch(object)


def test_every_part_is_drawn_with_the_dimensions_of_its_study(part):
    drawing = drawing_of(part)
    assert all(view.walls for view in drawing.views)
    shown = {mark.key for view in drawing.views for mark in view.marks}
    lengths = {key for key in KEYS[part.kind] if key.endswith(("_mm", "_deg"))}
    assert lengths <= shown


@dataclass(frozen=True)
class Elbow:
    """What nobody has described."""

    kind: ClassVar[str] = "elbow"
    guide: RectangularGuide = RECTANGLE


@dataclass(frozen=True)
class HalfDescribed(Part):
    """A part that leaves out whether it has sharp edges, and a unit."""

    kind: ClassVar[str] = "half-described"

    guide: RectangularGuide = field(default=RECTANGLE, metadata=GUIDE)
    radius: float = 1e-3

    guides = Straight.guides
    exact_plane = Straight.exact_plane
    axis_length = Straight.axis_length
    mirrors = Straight.mirrors


class Described(HalfDescribed):
    """The same with its answers, but no unit."""

    has_sharp_edges = Straight.has_sharp_edges


PLACES = {
    "solver": solver_for,
    "solver in space": lambda part: solver_for(part, in_space=True),
    "mesh in plane": lambda part: mesh_in_plane(part, 25e-3),
    "mesh in space": lambda part: space_problem(part, np.array([10e9]), 1e-3),
    "symmetry": symmetry_of,
    "edges": field_depends_on_edges,
    "units": described_component,
    "text": part_text,
    "drawing": drawing_of,
}


@pytest.mark.parametrize("place", PLACES)
@pytest.mark.parametrize("unknown", [Elbow(), SimpleNamespace(kind="elbow", guide=RECTANGLE)])
def test_an_object_that_is_no_part_is_refused(place, unknown):
    with pytest.raises((TypeError, ValueError, RuntimeError), match="elbow"):
        PLACES[place](unknown)


def test_a_part_that_leaves_out_an_answer_cannot_be_made():
    with pytest.raises(TypeError, match="has_sharp_edges"):
        HalfDescribed()


def test_a_dimension_without_a_unit_is_refused():
    with pytest.raises(UndeclaredUnitError, match="radius of a half-described"):
        described_component(Described())


@pytest.mark.parametrize("place", ["mesh in plane", "mesh in space", "drawing"])
def test_a_new_kind_is_missed_where_it_was_not_registered(place):
    with pytest.raises((ValueError, RuntimeError), match="half-described"):
        PLACES[place](Described())
