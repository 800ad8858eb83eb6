"""What solving a long part costs, before it is solved.

The longer a part, the more of its resonances lie in the band, each of which the reduced model has
to know and the search between the points has to follow.
"""

from __future__ import annotations

import math
from typing import Any

import numpy as np

from geometries.shapes.guides import RectangularGuide
from solver.errors import UnsupportedPartError
from solver.studies.band import Band
from solver.waves.guide_modes import entering_cutoff, phase_constant

#: A part this long, in half guide wavelengths gained over the band, takes about ten minutes.
MOST_HALF_WAVES = 150.0


def half_waves(part: Any, band: Band) -> float:
    """Return how many more half guide wavelengths fit into a part at the top of a band.

    Parameters
    ----------
    part : object
    band : Band

    Returns
    -------
    float
        About the number of its resonances in the band; 0 in circular guide and below cutoff.
    """
    if not isinstance(part.guide, RectangularGuide) or band.start <= entering_cutoff(part):
        return 0.0
    low, high = np.asarray(phase_constant(part.guide, [band.start, band.stop]))
    return float(part.axis_length * (high - low) / math.pi)


def seconds_in_plane(count: float) -> float:
    """Return about how long a part with so many half waves takes in its plane [s].

    Notes
    -----
    Fitted to E-plane bends in WR-90 on one core of a two-core machine.
    """
    return 0.7 + 0.025 * count**2


def check_length(part: Any, band: Band) -> None:
    """Refuse a part so long that nobody would wait for it.

    Raises
    ------
    UnsupportedPartError
    """
    count = half_waves(part, band)
    if count > MOST_HALF_WAVES:
        length = part.axis_length
        raise UnsupportedPartError(
            f"a {part.kind} {length * 1e3:.0f} mm long gains {count:.0f} half guide wavelengths "
            f"over the band and would take about {seconds_in_plane(count) / 60:.0f} minutes; at "
            f"most {MOST_HALF_WAVES:.0f} unless more are asked for (--however-long): narrow the "
            "band, or take a shorter part"
        )
