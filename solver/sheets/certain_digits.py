"""A value with no more digits than are certain."""

from __future__ import annotations

import math

#: More significant digits than this are of no use to a reader.
MOST_DIGITS = 7


def certain_text(value: float, uncertainty: float) -> str:
    """Return a value as text whose last digit is certain.

    Parameters
    ----------
    value : float
    uncertainty : float
        Bound on its error, in the same unit.

    Returns
    -------
    str
        Rounded to a power of ten that is at least twice the uncertainty, so that the value lies
        within one unit of the last digit; ``"no certain digit"`` where that leaves none.

    Examples
    --------
    >>> certain_text(1.026327, 2e-5), certain_text(39.70719, 1e-3), certain_text(1234.5, 20.0)
    ('1.0263', '39.71', '1200')
    >>> certain_text(0.003, 0.01)
    'no certain digit'
    """
    if not (math.isfinite(value) and math.isfinite(uncertainty)):
        return "not known"
    size = max(abs(value), 1e-300)
    least = 10.0 ** (math.floor(math.log10(size)) + 1 - MOST_DIGITS)
    step = math.ceil(math.log10(max(2 * uncertainty, least)) - 1e-9)
    rounded = round(value, -step)
    if rounded == 0 and value != 0:
        return "no certain digit"
    return f"{rounded:.{max(-step, 0)}f}"


def uncertainty_text(uncertainty: float) -> str:
    """Return a bound as text, rounded up to two digits.

    Examples
    --------
    >>> uncertainty_text(1.234e-5), uncertainty_text(0.0)
    ('1.3e-05', '0')
    """
    if uncertainty == 0 or not math.isfinite(uncertainty):
        return f"{uncertainty:g}"
    step = math.floor(math.log10(uncertainty)) - 1
    return f"{math.ceil(uncertainty / 10.0**step - 1e-9) * 10.0**step:.2g}"
