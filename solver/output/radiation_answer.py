"""What a horn radiates, as it stands in results: dB over isotropic, with bars."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

from geometries.arrays import Array
from geometries.shapes.horns import ConicalHorn, phase_errors
from solver.waves.guide_modes import SPEED_OF_LIGHT

if TYPE_CHECKING:
    from solver.judgement.assessment import Assessment


def described_radiation(assessment: Assessment) -> dict[str, Any]:
    """Return the radiation of a horn by the names of a result; nothing for any other part."""
    found = assessment.radiation
    if found is None:
        return {}
    return {
        "radiated_power": found.power,
        "radiated_power_error": found.power_error,
        "directivity_db": in_db(found.axial),
        "directivity_error_db": bar_in_db(found.axial, found.axial_error),
        "largest_directivity_db": in_db(found.largest),
        "largest_directivity_error_db": bar_in_db(found.largest, found.largest_error),
        "largest_at_deg": np.degrees(found.largest_at),
        "aperture_phase_error_deg": {
            plane: 360.0 * error * found.frequency / SPEED_OF_LIGHT
            for plane, error in phase_errors(assessment.component).items()
        },
        "directivity_estimates": _estimated(assessment),
        "pattern": {
            "at_hz": found.at,
            "angle_deg": np.degrees(found.angle),
            "e_plane_db": in_db(found.e_plane),
            "h_plane_db": in_db(found.h_plane),
            "e_plane_error_db": bar_in_db(found.e_plane, found.pattern_error),
            "h_plane_error_db": bar_in_db(found.h_plane, found.pattern_error),
        },
    }


def radiation_lines(assessment: Assessment) -> list[str]:
    """Return sentences on what a horn radiates; none for any other part."""
    found = assessment.radiation
    if found is None:
        return []
    lines = []
    for i in sorted({0, len(found.frequency) // 2, len(found.frequency) - 1}):
        angle = np.degrees(found.largest_at[i])
        where = "along the axis" if angle == 0 else f"{angle:.0f} degrees from the axis"
        bar = bar_in_db(found.largest, found.largest_error)[i]
        lines.append(
            f"{found.frequency[i] / 1e9:.6g} GHz: {in_db(found.largest)[i]:.2f} dBi {where}, "
            f"within {bar:.2g} dB"
        )
    text = f"Directivity where it is largest: {'; '.join(lines)}"
    at = len(found.frequency) // 2
    forms = [
        f"{form['name'][:1].upper()}{form['name'][1:]} says {form['directivity_db'][at]:.2f} dBi "
        f"along the axis at {found.frequency[at] / 1e9:.6g} GHz"
        + ("" if form["within_validity"] else " (outside its range)")
        for form in _estimated(assessment)
    ]
    return [text, *forms]


def _estimated(assessment: Assessment) -> list[dict[str, Any]]:
    """Closed forms of the directivity along the axis."""
    from solver.closed_forms.horns import conical_directivity, pyramidal_directivity
    from solver.closed_forms.source import source_of, validity_of

    horn, frequency = assessment.component, assessment.scattering.frequency
    form: Any = pyramidal_directivity
    if isinstance(horn, ConicalHorn):
        form = conical_directivity
        if horn.mode != "TE11":
            return []
    return [
        {
            "name": "aperture theory" if form is pyramidal_directivity else "fit for TE11 cones",
            "source": source_of(form).citation,
            "mark": source_of(form).mark,
            "directivity_db": in_db(form(horn, frequency)),
            "within_validity": bool(validity_of(form).holds(horn, frequency)),
            "note": validity_of(form).text,
        }
    ]


def in_db(power: Array) -> Array:
    """Return 10 log10 of a ratio of powers; minus infinity where there is none."""
    with np.errstate(divide="ignore"):
        return np.asarray(10 * np.log10(power))


def bar_in_db(power: Array, error: Array) -> Array:
    """Return the larger side of a bar in dB; infinite where the power may be nothing."""
    with np.errstate(divide="ignore", invalid="ignore"):
        below = np.where(error < power, -10 * np.log10(1 - error / power), np.inf)
    return np.asarray(np.where(power > 0, below, np.inf))
