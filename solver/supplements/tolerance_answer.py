"""What tolerances do to a part, as plain values and as text."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

from solver.judgement.sensitivities import Sensitivity, change_to_limit, slope_of_size
from solver.searches.varied_keys import key_in_words
from solver.studies.inches import in_unit_told, length_unit
from solver.studies.plain_values import plain
from solver.waves.scattering import vswr_of

if TYPE_CHECKING:
    from solver.judgement.tolerance_box import ToleranceBox

_OUTCOMES = {
    "meets": "every part within the tolerances meets the limit",
    "exceeds": "not every part within the tolerances meets the limit",
    "undecided": "whether every part within the tolerances meets the limit is undecided",
    "no limit": "no limit of reflection was set",
}
#: What follows on a change that alone uses up the limit.
USES_UP = " alone would use up the limit"


def tolerance_result_of(box: ToleranceBox) -> dict[str, Any]:
    """Return keys for the result: `sensitivities`, `with_tolerances` and `tolerances`."""
    return plain(
        {
            "sensitivities": [_described(box, each) for each in box.sensitivities],
            "with_tolerances": min(box.worst + box.error, 1.0),
            "tolerances": {
                "outcome": box.outcome,
                "worst_s11": box.worst,
                "worst_s11_error": box.error,
                "worst_vswr": float(vswr_of(min(box.worst, 1.0))),
                "at_hz": box.at_hz,
                "at": box.corner,
                "solved_there": box.checked,
                "yield": None if box.share is None else box.share[0],
                "yield_least": None if box.share is None else box.share[1],
                "yield_most": None if box.share is None else box.share[2],
            },
        }
    )


def _described(box: ToleranceBox, each: Sensitivity) -> dict[str, Any]:
    scale = each.tolerance.scale
    slope = np.abs(slope_of_size(box.s11, each.derivative)) * scale
    worst = int(np.argmax(slope))
    allowed = None
    if box.allowed is not None:
        allowed = change_to_limit(box.s11, each.derivative, box.allowed) / scale
    return {
        "key": each.tolerance.key,
        "tolerance": float(f"{each.tolerance.amount / scale:.12g}"),
        "per_unit": float(slope[worst]),
        "per_unit_error": float(each.error.max() * scale),
        "at_hz": float(box.frequency[worst]),
        "of_s11_per_unit": float(np.abs(each.derivative).max() * scale),
        "allowed": allowed,
    }


def headline_of(box: ToleranceBox) -> str:
    """Return the outcome in one sentence without its full stop."""
    return _OUTCOMES[box.outcome]


def sentences_of(box: ToleranceBox) -> list[str]:
    """Return the worst within the tolerances, and how many parts meet the limit."""
    corner = ", ".join(
        f"{key_in_words(key)[0]} {_amount(key, by, signed=True)}" for key, by in box.corner.items()
    )
    told = [
        f"worst |S11| {box.worst:.4g}, known to {box.error:.2g}, near "
        f"{box.at_hz / 1e9:.6g} GHz at {corner}; solved there: {box.checked:.4g}"
    ]
    if box.share is not None:
        share, least, most = (100 * s for s in box.share)
        told.append(
            f"of parts spread evenly over the tolerances {share:.3g} % meet the limit "
            f"(between {least:.3g} and {most:.3g} %, the bar counted)"
        )
    return told


def tolerance_text(box: ToleranceBox) -> str:
    """Return what tolerances do, as text for a terminal."""
    lines = [f"Tolerances: {headline_of(box)}"]
    lines += [f"  - {sentence}" for sentence in sentences_of(box)]
    for row in sensitivity_rows(box):
        uses = f"; {row[4]}" if row[4] else ""
        lines.append(f"  - {row[0]}: |S11| changes by at most {row[2]} (known to {row[3]}){uses}")
    return "\n".join(lines)


def sensitivity_rows(box: ToleranceBox) -> list[tuple[str, str, str, str, str]]:
    """Return a row for each dimension, lengths in the user's unit.

    Its name; how far it may be off; how fast the reflection changes with it, and how well that is
    known; what change of it alone would use up the limit, in words, empty without a limit.
    """
    rows = []
    for told in tolerance_result_of(box)["sensitivities"]:
        key = told["key"]
        one = in_unit_told(key, 1.0)
        unit = key_in_words(key)[1]
        per = f"per {length_unit() if unit == 'mm' else unit}" if unit else "for 1 more"
        room = _room_text(key, told["allowed"])
        rows.append(
            (
                key_in_words(key)[0],
                _amount(key, told["tolerance"]),
                f"{told['per_unit'] / one:.3g} {per}",
                f"{told['per_unit_error'] / one:.1g}",
                room,
            )
        )
    return rows


def _room_text(key: str, allowed: float | None) -> str:
    """What change alone uses up the limit, in words; empty without a limit."""
    if allowed is None:
        return ""
    if not allowed:
        return "the limit is exceeded without it"
    return _amount(key, allowed) + USES_UP


def _amount(key: str, value: float, *, signed: bool = False) -> str:
    """A change of a key in the user's unit."""
    unit = key_in_words(key)[1]
    number = f"{in_unit_told(key, value):{'+' if signed else ''}.3g}"
    return f"{number} {length_unit() if unit == 'mm' else unit}".rstrip()
