"""Words that must not hide what the numbers say."""

import numpy as np
import pytest

from solver.judgement.verdict import judge
from solver.output.wording import margin_text
from solver.studies.band import Band
from solver.studies.limits import Limit, amplitude_of, wording
from solver.waves.scattering import PortMode, ScatteringMatrix


def one_port(s11, error=0.0):
    s = np.asarray(s11, dtype=complex).reshape(-1, 1, 1)
    n = len(s)
    none = np.zeros(n)
    frequency = np.linspace(12e9, 13e9, n)
    mode = (PortMode(1, "TE10", 6.557e9),)
    return ScatteringMatrix(frequency, mode, s, np.full(n, error), none, none)


def test_a_margin_of_nearly_nothing_keeps_its_sign_and_size():
    allowed = amplitude_of("vswr", 1.2)
    verdict = judge(one_port([0.0, allowed - 1e-6, 0.0], 2e-6), Limit(vswr=1.2))
    assert verdict.outcome == "undecided"
    text = margin_text(verdict, Band(12e9, 13e9))
    assert "-0.00" not in text
    assert "-9.6e-05 dB" in text  # 20 log10(1 - 1e-6/0.0909)


def test_a_part_of_the_band_that_ends_just_inside_does_not_read_as_all_of_it():
    # rises from 0 to just above 0.1 at the very end
    verdict = judge(one_port([0.0, 0.05, 0.1 + 1e-8]), Limit(return_loss_db=20.0))
    text = margin_text(verdict, Band(12e9, 13e9))
    assert "to 13 GHz" not in text
    assert "12 to 12.9999999" in text


def test_a_closed_part_leaks_nothing():
    assert wording("leakage_db", -300.0) == "none"
    assert wording("leakage_db", -60.0) == "-60.00 dB"


@pytest.mark.parametrize(("limit", "words"), [(Limit(vswr=1.5), "over the whole band"), (None, "")])
def test_the_rest_of_a_margin(limit, words):
    verdict = judge(one_port([0.0, 0.1, 0.0]), limit)
    assert words in margin_text(verdict, Band(12e9, 13e9))
    assert (margin_text(verdict, Band(12e9, 13e9)) == "") == (limit is None)
