"""Sentences of a verdict, and the limit that a horn cannot have."""

import math
from types import SimpleNamespace

import numpy as np
import pytest

from geometries.shapes.bends import Bend
from geometries.shapes.guides import standard_guide
from geometries.shapes.horns import RectangularHorn
from solver.errors import UnsupportedPartError
from solver.judgement.quantities import Reading
from solver.judgement.reasons import accuracy_sentence, reading_sentence, unsampled_sentence
from solver.studies.limits import Limit, refuse_leakage
from solver.waves.resonances import Resonance

#: 26.02 dB are an amplitude of 0.05.
LIMIT = -20 * math.log10(0.05)


def reading(lowest, worst, highest, limit=LIMIT, quantity="return_loss_db"):
    return Reading(quantity, limit, worst, lowest, highest, 9.4e9, 9.5e9)


def test_a_limit_that_is_met_is_told_with_the_end_of_the_bar_that_is_worst():
    # 0.04 is 27.96 dB
    told = reading_sentence(reading(0.038, 0.039, 0.04), ())
    assert told == ("return loss 27.96 dB at worst, bar included, near 9.4 GHz, meets 26.02 dB")


def test_a_limit_that_is_exceeded_is_told_with_the_end_that_is_best():
    # 0.06 is 24.44 dB
    told = reading_sentence(reading(0.06, 0.061, 0.062), ())
    assert told == "return loss 24.44 dB at best, bar included, near 9.4 GHz, fails 26.02 dB"


def test_a_limit_inside_the_bar_asks_for_a_smaller_one():
    # 0.049 is 26.20 dB and 0.052 is 25.68 dB
    told = reading_sentence(reading(0.049, 0.0495, 0.052), ())
    assert told == (
        "the limit 26.02 dB on return loss lies inside the bar near 9.5 GHz, which runs from "
        "26.20 dB to 25.68 dB: ask for a smaller s_error, or change the part"
    )


def test_without_a_limit_the_worst_is_told():
    told = reading_sentence(reading(0.0, 1 / 3, 1.0, None, "vswr"), ())
    assert told == "no limit was set; the worst VSWR is 2 near 9.4 GHz"


def test_a_closed_part_leaks_nothing():
    told = reading_sentence(reading(0.0, 0.0, 0.0, -40.0, "leakage_db"), ())
    assert told == "nothing leaks: the part is closed, which meets -40.00 dB"


def test_the_nearest_resonance_is_named_within_thirty_half_widths():
    # half widths of 4.7 MHz and 0.47 MHz
    wide = Resonance(9.3e9, 0.0, 9.3e9 / 9.4e6, "")
    narrow = Resonance(9.401e9, 0.0, 1e4, "")
    told = reading_sentence(reading(0.06, 0.061, 0.062), (wide, narrow))
    assert "at the resonance of 9.401 GHz (Q 1e+04)" in told
    told = reading_sentence(reading(0.06, 0.061, 0.062), (wide,))
    assert "at the resonance of 9.3 GHz (Q 989)" in told
    far = Resonance(9.25e9, 0.0, 1e3, "")
    assert "near 9.4 GHz" in reading_sentence(reading(0.06, 0.061, 0.062), (far,))


def test_a_missed_accuracy_is_told_with_its_largest_bar():
    scattering = SimpleNamespace(error=np.array([1e-4, 3.24e-3, 2e-4]))
    assert accuracy_sentence(scattering, 1e-4) == (
        "the accuracy asked for of 0.0001 was not reached: the bar is 0.00324 at its largest, and "
        "the outcome counts it in full"
    )
    assert accuracy_sentence(scattering, None).startswith("the accuracy asked for was not")


def test_a_resonance_too_sharp_to_sample_is_told_with_what_to_do():
    told = unsampled_sentence(Resonance(9.123456789e9, 0.0, 3e8, ""))
    assert "9.1234568 GHz has a Q of 3e+08" in told and "give the study [walls]" in told


def test_a_horn_cannot_be_asked_not_to_leak():
    horn = RectangularHorn(standard_guide("WR-90"), 60e-3, 40e-3, 0.1)
    with pytest.raises(UnsupportedPartError) as told:
        refuse_leakage(horn, Limit(leakage_db=-40.0))
    assert str(told.value) == (
        "leakage_db = -40 has no meaning for a horn, which radiates on purpose; leave it out of "
        "the limits"
    )
    refuse_leakage(horn, Limit(vswr=1.1))
    refuse_leakage(horn, None)
    refuse_leakage(Bend(horn.guide, "E", 1.0, 0.02), Limit(leakage_db=-40.0))
