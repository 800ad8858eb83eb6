import numpy as np
import pytest

from solver.judgement.verdict import judge
from solver.studies.limits import Limit, amplitude_of
from solver.waves.resonances import Resonance
from solver.waves.scattering import PortMode, ScatteringMatrix


def two_port(s11, error=1e-5, leaked=0.0, names=("TE10",)):
    """A lossless reciprocal two-port with the given reflection at three frequencies."""
    s11 = np.asarray(s11, dtype=complex)
    modes = tuple(PortMode(p, name, 6.557e9) for p in (1, 2) for name in names)
    s = np.zeros((len(s11), len(modes), len(modes)), dtype=complex)
    out = len(names)
    s[:, 0, 0] = s[:, out, out] = s11
    s[:, 0, out] = s[:, out, 0] = 1j * np.sqrt(1 - np.abs(s11) ** 2)
    n = len(s11)
    return ScatteringMatrix(
        np.linspace(8e9, 12e9, n), modes, s, np.full(n, error), np.full(n, leaked), np.zeros(n)
    )


# VSWR 1.05 is |S11| = 0.05/2.05 = 0.0243902; return loss 40 dB is |S11| = 0.01.
@pytest.mark.parametrize(
    ("reflection", "error", "outcome"),
    [
        (0.0240, 1e-5, "meets"),
        (0.0250, 1e-5, "exceeds"),
        (0.0240, 1e-3, "undecided"),
        (0.0250, 1e-3, "undecided"),
        (0.0, 0.0, "meets"),
        (1.0, 1e-5, "exceeds"),
    ],
)
def test_vswr_limit_is_judged_with_the_bar(reflection, error, outcome):
    verdict = judge(two_port([0.001, reflection, 0.002], error), Limit(vswr=1.05))
    assert verdict.outcome == outcome
    assert verdict.quantity == "vswr"
    assert verdict.limit == 1.05
    assert verdict.lowest <= verdict.worst <= verdict.highest
    assert np.isfinite([verdict.lowest, verdict.worst, verdict.highest]).all()


def test_worst_value_is_in_the_limits_own_quantity():
    verdict = judge(two_port([0.001, 0.01, 0.002], 1e-4), Limit(return_loss_db=32.0))
    assert verdict.worst == pytest.approx(40.0, abs=1e-9)
    assert (verdict.lowest, verdict.highest) == pytest.approx(
        (-20 * np.log10(0.0101), -20 * np.log10(0.0099)), rel=1e-12
    )
    assert verdict.at_hz == 10e9
    assert verdict.exit_code == 0


def test_the_quantity_with_the_least_room_is_reported():
    # 0.02 is 82 % of VSWR 1.05's reflection but twice that of 40 dB.
    verdict = judge(two_port([0.02]), Limit(vswr=1.05, return_loss_db=40.0))
    assert (verdict.outcome, verdict.quantity) == ("exceeds", "return_loss_db")
    assert len(verdict.reasons) == 2
    assert "VSWR" in verdict.reasons[1]
    assert "meets 1.05" in verdict.reasons[1]


def test_certain_failure_outweighs_a_doubtful_one():
    doubtful_leak = two_port([0.05], error=2e-2, leaked=1e-4)
    verdict = judge(doubtful_leak, Limit(vswr=1.05, leakage_db=-41.0))
    assert (verdict.outcome, verdict.quantity) == ("exceeds", "vswr")


def test_leakage_is_power_over_incident_power():
    leaking = two_port([0.0], error=1e-5, leaked=1e-5)
    verdict = judge(leaking, Limit(leakage_db=-60.0))
    assert verdict.outcome == "exceeds"
    assert verdict.worst == pytest.approx(-50.0, abs=1e-9)
    assert judge(two_port([0.0]), Limit(leakage_db=-60.0)).outcome == "meets"


@pytest.mark.parametrize(
    ("reflection", "outcome", "code"),
    [(0.0001, "meets", 0), (0.3, "exceeds", 1), (0.0244, "undecided", 3)],
)
def test_a_missed_accuracy_is_told_and_the_bar_alone_decides(reflection, outcome, code):
    verdict = judge(two_port([reflection], 1e-3), Limit(vswr=1.05), False, wanted_error=1e-4)
    assert (verdict.outcome, verdict.exit_code) == (outcome, code)
    assert "0.0001 was not reached: the bar is 0.001" in verdict.reasons[1]


