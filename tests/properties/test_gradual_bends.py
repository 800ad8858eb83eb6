"""The radius that `find_gradual` gives, against modes of the curved guide (no finite elements)."""

import math

import numpy as np
import pytest

from geometries.shapes.guides import standard_guide
from solver.errors import StudyError
from solver.searches.gradual import find_gradual
from solver.studies.band import Band
from solver.studies.limits import Limit
from tests.references.curved_guide_modes import bend_scattering

GUIDE = standard_guide("WR-90")
BAND = Band(8.2e9, 12.4e9, 21)


def worst_by_modes(plane, radius):
    width = GUIDE.narrow_height if plane == "E" else GUIDE.broad_width
    return max(
        abs(bend_scattering(plane, width, GUIDE.broad_width, radius, math.pi / 2, f, 40)[0])
        for f in BAND.frequencies
    )


@pytest.mark.slow
@pytest.mark.parametrize("plane", ["E", "H"])
@pytest.mark.parametrize("vswr", [1.05, 1.01])
def test_radius_is_found_to_a_tenth_of_a_millimetre(plane, vswr):
    found = find_gradual(GUIDE, plane, math.pi / 2, BAND, Limit(vswr=vswr))
    limit = (vswr - 1) / (vswr + 1)
    assert found.uncertainty < 1e-4
    assert worst_by_modes(plane, found.smallest - 1e-4) > limit
    assert worst_by_modes(plane, found.smallest + 1e-4) < limit
    larger = found.smallest + 1e-4 + np.linspace(0.0, 25e-3, 4)
    assert all(worst_by_modes(plane, radius) < limit for radius in larger)
    # the first radius that meets the limit may lie at the bottom of a dip that barely does
    assert found.first_met <= found.smallest + 1e-4
    assert worst_by_modes(plane, found.first_met) < limit + 2e-5
    smaller = np.linspace(found.sizes[0], found.first_met - 1e-4, 4)
    assert all(worst_by_modes(plane, radius) > limit for radius in smaller)


def test_leakage_alone_is_no_limit_for_a_radius():
    with pytest.raises(StudyError, match="vswr or return_loss_db"):
        find_gradual(GUIDE, "E", 1.0, BAND, Limit(leakage_db=-60.0))
