"""The half-plane of a bare horn: its map, its slit and its layer."""

from dataclasses import replace

import numpy as np
import pytest

from geometries.plane_meshes.bare_horn_mesh import mesh_bare_horn, stands_free
from geometries.plane_meshes.horn_mesh import mesh_horn
from geometries.shapes.guides import CircularGuide
from geometries.shapes.horns import ConicalHorn

GUIDE = CircularGuide(24e-3)
HORNS = {
    "open end": ConicalHorn(GUIDE, 24e-3, 0.0, rim="bare"),
    "flare": ConicalHorn(GUIDE, 60e-3, 50e-3, rim="bare"),
    "narrowing": ConicalHorn(GUIDE, 16e-3, 20e-3, rim="bare"),
}
WAVES = (30e-3, 33e-3)
INSIDE = np.array([[0.21, 0.74], [0.35, 0.88]])


def grown(mesh, growth):
    return replace(mesh.chart, growth=growth)


@pytest.mark.parametrize("name", HORNS)
def test_slopes_are_those_of_the_complex_map(name):
    mesh = mesh_bare_horn(HORNS[name], WAVES, 0)
    chart = grown(mesh, 1 - 1.7j)
    points = mesh.mesh._mapping().F(INSIDE)
    slopes, step = chart.slopes(points), 1e-9
    for axis in (0, 1):
        shift = np.zeros((2, 1, 1))
        shift[axis] = step
        by = (chart.coordinates(points + shift) - chart.coordinates(points - shift)) / (2 * step)
        assert np.abs(by - slopes[:, axis]).max() < 1e-5


@pytest.mark.parametrize("name", HORNS)
def test_no_cell_is_turned_over(name):
    mesh = mesh_bare_horn(HORNS[name], WAVES, 0)
    points = mesh.mesh._mapping().F(INSIDE)
    (zs, zt), (rs, rt) = mesh.chart.slopes(points).real
    assert ((zs * rt - zt * rs) * mesh.mesh._mapping().detDF(INSIDE) > 0).all()


@pytest.mark.parametrize("name", HORNS)
def test_the_wall_is_a_slit_from_the_rim_back_to_the_ends(name):
    horn = HORNS[name]
    mesh = mesh_bare_horn(horn, WAVES, 0)
    ends = mesh.mesh.facets[:, mesh.mesh.boundaries["wall"]]
    s, t = mesh.mesh.p[:, ends]
    on_wall = (np.abs(t - horn.opening_radius) < 1e-9).all(axis=0)
    assert (s[:, on_wall] <= 1e-12).all()
    # inside and outside meet at the rim alone
    near = np.abs(mesh.mesh.p[1] - horn.opening_radius) < 1e-9
    rim = near & (np.abs(mesh.mesh.p[0]) < 1e-12)
    assert rim.sum() == 1
    behind = mesh.mesh.p[:, near & (mesh.mesh.p[0] < -1e-9)]
    throat = np.isclose(behind[0], -horn.length)
    assert throat.sum() == (2 if horn.length else 0)
    places = mesh.chart.position(mesh.mesh.p[:, near])
    # metal where the horn has it
    slope = (horn.opening_radius - GUIDE.radius) / horn.length if horn.length else 0.0
    wall = np.where(places[0] > -horn.length, horn.opening_radius + slope * places[0], GUIDE.radius)
    back = places[0] <= 0
    assert np.abs(places[1] - wall)[back].max() < 1e-12


def test_the_layer_leaves_the_guide_and_what_is_near_alone():
    mesh = mesh_bare_horn(HORNS["flare"], WAVES, 0)
    points = mesh.mesh._mapping().F(INSIDE)
    chart = grown(mesh, 1 - 1.7j)
    free = stands_free(chart, chart.position(points))
    real = np.abs(chart.coordinates(points).imag).max(axis=0) == 0
    assert (free == real).all()
    # the port lies farther back than the layer behind begins, and inside the guide
    start = mesh.ports[0].start[0]
    assert stands_free(chart, np.array([[start], [0.5 * GUIDE.radius]])).all()


@pytest.mark.parametrize("name", HORNS)
def test_where_the_layer_begins_slopes_are_those_before_it(name):
    # places there have round-off of their own, at every band another one
    for longest in np.linspace(30e-3, 40e-3, 23):
        mesh = mesh_bare_horn(HORNS[name], (30e-3, longest), 0)
        chart, (s, t) = grown(mesh, 1 - 1.7j), mesh.mesh.p[:, mesh.mesh.t]
        horn, x = HORNS[name], np.array([0.1, 0.5, 0.9])
        back = -horn.length - chart.back
        near, outside = 1e-6, (t > horn.opening_radius - 1e-9).all(axis=0)
        below = (t < chart.side + 1e-9).all(axis=0)
        for cells, grid in (
            (below & (np.abs(s.max(axis=0) - chart.front) < near * 1e-2), [x**0, x]),
            (below & outside & (np.abs(s.min(axis=0) - back) < near * 1e-2), [0 * x, x]),
        ):
            here = np.flatnonzero(cells)
            assert here.size
            points = mesh.mesh._mapping().F(np.array(grid), tind=here)
            assert np.abs(chart.slopes(points).imag).max() == 0
        here = np.flatnonzero(np.abs(t.max(axis=0) - chart.side) < near * 1e-2)
        points = mesh.mesh._mapping().F(np.array([x, x**0]), tind=here)
        middle = mesh.mesh._mapping().F(np.array([x, 0.99 * x**0]), tind=here)
        assert np.abs(chart.slopes(points)[1, 1].imag).max() == 0
        assert np.abs(chart.slopes(points)[1, 1] - chart.slopes(middle)[1, 1]).max() < 1e-9


def test_a_horn_in_a_wall_has_no_layer():
    mesh = mesh_horn(ConicalHorn(GUIDE, 60e-3, 50e-3), WAVES[0], 0)
    assert stands_free(mesh.chart, np.array([[1.0], [1.0]])).all()


def test_finer_meshes_halve_the_cells_and_grade_further():
    rough, fine = (mesh_bare_horn(HORNS["flare"], WAVES, times) for times in (0, 1))
    assert fine.description["layers_to_edges"] == rough.description["layers_to_edges"] + 1
    # no cell longer than three quarters of a wavelength, but in the layer; slanted ones reach on
    for mesh, largest in ((rough, 0.75), (fine, 0.375)):
        corners = mesh.chart.position(mesh.mesh.p[:, mesh.mesh.t])
        free = stands_free(mesh.chart, corners.mean(axis=1))
        along = np.ptp(corners, axis=1)[:, free]
        assert along.max() < 1.1 * largest * WAVES[0]
