"""Steps between rectangular guides that share one pair of walls, by a Galerkin method.

The tangential electric field in the opening is expanded in Gegenbauer polynomials times the field
at a right-angled metal edge, r^(-1/3) across the edge or r^(2/3) along it; their overlaps with the
guides' modes are Bessel functions. Eight functions give four digits at shifts of 1 %.
"""

import math

import numpy as np
from scipy.special import jv

C = 299792458.0


def _overlaps(plane, width, centre, opening, modes, functions):
    """Overlaps (modes, functions) of normalised modes of [0, width] with the trial functions."""
    n = np.arange(modes) if plane == "E" else np.arange(1, modes + 1)
    order = 1 / 6 if plane == "E" else 7 / 6
    p = n * math.pi * opening / (2 * width)
    phase = n * math.pi * centre / width
    values = np.empty((modes, functions))
    for m in range(functions):
        with np.errstate(divide="ignore", invalid="ignore"):
            size = jv(m + order, p) / p**order
        at_zero = 1 / (2**order * math.gamma(1 + order)) if m == 0 else 0.0
        size = np.where(p == 0, at_zero, size)
        even = m % 2 == 0
        if plane == "E":
            wave = np.cos(phase) if even else -np.sin(phase)
        else:
            wave = np.sin(phase) if even else np.cos(phase)
        values[:, m] = (-1) ** (m // 2) * size * wave
    scale = np.where(n == 0, 1.0, math.sqrt(2)) / math.sqrt(width)
    return scale[:, None] * values


def step_matrix(plane, first, second, frequency, *, broad_width=None, modes=3000, functions=8):
    """Dominant-mode S11 and S21 at the plane of a step.

    Parameters
    ----------
    plane : "E" or "H"
    first, second : (float, float)
        Lowest and highest coordinate of each guide in the plane [m]; the opening, which is their
        overlap, must have a right-angled metal edge at both ends.
    broad_width : float
        Common broad width in the E-plane [m].
    """
    low, high = max(first[0], second[0]), min(first[1], second[1])
    opening = high - low
    k = 2 * math.pi * frequency / C
    if plane == "E":
        k = math.sqrt(k**2 - (math.pi / broad_width) ** 2)
    loads, dominant = np.zeros((functions, functions), complex), []
    for start, stop in (first, second):
        width = stop - start
        centre = 0.5 * (low + high) - start
        count = int(modes * width / opening)
        v = _overlaps(plane, width, centre, opening, count, functions)
        n = np.arange(count) if plane == "E" else np.arange(1, count + 1)
        square = k**2 - (n * math.pi / width) ** 2 + 0j
        beta = np.sqrt(square)
        beta = np.where(beta.imag > 0, -beta, beta)
        y = (k**2 / beta if plane == "E" else beta) / k
        loads += (v * y[:, None]).T @ v
        dominant.append((v[0], y[0].real))
    (v1, y1), (v2, y2) = dominant
    field = np.linalg.solve(loads, 2 * y1 * v1)
    return field @ v1 - 1, field @ v2 * math.sqrt(y2 / y1)
