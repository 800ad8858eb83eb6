"""Lines of a swept lattice: layers at ends, knots and walls, cells no longer than they may be."""

import math

import numpy as np
import pytest

from geometries.shapes.bends import Bend
from geometries.shapes.dents import Dent
from geometries.shapes.guides import standard_guide
from geometries.shapes.straights import Straight
from geometries.shapes.twists import Twist
from geometries.space_meshes.round_sections import RoundSection
from geometries.space_meshes.swept_lines import (
    across_lines,
    axis_lines,
    bend_lines,
    cells_across,
    dent_lines,
    graded_lines,
    round_lines,
)

WR90, WAVELENGTH = standard_guide("WR-90"), 25e-3
FEEDS = (11e-3, 12e-3)


@pytest.mark.parametrize("refinement", [0, 1, 2])
@pytest.mark.parametrize(
    "part",
    [
        Bend(WR90, "E", math.pi, 12e-3),
        Bend(WR90, "H", 1.5, 30e-3, "smooth", 0.3),
        Twist(WR90, math.pi / 2, 40e-3),
        Twist(WR90, math.pi, 40e-3, "smooth", 0.2),
    ],
)
def test_lines_along_the_axis(part, refinement):
    found = axis_lines(part, FEEDS, WAVELENGTH, refinement)
    assert list(found) == ["feed1", "part", "feed2"]
    length = part.axis_length
    for name, ends in (
        ("feed1", (-FEEDS[0], 0.0)),
        ("part", (0.0, length)),
        ("feed2", (length, length + FEEDS[1])),
    ):
        lines = found[name]
        assert (lines[0], lines[-1]) == pytest.approx(ends, abs=1e-15)
        assert (np.diff(lines) > 0).all()
        assert np.diff(lines).max() <= 0.7 * WAVELENGTH / (1 + refinement) * (1 + 1e-9)
    # no cell turns by more than 60 degrees
    angles = np.diff(part.turned(found["part"])[0])
    assert np.abs(angles).max() <= math.radians(60.0) * (1 + 1e-9)
    for knot in getattr(part, "knots", ()):
        assert np.abs(found["part"] - knot * length).min() < 1e-12
    if refinement:
        # as thin on both sides of the end, unless the first knot stands nearer than the scale
        thin = found["part"][1], -found["feed1"][-2]
        knot = (*getattr(part, "knots", ()), 1.0)[0] * length
        assert thin[0] == pytest.approx(min(thin[1], 0.2 * knot))


def test_a_straight_has_no_layers_and_a_feed_of_no_length_is_left_out():
    found = axis_lines(Straight(WR90, 40e-3), (0.0, 5e-3), WAVELENGTH, 2)
    assert list(found) == ["part", "feed2"]
    steps = np.diff(found["part"])
    np.testing.assert_allclose(steps, steps[0])


def test_layers_end_at_powers_of_a_fifth():
    found = graded_lines(40e-3, 10e-3, (2, 1), 15e-3)
    np.testing.assert_allclose(found[1:3], [0.4e-3, 2e-3])
    assert 40e-3 - found[-2] == pytest.approx(2e-3)
    assert np.diff(found[2:-1]).max() <= 15e-3
    # a part shorter than its scale is layered by its own length
    short = graded_lines(1e-3, 10e-3, (1, 0), 15e-3)
    np.testing.assert_allclose(short, [0.0, 0.2e-3, 1e-3])


def test_cells_across_a_bend_grow_with_its_radius():
    found = across_lines(3, (0, 0), ratio=8.0)
    # radii 1, 2, 4, 8
    np.testing.assert_allclose(found, [0.0, 1 / 7, 3 / 7, 1.0], rtol=1e-12)
    bend = Bend(WR90, "H", 1.0, 12e-3)
    lines = bend_lines(bend, 1, 0)
    radii = bend.inner_radius + lines * WR90.broad_width
    # without the layer at the tight inner wall, none grows more than threefold
    assert (radii[2:] / radii[1:-1]).max() <= 3.0 * (1 + 1e-9)
    assert lines[0] == 0.0 and lines[-1] == 1.0 and (np.diff(lines) > 0).all()


def test_cells_across_follow_the_wavelength():
    assert cells_across(10e-3, 25e-3, 1, 0) == 1
    assert cells_across(70e-3, 25e-3, 1, 0) == 3
    assert cells_across(10e-3, 25e-3, 2, 2) == 4 and cells_across(10e-3, 25e-3, 2, 1) == 2


def test_the_borders_of_a_dent_are_lines():
    dent = Dent(WR90, "broad", 1e-3, 12e-3, 8e-3)
    lines = dent_lines(dent, WAVELENGTH, 1)
    border = 0.5 * (1 - 8e-3 / 22.86e-3)
    for at in (0.0, border, 1 - border, 1.0):
        assert np.abs(lines - at).min() < 1e-12
    np.testing.assert_allclose(lines, 1 - lines[::-1], atol=1e-12)
    whole = dent_lines(Dent(WR90, "broad", 1e-3, 12e-3, 22.86e-3), WAVELENGTH, 1)
    np.testing.assert_allclose(whole, across_lines(2, (1, 1)))


def area(plane_of, first, second):
    """Of a patch of the section, by Gauss."""
    node, weight = np.polynomial.legendre.leggauss(12)
    p, q = np.meshgrid(*((low + (high - low) * (node + 1) / 2) for low, high in (first, second)))
    scale = (first[1] - first[0]) * (second[1] - second[0]) / 4
    _, slopes = plane_of(p.ravel(), q.ravel())
    det = slopes[0, 0] * slopes[1, 1] - slopes[0, 1] * slopes[1, 0]
    return float(np.abs(det) @ np.outer(weight, weight).ravel()) * scale


@pytest.mark.parametrize(("end", "whole"), [(0, 20e-3 * 10e-3), (1, math.pi * 12e-3**2)])
def test_core_and_sides_fill_a_rectangle_and_a_circle(end, whole):
    section = RoundSection(20e-3, 10e-3, 24e-3)
    total = area(lambda u, v: section.core(u, v)[end], (-1, 1), (-1, 1))
    for number in range(4):
        total += area(lambda rho, eta, n=number: section.side(n, eta, rho)[end], (0, 1), (-1, 1))
    assert total == pytest.approx(whole, rel=1e-9)
    # a corner of the rectangle goes to the circle's point at its own angle
    point = section.side(0, np.array([1.0]), np.array([1.0]))[end][0][:, 0]
    assert math.atan2(point[1], point[0]) == pytest.approx(math.atan2(10, 20))
    u, v, rho = round_lines(section, WAVELENGTH, 0, 1)
    assert (u[0], u[-1], v[0], v[-1], rho[0], rho[-1]) == (-1, 1, -1, 1, 0, 1)
