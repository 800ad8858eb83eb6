"""How far closed forms are from what was computed, in words, for terminal and report alike."""

from __future__ import annotations

from collections.abc import Iterable
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from geometries.arrays import Array
from solver.waves.scattering import SMALLEST_AMPLITUDE

if TYPE_CHECKING:
    from solver.closed_forms.estimates import Estimate
    from solver.waves.scattering import ScatteringMatrix


def leakage_rows(
    estimates: Iterable[Estimate], scattering: ScatteringMatrix
) -> list[tuple[str, str, str, str]]:
    """Return rows of (name, worst leakage, furthest off, in its range) for each closed form.

    Parameters
    ----------
    estimates : iterable of Estimate
        Those without a leakage are left out.
    scattering : ScatteringMatrix

    Returns
    -------
    list of tuple of str
        With what was computed as the first row; empty if nothing leaks or no form says how much.
    """
    given = [(e, e.leaked_power) for e in estimates if e.leaked_power is not None]
    if not given or not scattering.leaked_power.any():
        return []
    ghz, computed = scattering.frequency / 1e9, scattering.leakage_db
    rows = [("computed", f"{computed.max():.1f} dB", "", "")]
    for estimate, leaked in given:
        decibels = _decibels(leaked)
        off = np.abs(decibels - computed)
        inside = estimate.leakage_in_range
        furthest = f"{off.max():.1f} dB at {ghz[off.argmax()]:.4g} GHz"
        if inside is not None and inside.any() and not inside.all():
            furthest += f"; {off[inside].max():.1f} dB in its range"
        rows.append((estimate.name, f"{decibels.max():.1f} dB", furthest, range_text(inside, ghz)))
    return rows


def range_text(inside: NDArray[np.bool_] | None, ghz: Array) -> str:
    """Return where a form is in its range: yes, no, or the stretches of the band in GHz."""
    if inside is None or not inside.any():
        return "no"
    if inside.all():
        return "yes"
    edges = np.flatnonzero(np.diff(np.concatenate([[0], inside.astype(int), [0]])))
    runs = zip(edges[::2], edges[1::2] - 1, strict=True)
    return ", ".join(f"{ghz[a]:.4g} to {ghz[b]:.4g}" for a, b in runs) + " GHz"


def _decibels(power: Array) -> Array:
    return np.asarray(10.0 * np.log10(np.maximum(power, SMALLEST_AMPLITUDE**2)))
