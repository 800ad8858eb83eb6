"""The result as one JSON object, schema 1.

Lengths, angles and guide sizes take the keys and units of the study file, so that a component can
be copied back into one.  Numbers that are not finite become null.
"""

from __future__ import annotations

import dataclasses
import json
import math
from collections.abc import Iterable, Mapping
from typing import TYPE_CHECKING, Any

from solver.output.heat_answer import described_heat
from solver.output.periodic_answer import described_periodic
from solver.output.radiation_answer import described_radiation
from solver.studies.plain_values import described_component, described_guide, in_millimetres, plain
from solver.waves.guide_power import CATALOGUE_SHARE
from solver.waves.resonances import HIGHEST_Q

if TYPE_CHECKING:
    from geometries.shapes.guides import StandardGuide
    from solver.closed_forms.estimates import Estimate
    from solver.judgement.assessment import Assessment
    from solver.judgement.verdict import Verdict
    from solver.parts.peak_field import PeakField
    from solver.rules.rules_of_thumb import RuleReading
    from solver.searches.gradual import GradualResult
    from solver.studies.limits import Limit
    from solver.waves.resonances import Resonance

SCHEMA = 1


def result_of(assessment: Assessment) -> dict[str, Any]:
    """Return an assessment as plain lists, numbers and text."""
    scattering = assessment.scattering
    return plain(
        {
            "schema": SCHEMA,
            "title": assessment.title,
            "component": described_component(assessment.component),
            "guide": described_guide(assessment.component.guide),
            "frequency_hz": scattering.frequency,
            "port_modes": [{"port": m.port, "mode": m.name} for m in scattering.port_modes],
            "port_mode_cutoff_hz": [mode.cutoff for mode in scattering.port_modes],
            "s_re": scattering.s.real,
            "s_im": scattering.s.imag,
            "s_error": scattering.error,
            "s_error_wanted": assessment.wanted_error,
            "leaked_power": scattering.leaked_power,
            "leaked_error": scattering.leaked_bar,
            "dissipated_power": scattering.dissipated_power,
            "estimates": [described_estimate(estimate) for estimate in assessment.estimates],
            "rules": [described_rule(rule) for rule in assessment.rules],
            "limit": described_limit(assessment.limit),
            "verdict": described_verdict(assessment.verdict),
            "resonances": [described_resonance(found) for found in assessment.resonances],
            "peak_field": described_peak(assessment.peak_field),
            **described_heat(assessment.heat),
            **described_radiation(assessment),
            **described_periodic(assessment.periodic),
            "provenance": dataclasses.asdict(assessment.provenance),
        }
    )


def gradual_result_of(result: GradualResult) -> dict[str, Any]:
    """Return a search for the most compact part as plain lists, numbers and text."""
    found = {
        f"{name}_mm": None if value is None else in_millimetres(value)
        for name, value in (
            ("smallest", result.smallest),
            ("first_met", result.first_met),
            ("uncertainty", result.uncertainty),
            ("first_met_uncertainty", result.first_met_uncertainty),
        )
    }
    return plain(
        {
            "schema": SCHEMA,
            "kind": result.kind,
            "guide": described_guide(result.guide),
            "plane": result.plane,
            "angle_deg": float(f"{math.degrees(result.angle):.12g}"),
            "profile": getattr(result.part, "profile", ""),
            "onset": getattr(result.part, "onset", 0.0),
            "from_hz": result.band.start,
            "to_hz": result.band.stop,
            "limit": described_limit(result.limit),
            **found,
            "worst_s11": [
                [in_millimetres(size), worst]
                for size, worst in zip(result.sizes, result.worst_s11, strict=True)
            ],
            "worst_s11_error": result.worst_s11_error,
            "estimated_s11": result.estimated_s11,
            "rules": [described_rule(rule) for rule in result.rules],
            "reasons": result.reasons,
        }
    )


def catalogue_of(sizes: Iterable[StandardGuide]) -> list[dict[str, Any]]:
    """Return rows of the catalogue of guides, with their cutoff, as plain values."""
    from solver.waves.guide_modes import dominant_cutoff

    return [
        plain(
            described_guide(size.guide)
            | {
                "names": size.names,
                "te10_cutoff_hz": dominant_cutoff(size.guide),
                "band_hz": [round(edge) for edge in size.band],
                "sources": dict(zip(("size", "band", "names"), size.sources, strict=True)),
                "confidence": size.confidence,
                "note": size.note,
            }
        )
        for size in sizes
    ]


def described_estimate(estimate: Estimate) -> dict[str, Any]:
    """Return a closed form's values with its source."""
    return {
        "name": estimate.name,
        "source": estimate.source.citation,
        "mark": estimate.source.mark,
        "s11_abs": estimate.s11_abs,
        "leaked_power": estimate.leaked_power,
        "within_validity": bool(estimate.within_validity),
        "leakage_within_validity": estimate.leakage_in_range,
        "note": estimate.note,
        "leakage_note": estimate.leakage_note,
    }


def described_rule(rule: RuleReading) -> dict[str, Any]:
    """Return one reading of a rule of thumb, lengths in mm."""
    return {
        "name": rule.name,
        "reading": rule.reading,
        "source": rule.source.citation,
        "mark": rule.source.mark,
        "measure": rule.measure,
        "required_mm": in_millimetres(rule.required),
        "actual_mm": in_millimetres(rule.actual),
        "satisfied": bool(rule.satisfied),
        "extra_mm": in_millimetres(rule.extra),
    }


def described_limit(limit: Limit | None) -> dict[str, float]:
    """Return the limits that were set, by the keys of a study file."""
    return limit.values if limit is not None else {}


def described_verdict(verdict: Verdict) -> dict[str, Any]:
    """Return the verdict, its interval included."""
    return {
        "outcome": verdict.outcome,
        "quantity": verdict.quantity,
        "worst": verdict.worst,
        "lowest": verdict.lowest,
        "highest": verdict.highest,
        "at_hz": verdict.at_hz,
        "limit": verdict.limit,
        "margin": verdict.margin,
        "margin_db": verdict.margin_db,
        "holds_hz": [list(held) for held in verdict.holds],
        "reasons": verdict.reasons,
    }


def described_resonance(found: Resonance) -> dict[str, Any]:
    """Return one resonance."""
    return {
        "frequency_hz": found.frequency,
        "error_hz": found.error,
        "q": found.quality if found.quality < HIGHEST_Q else None,
        "fields": found.about,
        "driven": found.driven,
    }


def described_peak(peak: PeakField | None) -> dict[str, Any] | None:
    """Return the largest electric field and the power that it allows."""
    if peak is None:
        return None
    return {
        "ratio": peak.ratio,
        "at_hz": peak.frequency,
        "field_limit_w": peak.field_limit,
        "field_limit_at_hz": peak.field_limit_frequency,
        "catalogue_share_w": CATALOGUE_SHARE * peak.field_limit,
        "breakdown_field_v_per_m": peak.breakdown_field,
        "depends_on_edge_radius": peak.depends_on_edge_radius,
        "note": peak.note,
    }


def as_text(result: Mapping[str, Any]) -> str:
    """Return a plain result as JSON text on one line."""
    return json.dumps(result, allow_nan=False)
