"""What a given power does to the fins of a load, as plain values and as text."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from solver.studies.plain_values import plain

if TYPE_CHECKING:
    from solver.judgement.assessment import Assessment
    from solver.studies.cooling import Cooling

#: What the temperature of the fins leaves out.
COOLING_NOTE = (
    "steady state, all heat through these fins, equally warm, no radiation, the convection as "
    "given (still air takes about 5 to 10 W/(m2 K), a fan 25 to 100: common practice, no source); "
    "the absorber itself is hotter; no rating"
)


def cooling_result_of(assessment: Assessment, cooling: Cooling) -> dict[str, Any]:
    """Return the key `cooling` of the result; nothing for a part that does not absorb."""
    heat = assessment.heat
    if heat is None:
        return {}
    most = _share(assessment)
    return plain(
        {
            "cooling": {
                "input_power_w": cooling.input_power,
                "heat_w": cooling.input_power * most,
                "fin_temperature_celsius": cooling.temperature(most),
                "rise_k": cooling.temperature(most) - cooling.air,
                "largest_w_per_mm": cooling.input_power * float(heat.fraction.max()) / 1e3,
                "densest_w_per_cm3": cooling.input_power * heat.densest / 1e6,
                "note": COOLING_NOTE,
            }
        }
    )


def cooling_text(assessment: Assessment, cooling: Cooling) -> str:
    """Return the same in words."""
    told = cooling_result_of(assessment, cooling)["cooling"]
    return (
        f"Cooling: of {told['input_power_w']:.4g} W at most {told['heat_w']:.4g} W turn to heat; "
        f"fins of {cooling.fin_area * 1e4:.4g} cm2 with {cooling.convection:.4g} W/(m2 K) stand at "
        f"{told['fin_temperature_celsius']:.4g} deg C in air of {cooling.air:.4g} deg C; the "
        f"absorber takes up to {told['largest_w_per_mm']:.3g} W/mm, "
        f"{told['densest_w_per_cm3']:.3g} W/cm3 ({COOLING_NOTE})"
    )


def _share(assessment: Assessment) -> float:
    """Most of the power that turns to heat, over the whole band, its bar included."""
    power = assessment.over_band.dissipated_power
    amplitude = assessment.over_band.error
    return float(min((power + 2 * amplitude + amplitude**2).max(), 1.0))
