"""Parts, bands and answers in words, for the terminal and for reports alike."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Any

from solver.result_json import described_component

if TYPE_CHECKING:
    from solver.band import Band
    from solver.gradual import GradualResult
    from solver.verdict import Verdict

HEADLINES = {
    "meets": "Meets the limit",
    "exceeds": "Exceeds the limit",
    "undecided": "Undecided",
}


def headline(verdict: Verdict) -> str:
    """Return the outcome in a few words."""
    if verdict.limit is None and verdict.outcome == "meets":
        return "No limit was set"
    return HEADLINES[verdict.outcome]


def band_text(band: Band) -> str:
    """Return a band as text, ``"8.2 to 12.4 GHz, 201 points"``."""
    if band.points == 1:
        return f"{band.start / 1e9:.6g} GHz"
    return f"{band.start / 1e9:.6g} to {band.stop / 1e9:.6g} GHz, {band.points} points"


def part_text(component: Any) -> str:
    """Return a part in words, ``"bend in WR-90: plane E, angle 37 deg, mean radius 45 mm"``."""
    described = described_component(component)
    kind = described.pop("kind")
    sizes = ", ".join(_dimension_text(key, value) for key, value in described.items())
    return f"{kind} in {component.guide.label}: {sizes}"


def _dimension_text(key: str, value: Any) -> str:
    name, _, unit = key.rpartition("_")
    if unit not in ("mm", "deg"):
        return f"{key.replace('_', ' ')} {value}"
    return f"{name.replace('_', ' ')} {value:.6g} {unit}"


def size_name(kind: str) -> str:
    """Return what a search varies: the mean radius of a bend, the length of anything else."""
    return "mean radius" if kind == "bend" else "length"


def gradual_text(result: GradualResult) -> str:
    """Return what a search was for, in words."""
    turn = f"{math.degrees(result.angle):.6g} deg {result.kind}"
    plane = f" in the {result.plane}-plane" if result.kind == "bend" else ""
    return f"{turn}{plane}, {result.guide.label}; wanted: {result.limit.text}"


def smallest_text(result: GradualResult) -> str:
    """Return what a search found, in words."""
    size = size_name(result.kind)
    if result.smallest is None:
        return f"No {size} was found from which every larger one meets the limit"
    found = f"Every {size} from {result.smallest * 1e3:.5g} mm up meets the limit"
    if result.uncertainty is None:
        return found
    return f"{found} (within {result.uncertainty * 1e3:.2g} mm)"
