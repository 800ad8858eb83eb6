"""What an endless row of a part's convolutions does: as plain values and in words."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Any

import numpy as np

if TYPE_CHECKING:
    from solver.judgement.assessment import Assessment
    from solver.periodic.periodic_guide import PeriodicGuide

_DB_PER_NEPER = 20 / math.log(10)


def described_periodic(guide: PeriodicGuide | None) -> dict[str, Any]:
    """Return the waves of the endless row by the key `periodic`; nothing for other parts.

    ``phase_per_period_deg`` holds the phase constant times the period at each listed frequency.
    """
    if guide is None:
        return {}
    loss = {} if guide.extra_loss is None else {"extra_loss_db": guide.extra_loss}
    return {
        "periodic": {
            "period_mm": guide.period * 1e3,
            "stopbands_ghz": [[low / 1e9, high / 1e9] for low, high in guide.stopbands],
            "stopband_error_ghz": guide.stopband_error / 1e9,
            "phase_per_period_deg": np.degrees(guide.phase),
            "phase_per_period_error_deg": np.degrees(guide.phase_error),
            "attenuation_per_period_db": _DB_PER_NEPER * guide.attenuation,
            **loss,
        }
    }


def periodic_lines(assessment: Assessment) -> list[str]:
    """Return sentences on the endless row; none for a part without convolutions."""
    guide = assessment.periodic
    if guide is None:
        return []
    first, last = np.degrees(guide.phase[[0, -1]])
    lines = [
        f"Convolutions: a wave gains {first:.4g} degrees from one to the next at the low end of "
        f"the band and {last:.4g} at the high end"
    ]
    if guide.stopbands:
        listed = ", ".join(f"{a / 1e9:.5g} to {b / 1e9:.5g} GHz" for a, b in guide.stopbands)
        lines.append(f"Stopbands of an endless row, in the band or close to it: {listed}")
    else:
        lines.append("An endless row has no stopband in the band or within 3 % of its ends")
    if guide.extra_loss is not None:
        lines.append(
            f"The walls take at most {guide.extra_loss.max():.3g} dB more than those of plain "
            "guide of the same length"
        )
    return lines
