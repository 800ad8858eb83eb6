"""A comparison with a measurement, as values and in words."""

import json
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from solver.measured.causes import Cause
from solver.measured.comparison import MeasuredComparison, compare
from solver.measured.planes import PlaneFit
from solver.measured.touchstone_file import Measurement
from solver.studies.band import Band
from solver.supplements.measurement_answer import (
    headline_of,
    measurement_result_of,
    measurement_text,
    sentences_of,
)
from tests.unit.solver.conftest import made_up_scattering

FREQUENCY = np.array([9e9, 9.5e9, 10e9])
COMPUTED = np.full((3, 2, 2), 0.5 + 0j)
MEASURED = COMPUTED.copy()
MEASURED[1, 1, 0] += 0.03
ECHO = Cause("reflection", 0.01, 2e-3, 0.237, 1e-3, 1, 0.62, "one more reflection of 0.01")


def comparison(**changes):
    given = {
        "measurement": Measurement(Path("part.s2p"), FREQUENCY, MEASURED),
        "labels": ("1:TE10", "2:TE10"),
        "frequency": FREQUENCY,
        "measured": MEASURED,
        "computed": COMPUTED,
        "bar": np.array([1e-3, 2e-3, 1e-3]),
        "noise": np.full((2, 2), 1e-3),
        "given": None,
        "margin": 4.0,
        "consistent": "no",
        "planes": "fitted",
        "fit": PlaneFit(np.array([2.3e-3, -1.1e-3]), np.zeros(2), 1.2e-3, 0.0, 0.0),
        "shift_bound": np.array([1e-5, np.inf]),
        "total_bound": 2e-6,
        "swapped": False,
        "causes": (ECHO, Cause("length", 1.2e-3, 1e-5, None, None, None, 1.02, "it is longer")),
        "reasons": ("a reason",),
    }
    return MeasuredComparison(**(given | changes))


def test_values():
    told = measurement_result_of(comparison())
    json.dumps(told, allow_nan=False)
    assert (told["file"], told["consistent"]) == ("part.s2p", "no")
    assert told["largest_difference"] == pytest.approx(0.03)
    assert (told["element"], told["at_hz"]) == ("S21", 9.5e9)
    # the bar of 2e-3 and four deviations of noise
    assert told["uncertainty_there"] == pytest.approx(6e-3)
    assert told["shift_mm"] == pytest.approx([2.3, -1.1])
    assert told["shift_uncertainty_mm"] == [pytest.approx(0.01), None]
    assert told["shift_sum_mm"] == pytest.approx(1.2)
    echo, length = told["difference_points_to"]
    assert (echo["value_abs"], echo["at_mm"], echo["from_port"]) == (0.01, 237.0, 1)
    assert (length["value_mm"], length["uncertainty_mm"]) == pytest.approx((1.2, 0.01))
    assert "at_mm" not in length


def test_given_planes_are_not_shifted():
    told = measurement_result_of(comparison(planes="given"))
    assert told["shift_mm"] == told["shift_uncertainty_mm"] == [0.0, 0.0]
    assert told["shift_sum_mm"] == told["shift_sum_uncertainty_mm"] == 0.0
    assert "taken as those of the study" in measurement_text(comparison(planes="given"))


def test_a_given_uncertainty_takes_the_place_of_the_noise():
    bounded = comparison(given=5e-3, noise=np.full((2, 2), np.nan))
    told = measurement_result_of(bounded)
    assert (told["measured_uncertainty"], told["noise"]) == (5e-3, None)
    assert told["uncertainty_there"] == pytest.approx(7e-3)
    assert not any("noise" in sentence for sentence in sentences_of(bounded))


def test_elements_of_many_modes_are_named_by_them():
    s = np.zeros((3, 3, 3), dtype=complex)
    off = s.copy()
    off[0, 2, 1] = 0.1
    told = measurement_result_of(
        comparison(
            labels=("1:TE10", "1:TE20", "2:TE10"),
            measured=off,
            computed=s,
            noise=np.full((3, 3), 1e-3),
        )
    )
    assert told["element"] == "S(2:TE10,1:TE20)"


@pytest.mark.parametrize(
    ("outcome", "headline"),
    [
        ("yes", "The measured part is consistent with the computed one"),
        ("no", "The measured part is not the computed one"),
        ("cannot tell", "Whether the measured part is the computed one cannot be told"),
    ],
)
def test_headline(outcome, headline):
    assert headline_of(comparison(consistent=outcome)) == headline


def test_words():
    lines = measurement_text(comparison()).splitlines()
    assert lines == [
        "Measured: part.s2p",
        "The measured part is not the computed one.",
        "  - the largest difference, 0.03, is in S21 at 9.5 GHz, where both uncertainties together "
        "are 0.006",
        "  - 3 points from 9 to 10 GHz are compared",
        "  - the measured planes lie outside those of the study by: port 1 +2.3 mm, known to "
        "0.01 mm, port 2 -1.1 mm, which this trace does not tell; together +1.2 mm, known to "
        "0.002 mm",
        "  - a reason",
        "  - the noise of the file is 0.001 (standard deviation of real and imaginary part)",
        "The difference between file and study looks like:",
        "  - one more reflection of 0.01 (62 % of it)",
        # no cause explains more than all
        "  - it is longer (100 % of it)",
    ]
    alone = measurement_text(replace(comparison(), causes=()))
    assert "looks like" not in alone


def test_an_uncertainty_that_is_not_known_is_no_number():
    """Eleven points do not show their noise."""

    def said(points, **given):
        computed = made_up_scattering(Band(8.2e9, 12.4e9, points))
        noise = np.random.default_rng(3).normal(size=computed.s.shape) * 1e-3
        measurement = Measurement(Path("riser.s2p"), computed.frequency, computed.s + noise)
        return measurement_text(compare(computed, measurement, axis_length=0.05, **given))

    text = said(11)
    assert "cannot be told" in text and "nan" not in text
    assert "where both uncertainties" not in text
    assert "where both uncertainties together are" in said(11, uncertainty=0.01)
    assert "where both uncertainties together are" in said(101)
