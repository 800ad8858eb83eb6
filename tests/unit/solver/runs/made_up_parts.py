"""Parts of a run that were never solved: lossless two-ports with a reflection of a given size."""

import numpy as np

from geometries.shapes.guides import standard_guide
from solver.runs.sampled_part import SampledPart
from solver.waves.guide_modes import dominant_cutoff
from solver.waves.scattering import PortMode

GUIDE = standard_guide("WR-90")
BAND = np.linspace(8.2e9, 12.4e9, 43)


def obstacle(size, phase=0.3, error=0.0, slope=0.0):
    """A symmetric obstacle that reflects `size`, its phase rising by `slope` over the band."""
    frequency = np.linspace(BAND[0], BAND[-1], 65)
    turn = phase + slope * np.linspace(0.0, 1.0, 65)
    s11 = size * np.exp(1j * turn)
    s21 = 1j * np.sqrt(1 - size**2) * np.exp(1j * turn)
    s = np.array([[s11, s21], [s21, s11]]).transpose(2, 0, 1)
    modes = tuple(PortMode(port, "TE10", dominant_cutoff(GUIDE)) for port in (1, 2))
    none = np.zeros(65)
    return SampledPart(modes, frequency, s, none + error, none, 0.0, True, False, (), ())
