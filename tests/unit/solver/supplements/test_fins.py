"""Most of the heat over the band, its bar counted, warms the fins."""

from types import SimpleNamespace

import numpy as np
import pytest

from solver.studies.cooling import Cooling
from solver.supplements.cooling_answer import cooling_result_of, cooling_text

#: 100 W at most into 0.02 m2 at 10 W/(m2 K): 500 K for all of it.
COOLING = Cooling(100.0, 200e-4, 10.0, 25.0)


def assessment(power, bar):
    over_band = SimpleNamespace(dissipated_power=np.array(power), error=np.array(bar))
    heat = SimpleNamespace(fraction=np.array([10.0, 30.0]), densest=2e4)
    return SimpleNamespace(over_band=over_band, heat=heat)


def test_the_bar_of_s_counts_where_it_is_largest():
    """|S11| off by e moves 1 - |S11|^2 by 2 e + e^2 at most."""
    told = cooling_result_of(assessment([0.8, 0.79], [0.0, 0.01]), COOLING)["cooling"]
    share = 0.79 + 0.02 + 1e-4
    assert told["heat_w"] == pytest.approx(100 * share)
    assert told["rise_k"] == pytest.approx(500 * share)
    assert told["fin_temperature_celsius"] == pytest.approx(25 + 500 * share)
    # 30 per metre of 100 W are 3 W/mm, 2e4 per cubic metre 2 W/cm3
    assert told["largest_w_per_mm"] == pytest.approx(3.0)
    assert told["densest_w_per_cm3"] == pytest.approx(2.0)


def test_no_more_heat_than_power():
    told = cooling_result_of(assessment([0.999], [0.01]), COOLING)["cooling"]
    assert told["heat_w"] == 100.0
    text = cooling_text(assessment([0.999], [0.01]), COOLING)
    assert text.startswith(
        "Cooling: of 100 W at most 100 W turn to heat; fins of 200 cm2 with 10 W/(m2 K) stand at "
        "525 deg C in air of 25 deg C; the absorber takes up to 3 W/mm, 2 W/cm3 ("
    )


def test_what_does_not_absorb_is_not_cooled():
    assert cooling_result_of(SimpleNamespace(heat=None), COOLING) == {}
