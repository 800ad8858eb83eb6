import numpy as np
import pytest

from solver.errors import StudyError
from solver.studies.band import MOST_POINTS, Band


def test_frequencies_include_both_ends():
    band = Band(8.2e9, 12.4e9, 5)
    np.testing.assert_allclose(band.frequencies, [8.2e9, 9.25e9, 10.3e9, 11.35e9, 12.4e9])
    assert band.centre == pytest.approx(10.3e9)


def test_listed_frequencies_are_kept_as_they_are():
    band = Band.at([9e9, 10e9, 12e9])
    np.testing.assert_array_equal(band.frequencies, [9e9, 10e9, 12e9])
    assert (band.start, band.stop, band.points) == (9e9, 12e9, 3)


@pytest.mark.parametrize(
    ("make", "words"),
    [
        (lambda: Band(12e9, 8e9), "below stop"),
        (lambda: Band(8e9, 8e9), "below stop"),
        (lambda: Band(8e9, 9e9, 1), "at least 2"),
        (lambda: Band(8e9, 9e9, MOST_POINTS + 1), "points"),
        (lambda: Band(float("nan"), 9e9), "finite"),
        (lambda: Band(0.0, 9e9), "> 0"),
        (lambda: Band.at([]), "no frequencies"),
        (lambda: Band.at([9e9, 9e9]), "ascend"),
    ],
)
def test_bands_that_hold_nothing_are_refused(make, words):
    with pytest.raises(StudyError, match=words):
        make()
