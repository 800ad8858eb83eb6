"""Whether a difference between measured and computed values is within both uncertainties."""

from __future__ import annotations

import numpy as np

from geometries.arrays import Array, ComplexArray
from solver.measured.noise import FEWEST_POINTS, quantile

YES, NO, CANNOT_TELL = "yes", "no", "cannot tell"

#: Chance that noise alone makes consistent values seem doubtful, and inconsistent.
DOUBT, _REFUSAL = 2e-3, 1e-5
#: Deviations below this are round-off of the file [-].
FINEST = 1e-9


def verdict_of(
    left: ComplexArray,
    computed: ComplexArray,
    bar: Array,
    noise: Array,
    uncertainty: float | None,
    readings: int,
) -> tuple[str, tuple[str, ...]]:
    """Judge what is left of a difference, and say why.

    Parameters
    ----------
    left : (n, m, m) complex array
        Measured less computed values, with the planes in place.
    computed : (n, m, m) complex array
    bar : (n,) array
        Bound on the error of the computed values.
    noise : (m, m) array
        Of the file; NaN where it does not show any.
    uncertainty : float or None
        Bound on the error of every measured value, where one is given.
    readings : int
        How many values are looked at; the largest of them is judged.

    Returns
    -------
    verdict : str
        `YES`, `NO` or `CANNOT_TELL`.
    reasons : tuple of str
    """
    beyond = np.abs(left) - bar[:, None, None]
    if uncertainty is None and np.isnan(noise).any():
        return CANNOT_TELL, (
            f"{len(bar)} measured points in the band do not show their noise, {FEWEST_POINTS} do: "
            "give the uncertainty of the measurement",
        )
    if uncertainty is not None:
        scale, doubt, refusal = np.full_like(noise, uncertainty), 1.0, 1.0
    else:
        scale = np.maximum(noise, FINEST)
        doubt, refusal = quantile(readings, DOUBT), quantile(readings, _REFUSAL)
    worst = float((beyond / scale).max())
    if worst > refusal:
        if uncertainty is not None:
            return NO, ()
        return NO, (
            "only the noise of the file counts as its uncertainty; what the calibration leaves "
            "has to be given",
        )
    if worst > doubt:
        return CANNOT_TELL, ("the largest difference may still be noise: average more sweeps",)
    within = bar[:, None, None] + doubt * scale
    if not (within < np.abs(computed)).any():
        return CANNOT_TELL, (
            "the uncertainty is larger than anything the part does: any part would be consistent",
        )
    return YES, ()
