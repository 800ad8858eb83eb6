import math

import numpy as np
import pytest

from geometries.errors import InvalidDimensionError
from geometries.shapes.flexibles import Flexible
from geometries.shapes.guides import standard_guide

GUIDE = standard_guide("WR-90")


def flexible(**changed):
    sizes = {"pitch": 6e-3, "convolution_depth": 1.2e-3, "count": 10} | changed
    return Flexible(GUIDE, **sizes)


def test_walls_swing_outward_from_the_plain_guide():
    part = flexible()
    z = np.array([0.0, 1.5e-3, 3e-3, 6e-3, 9e-3])
    swing, slope = part.swing(z)
    np.testing.assert_allclose(swing, [0.0, 0.6e-3, 1.2e-3, 0.0, 1.2e-3], atol=1e-15)
    step = 1e-7
    expected = (part.swing(z + step)[0] - part.swing(z - step)[0]) / (2 * step)
    np.testing.assert_allclose(slope, expected, atol=1e-7)


def test_answers():
    part = flexible(plane="E", angle=1.0)
    assert part.axis_length == pytest.approx(60e-3)
    assert part.mean_radius == pytest.approx(60e-3)
    assert part.guides == (GUIDE, GUIDE)
    assert part.mirrors == {"x"}
    assert flexible(plane="H", angle=1.0).mirrors == {"y"}
    assert flexible().mirrors == {"x", "y"}
    assert flexible().mean_radius == math.inf
    assert flexible().mean_guide.broad_width == pytest.approx(24.06e-3)


@pytest.mark.parametrize(
    ("changed", "said"),
    [
        ({"pitch": 0.0}, "pitch is 0"),
        ({"pitch": 0.5e-3}, "at least 0.04 of the broad wall"),
        ({"convolution_depth": -1e-3}, "convolution_depth"),
        ({"convolution_depth": 6.5e-3}, "at most the pitch"),
        ({"pitch": 20e-3, "convolution_depth": 11e-3}, "guide's height"),
        ({"count": 0}, "count is 0; it must be from 1"),
        ({"count": 1001}, "count is 1001"),
        ({"profile": "square"}, "profile"),
        ({"plane": "X"}, "plane"),
        ({"angle": 0.3}, "without a plane"),
        ({"plane": "E"}, "from 0.01 to 180"),
        ({"plane": "E", "angle": 3.2}, "from 0.01 to 180"),
        # half the height and the depth are 6.28 mm, the radius 6 mm over the angle
        ({"plane": "E", "angle": 1.0, "count": 1}, "inner walls fold"),
        ({"plane": "H", "angle": 2.0, "count": 4}, "take more convolutions or a smaller angle"),
    ],
)
def test_impossible_dimensions_are_refused(changed, said):
    with pytest.raises(InvalidDimensionError, match=said):
        flexible(**changed)
