"""What the derivative of S11 says of its size and of the way to the limit."""

import numpy as np
import pytest

from geometries.shapes.guides import standard_guide
from geometries.shapes.straights import Straight
from solver.judgement import sensitivities
from solver.judgement.sensitivities import change_to_limit, sensitivity_of, slope_of_size
from solver.studies.band import Band
from solver.studies.tolerances import Tolerance
from solver.waves.scattering import PortMode, ScatteringMatrix


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


def test_derivative_of_a_made_up_part_is_of_fourth_order_and_within_its_bound(monkeypatch):
    """S11 = sin(200 x) + sin(700 x)/10 with x the length; the bars are nothing."""
    frequency, none = np.array([9e9]), np.zeros(1)

    def made_up(part, *_, **__):
        s11 = np.sin(200 * part.length) + 0.1 * np.sin(700 * part.length)
        modes = (PortMode(1, "TE10", 6.5e9),)
        s = np.array([[[s11 + 0j]]])
        return ScatteringMatrix(frequency, modes, s, none, none, none)

    monkeypatch.setattr(sensitivities, "solved_at", made_up)
    part = Straight(standard_guide("WR-90"), 4e-3)
    exact = 200 * np.cos(0.8) + 70 * np.cos(2.8)
    errors = []
    for amount in (4e-4, 2e-4):
        found = sensitivity_of(
            part, Tolerance("length", "mm", amount), Band.at([9e9]), made_up(part), s_error=1e-6
        )
        errors.append(abs(found.derivative[0] - exact))
        assert errors[-1] < found.error[0] < 1.0
        ends = np.array([made_up(Straight(part.guide, 4e-3 + x)).s11[0] for x in (amount, -amount)])
        line = amount * found.derivative[0]
        off = np.abs(ends - made_up(part).s11[0] - np.array([line, -line])).max()
        assert found.bend[0] == pytest.approx(off)
    # the term in h^4 falls by 16
    assert errors[0] / errors[1] == pytest.approx(16, rel=0.1)
