"""When a difference counts as one, by the probabilities it claims."""

import numpy as np
import pytest

from solver.measured.consistency import CANNOT_TELL, NO, YES, verdict_of
from solver.measured.noise import quantile

N, SIGMA = 51, 1e-3
COMPUTED = np.full((N, 1, 1), 0.3 + 0j)
NOISE = np.array([[SIGMA]])


def judged(off, bar=0.0, noise=NOISE, uncertainty=None):
    left = np.zeros((N, 1, 1), dtype=complex)
    left[17] = off
    return verdict_of(left, COMPUTED, np.full(N, bar), noise, uncertainty, N)


@pytest.mark.parametrize(
    ("off", "verdict"),
    # the largest of N complex readings exceeds r sigma by chance N exp(-r^2/2)
    [
        (np.sqrt(2 * np.log(N / 3e-3)), YES),
        (np.sqrt(2 * np.log(N / 1e-3)), CANNOT_TELL),
        (np.sqrt(2 * np.log(N / 1.1e-5)), CANNOT_TELL),
        (np.sqrt(2 * np.log(N / 0.9e-5)), NO),
    ],
)
def test_chance_that_noise_alone_does_it(off, verdict):
    assert judged(off * SIGMA)[0] == verdict
    # the bar of the computed values is no noise: it adds in full
    assert judged(off * SIGMA + 5e-3, bar=5e-3)[0] == verdict


def test_quantile_is_that_of_noise():
    rng = np.random.default_rng(94411)
    largest = np.abs(rng.normal(size=(4000, N)) + 1j * rng.normal(size=(4000, N))).max(axis=1)
    assert (largest > quantile(N, 0.1)).mean() == pytest.approx(0.1, abs=0.02)


@pytest.mark.parametrize(("off", "verdict"), [(2.9e-3, YES), (3.1e-3, NO)])
def test_a_given_uncertainty_is_a_bound(off, verdict):
    found = judged(off, bar=1e-3, noise=np.array([[np.nan]]), uncertainty=2e-3)
    assert found == (verdict, ())


def test_too_few_points_to_tell():
    verdict, (reason,) = judged(0.0, noise=np.array([[np.nan]]))
    assert verdict == CANNOT_TELL
    assert reason == (
        "51 measured points in the band do not show their noise, 12 do: give the uncertainty of "
        "the measurement"
    )


def test_a_bound_above_all_that_the_part_does_tells_nothing():
    verdict, (reason,) = judged(0.0, uncertainty=0.31)
    assert verdict == CANNOT_TELL and "any part would be consistent" in reason


def test_noise_below_the_digits_of_a_file_is_not_believed():
    # 1e-9 times the quantile of what a file rounds away
    assert judged(3e-9, noise=np.array([[1e-13]]))[0] == YES
