"""The mesh of a horn in free space: its walls, its layers, what it fills."""

import numpy as np
import pytest
from numpy.testing import assert_allclose

from geometries.cells.space_ports import BOX, SHEET
from geometries.shapes.guides import RectangularGuide
from geometries.shapes.horns import RectangularHorn
from geometries.space_meshes.bare_horn_blocks import bare_horn_blocks
from solver.elements.conical_rules import cube_rule
from solver.fem.edge_space import edge_space

GUIDE = RectangularGuide(22.86e-3, 10.16e-3)
FEED, WAVES = 12e-3, (24e-3, 36e-3)
OPEN_END = RectangularHorn(GUIDE, 22.86e-3, 10.16e-3, 0.0, "bare")
PYRAMID = RectangularHorn(GUIDE, 50e-3, 40e-3, 30e-3, "bare")
HORNS = pytest.mark.parametrize("horn", [OPEN_END, PYRAMID])


def area(mesh, facets):
    space = edge_space(mesh, 1)
    cells, faces = space.facet_cells(facets)
    rule, weights = space.face_rule(3)
    total = 0.0
    for cell, face in zip(cells, faces, strict=True):
        X, tangents = space.face_points(int(face), rule)
        _, jacobians = space.located(X, np.array([cell]))
        sides = np.einsum("iaq,at->itq", jacobians[:, :, 0], tangents)
        total += weights @ np.linalg.norm(np.cross(sides[:, 0], sides[:, 1], axis=0), axis=0)
    return total


@HORNS
def test_the_sheets_are_the_walls_and_lie_between_cells(horn):
    made = bare_horn_blocks(horn, wavelengths=WAVES, feed=FEED)
    a, b = GUIDE.broad_width / 2, GUIDE.narrow_height / 2
    aperture = horn.aperture_width / 2, horn.aperture_height / 2
    walls = FEED * (a + b)
    # trapezoids, each as high as its wall is long
    walls += 0.5 * (b + aperture[1]) * np.hypot(horn.length, aperture[0] - a)
    walls += 0.5 * (a + aperture[0]) * np.hypot(horn.length, aperture[1] - b)
    sheets = made.mesh.boundaries[SHEET]
    assert_allclose(area(made.mesh, sheets), walls, rtol=1e-12)
    assert not np.isin(sheets, made.mesh.boundary_facets()).any()
    assert np.isin(sheets, edge_space(made.mesh, 2).wall_facets).all()


@HORNS
def test_cells_fill_the_space_but_for_the_guide_behind_its_port(horn):
    made = bare_horn_blocks(horn, wavelengths=WAVES, feed=FEED)
    X, weights = cube_rule(3)
    _, jacobians = made.mesh.located(X, np.arange(made.mesh.t.shape[1]))
    sizes = np.linalg.det(jacobians.transpose(2, 3, 0, 1)) @ weights
    low, high = made.mesh.p.min(axis=1), made.mesh.p.max(axis=1)
    layer = -(horn.length + FEED) - low[2]
    behind = GUIDE.broad_width * GUIDE.narrow_height / 4 * layer
    assert_allclose(sizes.sum(), np.prod(high - low) - behind, rtol=1e-12)
    assert sizes.min() > 0


@HORNS
def test_coordinates_are_complex_in_the_layers_alone(horn):
    made = bare_horn_blocks(horn, wavelengths=WAVES, feed=FEED, nepers=6.0)
    _, centres = made.mesh.p, made.mesh.p[:, made.mesh.t].mean(axis=1)
    stretch = made.stretch
    assert set(np.unique(stretch.real)) == {1.0} and (stretch.imag <= 0).all()
    box = made.mesh.p[:, made.mesh.facets[:, made.mesh.boundaries[BOX]]].max(axis=(1, 2))
    start = -(horn.length + FEED)
    beyond = np.stack([centres[0] > box[0], centres[1] > box[1], (centres[2] > box[2])])
    beyond[2] |= centres[2] < start
    assert (beyond == (stretch != 1.0)).all()
    assert_allclose(made.plain_cells, np.flatnonzero(~beyond.any(axis=0)))
    # a wave that meets the layer in front head-on has decayed by so many nepers
    thickness = made.mesh.p[2].max() - box[2]
    rate = -stretch.imag.min() * 2 * np.pi / WAVES[1]
    assert_allclose(rate * thickness, 6.0, rtol=1e-12)
