"""What a search for the shortest part found, as text for a terminal and as plain values."""

from __future__ import annotations

import csv
import io
import math
from typing import Any

from geometries.shapes.bends import Bend
from solver.output.result_json import SCHEMA, described_limit
from solver.output.screen import table_text
from solver.output.wording import band_text, profile_words
from solver.searches.shortest_result import Proof, Shape, ShortestResult
from solver.studies.inches import guide_text, length_number, length_text, length_unit
from solver.studies.plain_values import described_component, described_guide, in_millimetres, plain


def shortest_result_of(result: ShortestResult) -> dict[str, Any]:
    """Return what a search for the shortest part found as plain lists, numbers and text."""
    return plain(
        {
            "schema": SCHEMA,
            "kind": result.part.kind,
            "guide": described_guide(result.part.guide),
            "from_hz": result.band.start,
            "to_hz": result.band.stop,
            "limit": described_limit(result.limit),
            "shortest": _described_proof(result.best_proof),
            "plain": _described_proof(result.plain_proof),
            "gain_mm": None if result.gain is None else in_millimetres(result.gain),
            "tried": [_described_shape(shape) for shape in result.tried],
            "parts": result.parts,
        }
    )


def _described_shape(shape: Shape) -> dict[str, Any]:
    sizes = {"size": shape.size, "length": shape.length, "uncertainty": shape.uncertainty}
    return {
        "profile": shape.profile,
        "onset": shape.onset,
        **{f"{k}_mm": None if v is None else in_millimetres(v) for k, v in sizes.items()},
        "note": shape.note,
    }


def _described_proof(proof: Proof | None) -> dict[str, Any] | None:
    if proof is None:
        return None
    return {
        "component": described_component(proof.part),
        "length_mm": in_millimetres(proof.part.axis_length),
        "worst_s11": proof.worst,
        "error": proof.bar,
        "s_error": proof.s_error,
        "meets": proof.holds,
    }


def shortest_csv(result: ShortestResult) -> str:
    """Return the profiles that were tried as comma-separated values."""
    text = io.StringIO()
    writer = csv.writer(text, lineterminator="\n")
    rows = [_described_shape(shape) for shape in result.tried]
    writer.writerow(rows[0])
    for row in rows:
        values = row.values()
        writer.writerow([f"{v:.9g}" if isinstance(v, float) else v for v in values])
    return text.getvalue()


def shortest_text(result: ShortestResult) -> str:
    """Return what a search for the shortest part found as text for a terminal."""
    return "\n".join(
        [
            sought_text(result),
            band_text(result.band),
            "",
            *found_lines(result),
            "",
            table_text(*profile_table(result), (1, 2)),
            "",
            *(f"  - {note}" for note in shortest_notes(result)),
            "  - A calculation for the stated geometry, never a clearance",
        ]
    )


def sought_text(result: ShortestResult) -> str:
    """Return what was looked for, in words."""
    part = result.part
    angle = getattr(part, "angle", 0.0)
    turn = f"{math.degrees(angle):.6g} deg {part.kind}" if angle else part.kind
    plane = f" in the {part.plane}-plane" if isinstance(part, Bend) else ""
    return f"{turn}{plane}, {guide_text(part.guide)}; wanted: {result.limit.text}"


def profile_table(result: ShortestResult) -> tuple[list[str], list[list[str]]]:
    """Return heads and rows of the table of all profiles that were tried."""
    rows = [
        [
            profile_words(shape.profile, shape.onset),
            "" if shape.length is None else length_number(shape.length, 5),
            "" if shape.uncertainty is None else length_number(shape.uncertainty, 2),
            shape.note,
        ]
        for shape in sorted(result.tried, key=lambda shape: shape.onset)
    ]
    return ["profile", f"least length / {length_unit()}", f"within / {length_unit()}", ""], rows


def shortest_notes(result: ShortestResult) -> list[str]:
    """Return sentences on what a least length means, and on how well the profiles were searched."""
    return [
        "Least length: from it on every longer part of that profile meets the limit",
        f"{result.parts} parts looked at; an onset between those tried may do better",
    ]


def found_lines(result: ShortestResult) -> list[str]:
    """Return what was found, in sentences without their full stop."""
    proof, beside = result.best_proof, result.plain_proof
    if proof is None or result.best is None:
        return ["No part was found from which every longer one meets the limit"]
    plain_name = result.plain.profile
    lines = [f"Shortest: {_proof_text(proof)}"]
    if not proof.holds:
        lines.append("The fresh solution does not confirm it: ask for a smaller s_error")
    if proof is beside:
        lines.append(f"No other profile that was tried is shorter than the {plain_name} one")
    elif beside is None:
        lines.append(f"With the {plain_name} profile no part meets the limit")
    else:
        share = 100.0 * (result.gain or 0.0) / beside.part.axis_length
        lines += [
            f"Plain: {_proof_text(beside)}",
            f"Gain over the plain one: {length_text(result.gain or 0.0, 4)}, {share:.3g} % of its "
            "length",
        ]
    return lines


def _proof_text(proof: Proof) -> str:
    made = proof.part
    name = profile_words(made.profile, getattr(made, "onset", 0.0))
    size = ""
    if isinstance(made, Bend):
        size = f"mean radius {length_text(made.mean_radius)}, "
        if made.profile != "constant":
            size += f"smallest radius {length_text(made.smallest_radius, 5)}, "
    return (
        f"{name}, length {length_text(made.axis_length)}, {size}worst |S11| "
        f"{proof.worst:.4g} within {proof.bar:.1g}, solved afresh"
    )
