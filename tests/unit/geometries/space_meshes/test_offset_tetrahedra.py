"""Tetrahedra of turned offsets: volume, ports and grading."""

import math

import numpy as np
import pytest
from numpy.testing import assert_allclose

from geometries import standard_guide
from geometries.shapes.offsets import Offset
from geometries.space_meshes.offset_tetrahedra import offset_tetrahedra

WR90 = standard_guide("WR-90")
A, B = WR90.broad_width, WR90.narrow_height
FEED = 12e-3
FEEDS = (FEED, FEED)


@pytest.mark.parametrize(
    ("shift_x", "shift_y", "degrees"), [(0, 0, 5), (0, 0, 90), (1e-3, -1e-3, 10), (3e-3, 0, 0)]
)
def test_volume_and_ports(shift_x, shift_y, degrees):
    offset = Offset(WR90, shift_x, shift_y, math.radians(degrees))
    found = offset_tetrahedra(offset, wavelength=24e-3, feeds=FEEDS)
    corners = found.mesh.p[:, found.mesh.t]
    volumes = np.linalg.det(np.moveaxis(corners[:, 1:] - corners[:, :1], 2, 0)) / 6
    assert np.abs(volumes).sum() == pytest.approx(2 * FEED * A * B, rel=1e-9)
    for port in found.ports:
        points = found.mesh.p[:, found.mesh.facets[:, found.mesh.boundaries[port.name]]]
        x, y = port.coordinates(points.reshape(3, -1))
        assert_allclose([x.max(), -x.min()], A / 2, rtol=1e-7)
        assert_allclose([y.max(), -y.min()], B / 2, rtol=1e-7)
    assert_allclose(found.ports[1].x_axis @ found.ports[0].x_axis, math.cos(offset.turn))


def test_cells_shrink_towards_the_rim():
    offset = Offset(WR90, turn=math.radians(20))
    shortest = []
    for refinement in (0, 1):
        found = offset_tetrahedra(offset, wavelength=24e-3, refinement=refinement, feeds=FEEDS)
        ends = found.mesh.p[:, found.mesh.edges]
        length = np.linalg.norm(ends[:, 0] - ends[:, 1], axis=0)
        near = np.abs(ends[2]).max(axis=0) < 1e-9
        shortest.append(np.median(length[near]))
        assert length.max() > 5 * shortest[-1]
    assert shortest[1] == pytest.approx(0.5 * shortest[0], rel=0.3)
