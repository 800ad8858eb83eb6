"""Loads: their dimensions, and what is refused."""

import math

import numpy as np
import pytest

from geometries.errors import InvalidDimensionError
from geometries.plane_meshes.load_mesh import half_or_whole, mesh_load
from geometries.shapes.guides import RectangularGuide
from geometries.shapes.loads import Load

GUIDE = RectangularGuide(22.86e-3, 10.16e-3)
PLAIN = {
    "plane": "H",
    "position": "centre",
    "taper_length": 30e-3,
    "base_length": 10e-3,
    "permittivity": 4.0,
    "loss_tangent": 0.2,
}


def load(**changed):
    return Load(GUIDE, **PLAIN | changed)


def test_a_base_without_a_width_fills_the_guide():
    assert load().base_width == 22.86e-3
    assert load(plane="E").base_width == 10.16e-3
    assert load(plane="E").fills
    assert not load(base_width=5e-3).fills
    assert load().complex_permittivity == 4.0 * (1 - 0.2j)
    assert load(permeability=2.0, magnetic_loss_tangent=0.5).complex_permeability == 2 - 1j


def test_mirrors_and_edges():
    assert load(plane="E", position="wall").mirrors == {"x"}
    assert load(plane="E").mirrors == {"x", "y"}
    assert load(plane="H", position="wall").mirrors == {"y"}
    blunt = load(plane="E", position="wall", taper_length=0.0)
    assert blunt.symmetric and not blunt.has_sharp_edges
    assert load(plane="E", base_width=3e-3, taper_length=0.0).has_sharp_edges
    assert not load(plane="H").has_sharp_edges


@pytest.mark.parametrize(
    ("changed", "named"),
    [
        ({"plane": "A"}, "plane"),
        ({"position": "left"}, "position"),
        ({"taper_length": -1e-3}, "taper_length"),
        ({"taper_length": math.inf}, "taper_length"),
        ({"base_length": math.nan}, "base_length"),
        ({"taper_length": 0.0, "base_length": 0.0}, "base_length"),
        ({"base_width": 22.9e-3}, "base_width"),
        ({"base_width": -1e-3}, "base_width"),
        ({"permittivity": 0.0}, "permittivity"),
        ({"permittivity": 1e4}, "permittivity"),
        ({"permittivity": 900.0, "permeability": 100.0}, "permittivity"),
        ({"permeability": -1.0}, "permeability"),
        ({"loss_tangent": -0.1}, "loss_tangent"),
        ({"loss_tangent": 1e3}, "loss_tangent"),
        ({"magnetic_loss_tangent": math.nan}, "magnetic_loss_tangent"),
    ],
)
def test_what_is_out_of_range_is_named(changed, named):
    with pytest.raises(InvalidDimensionError, match=named):
        load(**changed)


@pytest.mark.parametrize("plane", ["E", "H"])
@pytest.mark.parametrize("position", ["centre", "wall"])
@pytest.mark.parametrize(
    "sizes",
    [(30e-3, 10e-3, 0.0), (0.0, 10e-3, 0.0), (0.0, 10e-3, 4e-3), (30e-3, 0.0, 0.0),
     (30e-3, 0.0, 4e-3), (30e-3, 10e-3, 4e-3)],
)  # fmt: skip
def test_the_mesh_holds_the_absorber_exactly(plane, position, sizes):
    taper, length, width = sizes
    part = load(
        plane=plane, position=position, taper_length=taper, base_length=length, base_width=width
    )
    made = mesh_load(part, 25e-3, 0)
    areas = np.abs(made.mesh._mapping().detDF(np.full((2, 1), 1 / 3))[:, 0]) / 2
    whole, base = half_or_whole(part)
    filled = made.filling.permittivity != 1.0
    assert areas[filled].sum() == pytest.approx(base * (taper / 2 + length), rel=1e-9)
    assert areas.sum() == pytest.approx(whole * (part.length + part.width_in_plane), rel=1e-9)
    sides = {
        name: np.linalg.norm(np.diff(made.mesh.p[:, made.mesh.facets[:, f]], axis=1), axis=0).sum()
        for name, f in made.mesh.boundaries.items()
    }
    around = 2 * (whole + part.length + part.width_in_plane)
    assert sum(sides.values()) == pytest.approx(around, rel=1e-9)
    assert sides["port1"] == pytest.approx(whole)
    assert ("mirror" in sides) == (part.symmetric and plane == "H")
    # no triangle reaches into both, and a lossless material stays real
    assert np.isrealobj(made.filling.permeability)


def test_the_materials_of_cells():
    part = load(permeability=2.0, magnetic_loss_tangent=0.5, loss_tangent=0.0)
    filling = mesh_load(part, 25e-3, 0).filling
    assert set(filling.permittivity) == {1.0, 4.0} and np.isrealobj(filling.permittivity)
    assert set(filling.permeability) == {1.0, 2.0 - 1.0j}
