"""Error bars of corners against their mirror halves solved by another library."""

import math

import numpy as np
import pytest

from geometries.shapes.corners import Corner
from geometries.shapes.guides import standard_guide
from solver.parts.plane_solver import solve_in_plane
from tests.references.corner_halves import HalfCorner

GUIDE = standard_guide("WR-90")
BAND = np.array([8.2e9, 10.1e9, 12.4e9])


@pytest.mark.slow
@pytest.mark.parametrize("plane", ["E", "H"])
@pytest.mark.parametrize(
    ("degrees", "cut"), [(15.0, 0.0), (45.0, 0.12), (90.0, 0.0), (90.0, 0.9), (135.0, 1.9)]
)
def test_true_error_is_under_the_bar(plane, degrees, cut):
    pytest.importorskip("ngsolve")
    width = GUIDE.narrow_height if plane == "E" else GUIDE.broad_width
    angle = math.radians(degrees)
    corner = Corner(GUIDE, plane, angle, cut * width)
    found = solve_in_plane(corner, BAND, 1e-4)
    assert found.reached
    assert found.error.max() <= 1e-4
    fine = HalfCorner(plane, width, GUIDE.broad_width, angle, cut * width, degree=9, layers=7)
    rough = HalfCorner(plane, width, GUIDE.broad_width, angle, cut * width, degree=7, layers=6)
    for i, f in enumerate(BAND):
        exact, other = fine.scattering(f), rough.scattering(f)
        doubt = max(abs(a - b) for a, b in zip(exact, other, strict=True))
        assert doubt < 2e-6
        pair = (found.s[i, 0, 0], found.s[i, found.problem.modes.count, 0])
        for ours, theirs in zip(pair, exact, strict=True):
            assert abs(ours - theirs) < found.error[i] + doubt
