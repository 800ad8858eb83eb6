"""Corners and offsets through three dimensions against their exact reduction to the plane."""

import math

import numpy as np
import pytest
from numpy.testing import assert_allclose

from geometries import Corner, standard_guide
from geometries.errors import MeshingError
from geometries.shapes.offsets import Offset
from geometries.space_meshes.corner_blocks import corner_blocks
from geometries.space_meshes.offset_blocks import offset_blocks
from solver.parts.plane_solver import solve_in_plane
from solver.parts.space_parts import space_problem
from solver.parts.space_solver import solve_in_space

WR90 = standard_guide("WR-90")
BAND = np.linspace(8.2e9, 12.4e9, 5)
WAVELENGTH = 24e-3


def errors(part, s_error):
    """Errors of S11 and S21 (2, n) against the plane, and the bar (n,)."""
    plane = solve_in_plane(part, BAND, 1e-7)
    problem = space_problem(part, BAND, s_error)
    found = solve_in_space(problem, BAND, s_error).found
    assert found.reached
    pairs = ((0, 0), (len(problem.modes[0]), plane.problem.modes.count))
    wrong = [np.abs(found.s[:, i, 0] - plane.s[:, j, 0]) for i, j in pairs]
    return np.array(wrong), found.error


QUICK = [
    Corner(WR90, "H", math.radians(60)),
    Offset(WR90, shift_x=3e-3),
    Offset(WR90, shift_x=-0.5e-3),
]
LONG = [
    Corner(WR90, "E", math.radians(90)),
    Corner(WR90, "E", math.radians(40)),
    Corner(WR90, "E", math.radians(90), 6e-3),
    Corner(WR90, "E", math.radians(90), 12e-3),
    Corner(WR90, "H", math.radians(90), 10e-3),
    Offset(WR90, shift_y=-2e-3),
]


@pytest.mark.slow
@pytest.mark.parametrize(
    ("part", "s_error"),
    [*((part, 1e-4) for part in QUICK), *((part, 1e-3) for part in LONG)],
    ids=str,
)
def test_space_agrees_with_the_plane_within_its_bar(part, s_error):
    wrong, bar = errors(part, s_error)
    assert np.all(wrong < bar)
    assert bar.max() < s_error


def volume(mesh):
    cells = np.arange(mesh.t.shape[1])
    points, weights = np.polynomial.legendre.leggauss(3)
    line, share = 0.5 * (points + 1), 0.5 * weights
    X = np.stack([g.ravel() for g in np.meshgrid(line, line, line, indexing="ij")])
    weight = np.einsum("i,j,k->ijk", share, share, share).ravel()
    _, jacobians = mesh.located(X, cells)
    determinants = np.linalg.det(np.moveaxis(jacobians, (0, 1), (-2, -1)))
    assert np.all((determinants.min(axis=1) > 0) | (determinants.max(axis=1) < 0))
    return float(np.abs(determinants).sum(axis=0) @ weight)


@pytest.mark.parametrize("plane", ["E", "H"])
@pytest.mark.parametrize("degrees", [30, 90, 120])
@pytest.mark.parametrize("share", [0.0, 0.05, 0.5, 0.95])
def test_corner_blocks_fill_the_corner(plane, degrees, share):
    square = Corner(WR90, plane, math.radians(degrees))
    corner = Corner(WR90, plane, square.angle, share * square.largest_cut)
    found = corner_blocks(corner, wavelength=WAVELENGTH, feed=12e-3)
    width = corner.width_in_plane
    third = WR90.broad_width + WR90.narrow_height - width
    feeds = sum(port.feed_length for port in found.ports)
    kite = corner.outer_arm * width
    cut = 0.5 * corner.cut**2 * math.sin(corner.angle)
    assert volume(found.mesh) == pytest.approx(third * (feeds * width + kite - cut), rel=1e-9)
    check_ports(found)


@pytest.mark.parametrize("shifts", [(3e-3, 0), (0, -2e-3), (-1e-3, 2e-3), (0, 0), (20e-3, 9e-3)])
def test_offset_blocks_fill_both_guides(shifts):
    found = offset_blocks(Offset(WR90, *shifts), wavelength=WAVELENGTH, feeds=(12e-3, 12e-3))
    area = WR90.broad_width * WR90.narrow_height
    assert volume(found.mesh) == pytest.approx(2 * 12e-3 * area, rel=1e-9)
    check_ports(found)
    joint = np.isclose(found.mesh.p[2][found.mesh.facets], 0).all(axis=0)
    inner = np.setdiff1d(np.flatnonzero(joint), found.mesh.boundary_facets())
    corners = found.mesh.p[:2][:, found.mesh.facets[:, inner]]
    opening = np.prod(np.ptp(corners, axis=1), axis=0).sum()
    overlap = (WR90.broad_width - abs(shifts[0])) * (WR90.narrow_height - abs(shifts[1]))
    assert opening == pytest.approx(overlap, rel=1e-9)


def check_ports(found):
    for port in found.ports:
        points = found.mesh.p[:, found.mesh.facets[:, found.mesh.boundaries[port.name]]]
        x, y = port.coordinates(points.reshape(3, -1))
        assert_allclose([x.max(), -x.min()], 0.5 * WR90.broad_width, rtol=1e-9)
        assert_allclose([y.max(), -y.min()], 0.5 * WR90.narrow_height, rtol=1e-9)
        depth = port.outward @ (points.reshape(3, -1) - port.origin[:, None])
        assert_allclose(depth, 0.0, atol=1e-12)
    along = [np.cross(p.x_axis, p.y_axis) @ p.outward for p in found.ports]
    assert_allclose(along, [-1.0, 1.0], atol=1e-12)


def test_an_offset_that_turns_has_no_blocks():
    with pytest.raises(MeshingError, match="cannot be cut into blocks"):
        offset_blocks(Offset(WR90, turn=0.1), wavelength=WAVELENGTH, feeds=(12e-3, 12e-3))
