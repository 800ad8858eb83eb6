"""Measured parts: a Touchstone file as a part of a run.

A file of two ports knows one mode at each. Between its frequencies the doubt is that of the
interpolation itself: how far leaving out frequencies moves the curve.
"""

from __future__ import annotations

import numpy as np

from geometries.arrays import Array, ComplexArray
from geometries.shapes.part import Guide
from solver.errors import StudyError
from solver.measured.touchstone_file import read_touchstone
from solver.runs.local_polynomials import interpolated
from solver.runs.sampled_part import SampledPart
from solver.studies.band import Band
from solver.studies.messages import one_line
from solver.studies.run_chain import MeasuredPart
from solver.waves.guide_modes import dominant_cutoff
from solver.waves.scattering import PortMode

_LEAST = 5
#: Falls of what is missed that are believed when twice as many frequencies are known; a margin.
_FASTEST, _SLOWEST, _MARGIN = 0.03, 0.7, 2.0
#: A part that gives back more than this of the power is none without a source.
_ACTIVE = 1.02


def measured(part: MeasuredPart, band: Band) -> SampledPart:
    """Read a measured part.

    Parameters
    ----------
    part : MeasuredPart
    band : Band

    Returns
    -------
    SampledPart

    Raises
    ------
    StudyError
        With one line, if the file cannot be read, has not one or two ports, or does not cover the
        band.
    """
    name = one_line(str(part.file))
    file = read_touchstone(part.file)
    frequency, s = file.frequency, file.s
    if s.shape[1] not in (1, 2):
        raise StudyError(f"{name}: {s.shape[1]} ports; a measured part of a run has one or two")
    if len(frequency) < _LEAST:
        raise StudyError(f"{name}: {len(frequency)} frequencies; at least {_LEAST} are needed")
    slack = 1e-9 * band.stop
    if band.start < frequency[0] - slack or band.stop > frequency[-1] + slack:
        raise StudyError(
            f"{name}: measured from {frequency[0] / 1e9:.6g} to {frequency[-1] / 1e9:.6g} GHz; the "
            f"band of the run is {band.start / 1e9:.6g} to {band.stop / 1e9:.6g} GHz: narrow it, "
            "or measure all of it"
        )
    power = (np.abs(s) ** 2).sum(axis=1).max()
    if not np.isfinite(power) or power > _ACTIVE:
        raise StudyError(
            f"{name}: gives back {power:.4g} of the power that enters; a passive part gives at "
            "most 1: is it the file, and are its ports normalised alike?"
        )
    error = _doubt(frequency, s)
    modes = tuple(_mode(part.guide, port) for port in range(1, s.shape[1] + 1))
    return SampledPart(
        port_modes=modes,
        frequency=frequency,
        s=s,
        error=error,
        leak_error=np.zeros(len(frequency)),
        doubt=0.0,
        reached=True,
        loses=True,
        spills=(),
        resonances=(),
    )


def _doubt(frequency: Array, s: ComplexArray) -> Array:
    """Bound on the error between the frequencies, at each (n,).

    How far every second frequency alone misses the others, times how much less that is than what
    every fourth misses, taken twice.
    """
    second, fourth = (_missed(frequency, s, step) for step in (2, 4))
    fall = np.clip(second.max() / max(float(fourth.max()), 1e-300), _FASTEST, _SLOWEST)
    widened = np.maximum(second, np.maximum(np.roll(second, 1), np.roll(second, -1)))
    return np.asarray(_MARGIN * fall * np.maximum(widened, 0.3 * second.max()))


def _missed(frequency: Array, s: ComplexArray, step: int) -> Array:
    """Largest change (n,) when only every `step`-th frequency and the last are known."""
    missed = np.zeros(len(frequency))
    for left in range(step):
        kept = np.union1d(np.arange(left, len(frequency), step), [0, len(frequency) - 1])
        guess = interpolated(frequency[kept], s[kept], frequency)
        off = np.abs(guess - s).reshape(len(frequency), -1).max(axis=1)
        missed = np.maximum(missed, off)
    return missed


def _mode(guide: Guide, port: int) -> PortMode:
    name = "TE10" if hasattr(guide, "broad_width") else "TE11"
    return PortMode(port, name, dominant_cutoff(guide))