@pytest.mark.parametrize(("reached", "code"), [(True, 0), (False, 3)])
def test_without_a_limit_only_the_accuracy_can_fail(reached, code):
    verdict = judge(two_port([0.01, 0.02]), None, reached)
    assert (verdict.outcome, verdict.exit_code) == ("no limit", code)
    assert (verdict.margin, verdict.margin_db, verdict.holds) == (None, None, ())
    assert verdict.worst == pytest.approx(1.02 / 0.98, rel=1e-12)
    assert "no limit was set" in verdict.reasons[0]


def test_the_margin_is_that_of_the_end_of_the_bar_that_decides():
    # VSWR of |S11| = 0.0105 is 1.0105/0.9895; the limit allows 0.05/2.05
    met = judge(two_port([0.01], 5e-4), Limit(vswr=1.05))
    assert met.margin == pytest.approx(1.05 - 1.0105 / 0.9895, rel=1e-9)
    assert met.margin_db == pytest.approx(20 * np.log10(0.05 / 2.05 / 0.0105), rel=1e-9)
    missed = judge(two_port([0.03], 1e-3), Limit(return_loss_db=40.0))
    assert missed.margin == pytest.approx(-20 * np.log10(0.029) - 40.0, abs=1e-9)
    assert missed.margin_db == pytest.approx(missed.margin, abs=1e-9)


def test_the_part_of_the_band_that_holds_ends_where_a_straight_line_crosses():
    # |S11| + bar of 0.005, 0.015, 0.005 at 8, 10, 12 GHz; 0.01 is crossed half way
    verdict = judge(two_port([0.004, 0.014, 0.004], 1e-3), Limit(return_loss_db=40.0))
    assert verdict.holds == (
        (8e9, pytest.approx(9e9, abs=1.0)), (pytest.approx(11e9, abs=1.0), 12e9)
    )  # fmt: skip


def test_no_digits_hide_a_fail():
    # 1.07270004 and 1.0727 would both read 1.0727
    allowed = amplitude_of("vswr", 1.0727)
    verdict = judge(two_port([allowed + 2e-8], 1e-9), Limit(vswr=1.0727))
    assert verdict.outcome == "exceeds"
    assert "VSWR 1.0727 at" not in verdict.reasons[0]
    assert "1.0727000" in verdict.reasons[0]


def sharp(quality, frequency=10e9, driven=True):
    return Resonance(frequency, 10.0, quality, "", driven)


def test_a_resonance_whose_effect_cannot_be_told_leaves_nothing_met():
    verdict = judge(two_port([0.001]), Limit(vswr=1.05), unsampled=(sharp(1e9),))
    assert verdict.outcome == "undecided"
    assert "10 GHz has a Q of 1e+09" in verdict.reasons[1]
    failed = judge(two_port([0.5]), Limit(vswr=1.05), unsampled=(sharp(1e9),))
    assert failed.outcome == "exceeds"


def test_the_resonance_that_decides_is_named():
    verdict = judge(two_port([0.0, 0.9, 0.0]), Limit(vswr=1.05), resonances=(sharp(1e4),))
    assert "at the resonance of 10 GHz (Q 1e+04)" in verdict.reasons[0]


def test_other_propagating_modes_are_pointed_out():
    verdict = judge(two_port([0.01], names=("TE10", "TE20")), None)
    assert "TE20" in verdict.reasons[-1]


def test_limit_at_the_very_end_of_the_bar_is_met():
    reflection = amplitude_of("vswr", 1.05)
    assert judge(two_port([reflection], 0.0), Limit(vswr=1.05)).outcome == "meets"


def test_a_closed_part_leaks_nothing_in_words():
    verdict = judge(two_port([0.01, 0.02]), Limit(leakage_db=-60.0))
    assert verdict.outcome == "meets"
    assert verdict.text == "nothing leaks"
    assert verdict.reasons[0] == "nothing leaks: the part is closed, which meets -60.00 dB"
