"""How much of a measured trace is noise, read from the trace itself."""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray
from scipy.special import comb

#: Fewest points from which noise can be told.
FEWEST_POINTS = 12
#: Order of the differences, which leave little of a smooth trace and all of its noise.
_ORDER = 3


def noise_of(trace: NDArray[np.complex128]) -> float:
    """Standard deviation of the noise of a trace, of its real and imaginary part each [-].

    Parameters
    ----------
    trace : (n,) complex array
        Measured less computed, at frequencies that follow each other.

    Returns
    -------
    float
        NaN for fewer than 12 points.

    Notes
    -----
    The smaller of two medians, each of which something that is no noise can raise but not the
    other as well: that of third differences is blind to smooth traces and to a few bad points;
    that of the spectrum (with a Hann window) to ripple of any period, which fills few of its
    lines. Median over mean of an exponential distribution is ln 2.
    """
    n = len(trace)
    if n < FEWEST_POINTS:
        return math.nan
    differences = np.diff(trace, _ORDER)
    gain = float(sum(comb(_ORDER, i) ** 2 for i in range(_ORDER + 1)))
    # np.median of |x|^2 of a complex normal x of deviation s each way: 2 s^2 ln 2
    steps = float(np.median(np.abs(differences) ** 2)) / gain
    window = np.hanning(n + 2)[1:-1]
    lines = np.abs(np.fft.fft((trace - trace.mean()) * window)) ** 2 / float((window**2).sum())
    return math.sqrt(min(steps, float(np.median(lines))) / (2 * math.log(2)))


def quantile(count: int, chance: float) -> float:
    """What the largest of so many noisy readings exceeds by chance, over the deviation.

    Parameters
    ----------
    count : int
        Readings; each a complex number whose real and imaginary part have the deviation 1.
    chance : float
        Probability that at least one exceeds it.
    """
    return math.sqrt(2 * math.log(max(count, 1) / chance))
