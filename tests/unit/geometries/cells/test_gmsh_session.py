"""gmsh keeps one state a process: sessions must not leak into one another."""

import math
import sys
from pathlib import Path

import gmsh
import numpy as np
import pytest

from geometries.cells.gmsh_session import gmsh_session, remedy
from geometries.errors import MeshingError
from geometries.plane_meshes.parts_in_plane import mesh_in_plane
from geometries.shapes.bends import Bend
from geometries.shapes.corners import Corner
from geometries.shapes.guides import RectangularGuide

GUIDE = RectangularGuide(22.86e-3, 10.16e-3)


def test_the_same_part_gives_the_same_mesh_whatever_came_between():
    bend, corner = Bend(GUIDE, "E", 1.0, 9e-3), Corner(GUIDE, "H", 1.2, 4e-3)
    # the corner sets mesh-size fields, size options and an algorithm; the bend sets none
    for first, between in ((bend, corner), (corner, bend)):
        before, _, after = (mesh_in_plane(part, 25e-3).mesh for part in (first, between, first))
        np.testing.assert_array_equal(before.p, after.p)
        np.testing.assert_array_equal(before.t, after.t)
        for name in ("port1", "port2", "wall"):
            np.testing.assert_array_equal(before.boundaries[name], after.boundaries[name])


def test_options_do_not_survive_a_session():
    with gmsh_session() as session:
        before = session.option.getNumber("Mesh.MeshSizeExtendFromBoundary")
        session.option.setNumber("Mesh.MeshSizeExtendFromBoundary", 0)
        session.option.setNumber("Mesh.Algorithm", 5)
    with gmsh_session() as session:
        assert session.option.getNumber("Mesh.MeshSizeExtendFromBoundary") == before != 0
        assert session.option.getNumber("Mesh.Algorithm") != 5
        assert session.model.getEntities() == []


@pytest.mark.parametrize("error", [MeshingError("no"), KeyError("x"), KeyboardInterrupt()])
def test_session_closes_on_an_error_and_lets_it_through(error):
    with pytest.raises(type(error)), gmsh_session():
        raise error
    assert not gmsh.isInitialized()


def test_what_gmsh_refuses_becomes_a_meshing_error():
    with pytest.raises(MeshingError, match="could not mesh the riser"), gmsh_session("riser") as g:
        g.model.geo.addPlaneSurface([99])
        g.model.geo.synchronize()
        g.model.mesh.generate(2)
    assert not gmsh.isInitialized()


def test_a_session_inside_another_is_refused():
    with gmsh_session() as outer:
        with pytest.raises(MeshingError, match="already open"), gmsh_session():
            pass
        assert outer.isInitialized()
        outer.model.geo.addPoint(0, 0, math.pi)


def test_missing_system_libraries_are_told_with_the_command_that_mends_it(monkeypatch):
    class Missing:
        def find_spec(self, name, path=None, target=None):
            if name == "gmsh":
                raise OSError("libGLU.so.1: cannot open shared object file")

    monkeypatch.delitem(sys.modules, "gmsh")
    monkeypatch.setattr(sys, "meta_path", [Missing(), *sys.meta_path])
    with pytest.raises(MeshingError) as told, gmsh_session():
        pass
    assert "libGLU.so.1" in str(told.value)
    assert "apt-get install -y libglu1-mesa" in str(told.value)
    assert len(str(told.value).splitlines()) == 1


def test_the_readme_and_the_checks_install_the_same_libraries():
    root = Path(__file__).parents[4]
    listed = remedy().partition("install -y ")[2]
    for name in ("README.md", ".ci/run"):
        assert listed in (root / name).read_text(encoding="utf-8")
