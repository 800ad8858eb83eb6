"""A run's result as one JSON object, with the keys of a study's result where they mean the same."""

from __future__ import annotations

import math
from typing import Any

import numpy as np

from solver.output.result_json import (
    SCHEMA,
    described_limit,
    described_resonance,
    described_verdict,
)
from solver.runs.run_result import PartLine, RunResult
from solver.studies.plain_values import described_component, described_guide, plain
from solver.studies.run_chain import MeasuredPart, RunPart


def run_result_of(result: RunResult) -> dict[str, Any]:
    """Return a run's result as plain lists, numbers and text.

    Parameters
    ----------
    result : RunResult

    Returns
    -------
    dict
        ``s_re`` and ``s_im`` are those of the whole run, matched at its end; ``input_s11_abs`` is
        what the transmitter sees, with what the run ends in at its worst phase.
    """
    radiated = result.radiated_power
    scattering, weakest, first = result.scattering, result.weakest_part, result.improve_first
    return plain(
        {
            "schema": SCHEMA,
            "title": result.title,
            "run": [described_part(part) for part in result.run],
            "guide": described_guide(result.run[0].guides[0]),
            "frequency_hz": scattering.frequency,
            "port_modes": [{"port": m.port, "mode": m.name} for m in scattering.port_modes],
            "port_mode_cutoff_hz": [mode.cutoff for mode in scattering.port_modes],
            "s_re": scattering.s.real,
            "s_im": scattering.s.imag,
            "s_error": scattering.error,
            "s_error_wanted": result.wanted_error,
            "leaked_power": scattering.leaked_power,
            "leaked_error": scattering.leaked_bar,
            "dissipated_power": scattering.dissipated_power,
            **({"radiated_power": radiated} if radiated is not None else {}),
            "end": None if result.end_vswr is None else {"vswr": result.end_vswr},
            "input_s11_abs": np.abs(result.listed.s11),
            "input_s11_error": result.listed.error,
            "limit": described_limit(result.limit),
            "verdict": described_verdict(result.verdict),
            "parts": [_described_line(line) for line in result.parts],
            "worst_case_s11": result.worst_case.worst,
            "worst_case_at_hz": result.worst_case.at_hz,
            "likely_s11": result.worst_case.likely,
            "weakest_part": weakest.name if weakest is not None else None,
            "improve_first": first.name if first is not None else None,
            "worst_loss_db": result.worst_loss_db,
            "resonances": [described_resonance(found) for found in result.resonances],
            "near": list(result.near),
            "cautions": list(result.cautions),
            "provenance": dict(result.provenance),
        }
    )


def described_part(part: RunPart) -> dict[str, Any]:
    """Return a part of a run by the keys of a run file."""
    component = part.component
    if isinstance(component, MeasuredPart):
        own: dict[str, Any] = {"kind": component.kind, "file": str(component.file)}
    elif part.backwards:
        own = described_component(component)
        own = {
            "kind": component.kind,
            "to_guide": described_guide(component.guide),
            "length_mm": own["length_mm"],
        }
    else:
        own = described_component(component)
    turned = {"turn_deg": round(math.degrees(part.turn), 9)} if part.turn else {}
    return {"name": part.name} | own | turned


def _described_line(line: PartLine) -> dict[str, Any]:
    return {
        "name": line.name,
        "kind": line.kind,
        "worst_s11": line.worst_s11,
        "worst_s11_error": line.worst_s11_error,
        "worst_loss_db": line.worst_loss_db,
        "breakdown_w": line.breakdown_w,
        "breakdown_in_run_w": line.breakdown_in_run_w,
        "worst_case_without_it": line.without_it,
        "method": line.method,
    }
