import pytest

from solver.errors import StudyError
from solver.studies.limits import Limit, amplitude_of, value_of, wording


@pytest.mark.parametrize("quantity", ["vswr", "return_loss_db", "leakage_db"])
def test_amplitudes_and_values_are_inverse(quantity):
    for amplitude in (1e-6, 0.01, 0.9):
        value = float(value_of(quantity, amplitude))
        assert amplitude_of(quantity, value) == pytest.approx(amplitude, rel=1e-9)


# Arithmetic of the two definitions: 20 log10(2.05/0.05), and so on.
@pytest.mark.parametrize(("vswr", "loss"), [(1.02, 40.09), (1.05, 32.26), (1.10, 26.44)])
def test_vswr_and_return_loss_agree(vswr, loss):
    assert value_of("return_loss_db", amplitude_of("vswr", vswr)) == pytest.approx(loss, abs=5e-3)


@pytest.mark.parametrize(
    ("limit", "words"),
    [
        ({"vswr": 1.0}, "above 1"),
        ({"vswr": float("nan")}, "finite"),
        ({"return_loss_db": -3.0}, "above 0 dB"),
        ({"leakage_db": 0.0}, "below 0 dB"),
    ],
)
def test_impossible_limits_are_refused(limit, words):
    with pytest.raises(StudyError, match=words):
        Limit(**limit)


def test_limit_in_words():
    assert Limit(vswr=1.05, leakage_db=-60).text == "VSWR <= 1.05 and leakage <= -60.00 dB"
    assert Limit().text == "no limit was set"


@pytest.mark.parametrize(
    ("quantity", "value", "beside", "text"),
    [
        ("return_loss_db", 31.9999, 32.0, "31.99990 dB"),
        ("return_loss_db", 31.94, 32.0, "31.94 dB"),
        ("return_loss_db", 32.0, 32.0, "32.00 dB"),
        ("leakage_db", -60.00004, -60.0, "-60.00004 dB"),
        ("vswr", 1.0500001, 1.05, "1.0500001"),
        ("vswr", 1.0727, 1.0727, "1.0727"),
        ("vswr", 2e6, 1.05, "over 1e+06 (total reflection)"),
    ],
)
def test_a_value_does_not_seem_to_equal_the_limit_beside_it(quantity, value, beside, text):
    found = wording(quantity, value, beside=beside)
    assert found == text
    assert (found == wording(quantity, beside)) is (value == beside)
