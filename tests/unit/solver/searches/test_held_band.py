"""Bands read from curves made by hand, whose crossings are known on paper."""

import numpy as np
import pytest

from solver.searches.held_band import held_band
from solver.studies.limits import Limit
from solver.waves.scattering import PortMode
from tests.unit.solver.made_up_curves import made_up_curves

GHZ = np.linspace(8.0, 12.0, 41)
LIMIT = Limit(return_loss_db=20.0)  # |S11| of 0.1


def curves(s11, error=0.0, leaked=0.0, ghz=GHZ):
    modes = (PortMode(1, "TE10", 6e9), PortMode(2, "TE10", 6e9))
    return made_up_curves(ghz * 1e9, modes, s11, error, leaked).whole


def notch(centre, slope):
    """|S11| that rises from 0 at the centre by so much a GHz."""
    return slope * np.abs(GHZ - centre) * np.exp(0.3j * GHZ)


def test_edges_lie_where_straight_lines_cross_the_limit():
    # 0.1 is reached 0.125 / 0.08 GHz either side of 10 GHz
    held = held_band(curves(notch(10.0, 0.08)), LIMIT, 10e9)
    low, high = held.sure
    assert held.outcome == "meets"
    assert (low.at, high.at) == pytest.approx((8.75e9, 11.25e9), abs=1.0)
    assert (low.within, high.within) == pytest.approx((0.1e9, 0.1e9))
    assert not (low.beyond or high.beyond)
    assert held.percent == pytest.approx(25.0)
    assert held.possible == held.sure


def test_the_bar_narrows_the_sure_band_and_widens_the_possible_one():
    # 0.08 x + 0.02 = 0.1 at x = 1; 0.08 x - 0.02 = 0.1 at x = 1.5
    held = held_band(curves(notch(10.0, 0.08), error=0.02), LIMIT, 10e9)
    assert [edge.at for edge in held.sure] == pytest.approx([9e9, 11e9], abs=1.0)
    assert [edge.at for edge in held.possible] == pytest.approx([8.5e9, 11.5e9], abs=1.0)


def test_a_bar_that_straddles_the_limit_decides_nothing():
    held = held_band(curves(0.09, error=0.02), LIMIT, 10e9)
    assert held.outcome == "undecided"
    assert held.sure is None
    assert held.width == 0.0
    assert [edge.beyond for edge in held.possible] == [True, True]
    assert held_band(curves(0.13, error=0.02), LIMIT, 10e9).outcome == "exceeds"
    # exactly at the limit meets it, as in a verdict
    assert held_band(curves(0.08, error=0.02), LIMIT, 10e9).outcome == "meets"


def test_an_end_of_the_computed_band_is_no_edge():
    held = held_band(curves(notch(9.0, 0.1)), LIMIT, 9e9)
    low, high = held.sure
    assert (low.at, low.beyond) == (8e9, True)  # the limit itself is still met there
    assert (high.at, high.beyond) == (pytest.approx(10e9, abs=1.0), False)
    whole = held_band(curves(0.05), LIMIT, 9e9)
    assert whole.whole
    assert whole.at_least
    assert [edge.at for edge in whole.sure] == [8e9, 12e9]


def test_only_the_band_around_the_design_frequency_counts():
    two = np.minimum(abs(notch(9.0, 0.4)), abs(notch(11.0, 0.4)))
    low, high = held_band(curves(two), LIMIT, 10.9e9).sure
    assert (low.at, high.at) == pytest.approx((10.75e9, 11.25e9), abs=1.0)
    assert held_band(curves(two), LIMIT, 10e9).outcome == "exceeds"


def test_every_limit_counts():
    # leakage grows from -80 dB at 8 GHz by 10 dB a GHz: -50 dB at 11 GHz
    leaked = 10 ** ((-80 + 10 * (GHZ - 8)) / 10)
    both = Limit(return_loss_db=20.0, leakage_db=-50.0)
    low, high = held_band(curves(notch(10.0, 0.08), leaked=leaked), both, 10e9).sure
    assert low.at == pytest.approx(8.75e9, abs=1.0)
    assert high.at == pytest.approx(11e9, abs=1.0)


def test_a_design_frequency_between_two_points():
    held = held_band(curves([0.0, 0.2], ghz=np.array([8.0, 12.0])), LIMIT, 9e9)
    low, high = held.sure
    assert (low.at, low.beyond) == (8e9, True)
    assert (high.at, high.within) == (pytest.approx(10e9), 4e9)
    assert held_band(curves([0.0, 0.2], ghz=np.array([8.0, 12.0])), LIMIT, 11e9).sure is None


def test_one_frequency_alone():
    held = held_band(curves([0.05], ghz=np.array([9.3])), LIMIT, 9.3e9)
    assert held.outcome == "meets"
    assert held.whole
    assert held.width == 0.0


def test_without_a_limit_there_is_no_band():
    assert held_band(curves(0.05), None, 10e9) is None
    assert held_band(curves(0.05), Limit(), 10e9) is None
