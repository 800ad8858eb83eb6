"""What the derivative of S11 says of its size and of the way to the limit."""

import numpy as np
import pytest

from solver.judgement.sensitivities import change_to_limit, slope_of_size


def test_slope_of_the_size():
    s11 = np.array([0.3 + 0.4j, 0.0])
    slope = np.array([1.0 + 1.0j, 2.0j])
    # d|S|/dx = (0.3*1 + 0.4*1) / 0.5
    np.testing.assert_allclose(slope_of_size(s11, slope), [1.4, 2.0])


def test_change_that_uses_up_the_limit():
    s11, slope = np.array([0.01, 0.02j]), np.array([0.5, 0.3])
    # |0.01 + 0.5 x| = 0.03 at x = 0.04; |0.02j + 0.3 x| = 0.03 at x = sqrt(5e-4)/0.3 = 0.0745
    assert change_to_limit(s11, slope, 0.03) == pytest.approx(0.04)
    assert change_to_limit(s11, slope, 0.015) == 0.0
    assert change_to_limit(s11, 0 * slope, 0.03) == np.inf
