"""No digit is printed that the uncertainty does not allow, and none is lost."""

import numpy as np
import pytest

from solver.sheets.certain_digits import certain_text, uncertainty_text
from solver.sheets.sheet_files import latex_text


@pytest.mark.parametrize(
    ("value", "uncertainty", "text"),
    [
        (1.026327, 2e-5, "1.0263"),
        (39.70719, 1e-3, "39.71"),
        (1234.5, 20.0, "1200"),
        (-67.22349, 5e-4, "-67.223"),
        (6.557140379, 0.0, "6.557140"),
        (0.003, 0.01, "no certain digit"),
        (1.0, np.inf, "not known"),
    ],
)
def test_text(value, uncertainty, text):
    assert certain_text(value, uncertainty) == text


def test_last_digit_is_certain_to_one_unit():
    rng = np.random.default_rng(9127)
    for _ in range(500):
        value = rng.uniform(-1, 1) * 10 ** rng.uniform(-4, 4)
        uncertainty = abs(value) * 10 ** rng.uniform(-9, -1)
        text = certain_text(value, uncertainty)
        whole, _, decimals = text.partition(".")
        zeros = len(whole) - len(whole.rstrip("0")) if not decimals else 0
        unit = 10.0 ** (zeros if not decimals else -len(decimals))
        assert abs(float(text) - value) + uncertainty <= unit * (1 + 1e-9)


def test_bound_is_rounded_up():
    assert [uncertainty_text(u) for u in (1.234e-5, 0.0, 0.0101)] == ["1.3e-05", "0", "0.011"]


def test_latex_is_escaped():
    assert latex_text("50 % of |S11|_x") == r"50 \% of $|S_{11}|$\_x"
