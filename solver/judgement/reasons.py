"""Why a verdict is what it is, in sentences."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from solver.judgement.quantities import EXCEEDS, MEETS, Judged, Reading
from solver.studies.limits import NOTHING, WORDING, value_of, wording
from solver.waves.resonances import Resonance


def reading_sentence(reading: Reading, resonances: Sequence[Resonance]) -> str:
    """Say where one quantity stands against its limit."""
    name = WORDING[reading.quantity][0]
    ends = value_of(reading.quantity, [reading.lowest, reading.worst, reading.highest])
    best, value, worst = (wording(reading.quantity, float(end), reading.limit) for end in ends)
    near = _place(reading.at_hz, resonances)
    if reading.limit is None:
        return f"no limit was set; the worst {name} is {value} {near}"
    bound = wording(reading.quantity, reading.limit)
    if reading.quantity == "leakage_db" and worst == NOTHING:
        return f"nothing leaks: the part is closed, which meets {bound}"
    if reading.outcome == MEETS:
        return f"{name} {worst} at worst, bar included, {near}, meets {bound}"
    if reading.outcome == EXCEEDS:
        return f"{name} {best} at best, bar included, {near}, fails {bound}"
    near = _place(reading.highest_at, resonances)
    return (
        f"the limit {bound} on {name} lies inside the bar {near}, which runs from {best} to "
        f"{worst}: ask for a smaller s_error, or change the part"
    )


def _place(frequency: float, resonances: Sequence[Resonance]) -> str:
    """Where a value lies: near a frequency, or on the resonance that makes it."""
    about = [r for r in resonances if abs(r.frequency - frequency) <= 30 * r.width]
    if not about:
        return f"near {frequency / 1e9:.6g} GHz"
    found = min(about, key=lambda r: abs(r.frequency - frequency))
    return f"at the resonance of {found.frequency / 1e9:.8g} GHz (Q {found.quality:.3g})"


def accuracy_sentence(scattering: Judged, wanted: float | None) -> str:
    """Say that the accuracy was missed."""
    asked = f" of {wanted:.3g}" if wanted is not None else ""
    reached = float(np.max(scattering.error))
    return (
        f"the accuracy asked for{asked} was not reached: the bar is {reached:.3g} at its largest, "
        "and the outcome counts it in full"
    )


def unsampled_sentence(found: Resonance) -> str:
    """Say that a resonance is too sharp for its effect to be told."""
    return (
        f"a resonance at {found.frequency / 1e9:.8g} GHz has a Q of {found.quality:.2g} with "
        "lossless walls: what it does is not settled, and real walls damp it; give the "
        "study [walls] to have them counted"
    )
