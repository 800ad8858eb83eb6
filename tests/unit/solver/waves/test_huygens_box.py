"""The far field of a dipole, from its near field on a box that is open behind."""

import numpy as np
import pytest
from numpy.testing import assert_allclose

from solver.waves.huygens_box import HuygensBox

K = 250.0
X, Y, TOP, START, DEPTH, RATE = 12e-3, 9e-3, 8e-3, -10e-3, 30e-3, 2.0


def face(axis, at, u, v):
    """Points and area vectors (3, n) of one side of the box by Gauss's rule on lines u, v."""
    (p, wp), (q, wq) = u, v
    points = np.empty((3, len(p), len(q)), dtype=complex)
    others = [d for d in range(3) if d != axis]
    points[axis], points[others[0]], points[others[1]] = at, p[:, None], q[None]
    normals = np.zeros_like(points)
    normals[axis] = wp[:, None] * wq
    return points.reshape(3, -1), normals.reshape(3, -1)


def line(start, end, count=24):
    x, w = np.polynomial.legendre.leggauss(count)
    return 0.5 * (start + end) + 0.5 * (end - start) * x, 0.5 * (end - start) * w


def box():
    """A quarter of a box whose sides run on into a layer with complex z behind."""
    layer = line(START - DEPTH * (1 - 1j * RATE), START, 40)
    faces = [face(2, TOP, line(0, X), line(0, Y))]
    for z in (line(START, TOP), layer):
        faces += [face(0, X, line(0, Y), z), face(1, Y, line(0, X), z)]
    points, normals = (np.concatenate(each, axis=1) for each in zip(*faces, strict=True))
    return HuygensBox(points, normals)


def dipole(points):
    """E and curl E (3, n) of a small current along y at the origin, continued to complex z.

    The vector potential is exp(-jkr)/r along y: E = A + grad div A / k^2, up to a factor, and
    curl E = curl A.
    """
    r = np.sqrt((points**2).sum(axis=0))
    g = np.exp(-1j * K * r) / r
    first = -(1j * K + 1 / r) / r  # dg/dr over r and g
    second = (3 / r**2 + 3j * K / r - K**2) / r**2
    y = np.array([0.0, 1.0, 0.0])[:, None]
    e = g * (y * (1 + first / K**2) + points * points[1] * second / K**2)
    return e, np.cross((g * first * points).T, y.T).T


@pytest.mark.parametrize("degrees, tolerance", [((0, 30, 60, 90), 1e-6), ((120,), 2e-3)])
def test_far_field_of_a_dipole(degrees, tolerance):
    there = box()
    e, curl = dipole(there.points)
    values = np.concatenate([e.ravel(), curl.ravel()])[None]
    angle = np.radians(degrees)
    far = there.far_field(np.array([K]), values, angle)[0]
    # far off E = exp(-jkr)/r across the ray; the unit is that of a wave of power 1/k
    expected = np.sqrt(K) * np.stack([np.cos(angle), np.ones_like(angle)])
    assert_allclose(np.abs(far), np.abs(expected), atol=tolerance * np.sqrt(K))
