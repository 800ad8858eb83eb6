"""Where a part that absorbs turns power to heat: as plain values and in words."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

from solver.studies.inches import length_text

if TYPE_CHECKING:
    from solver.judgement.assessment import Assessment
    from solver.loads.heat_profile import HeatProfile

#: What the heat of a load says, and what it does not.
HEAT_NOTE = (
    "No rating: how hot the absorber gets depends on its thermal conductivity, its contact with "
    "the walls and what cools them, and its loss changes as it warms"
)


def described_heat(heat: HeatProfile | None) -> dict[str, Any]:
    """Return the heat along a part by the key `heat`; nothing for a part that does not absorb.

    ``fraction_per_mm`` integrates over ``z_mm`` by the trapezoidal rule to ``total``, which is
    1 - |S11|^2 with one mode, to a part in a thousand.
    """
    if heat is None:
        return {}
    return {
        "heat": {
            "at_hz": heat.frequency,
            "z_mm": heat.place * 1e3,
            "fraction_per_mm": heat.fraction / 1e3,
            "fraction_per_mm_error": heat.error / 1e3,
            "total": heat.total,
            "largest_per_mm": float(heat.fraction.max()) / 1e3,
            "densest_per_cm3": heat.densest / 1e6,
            "densest_at_z_mm": heat.densest_place * 1e3,
            "depends_on_edge_radius": heat.sharp,
            "half_of_the_heat_within_mm": _half(heat) * 1e3,
        }
    }


def _half(heat: HeatProfile) -> float:
    """Distance from the plane of the tip within which half of the heat arises [m]."""
    steps = 0.5 * (heat.fraction[1:] + heat.fraction[:-1]) * np.diff(heat.place)
    grown = np.concatenate([[0.0], np.cumsum(steps)])
    return float(np.interp(0.5 * grown[-1], grown, heat.place))


def heat_lines(assessment: Assessment) -> list[str]:
    """Return sentences on the heat; none for a part that does not absorb."""
    heat = assessment.heat
    if heat is None:
        return []
    if heat.total == 0.0:
        return ["Heat: the material has no loss, so that all power comes back"]
    edges = "; it has no bound at sharp edges and was read away from them" if heat.sharp else ""
    at = int(np.argmax(heat.fraction))
    return [
        f"Heat at {heat.frequency / 1e9:.6g} GHz, for each watt that enters: {heat.total:.4g} W in "
        f"all, at most {heat.fraction[at] / 1e3:.3g} W in a millimetre of length, "
        f"{length_text(heat.place[at], 3)} behind the tip; half of it within "
        f"{length_text(_half(heat), 3)}",
        f"Densest heat: {heat.densest / 1e6:.3g} W in a cubic centimetre for each watt that "
        f"enters, {length_text(heat.densest_place, 3)} behind the tip{edges}. {HEAT_NOTE}",
    ]
