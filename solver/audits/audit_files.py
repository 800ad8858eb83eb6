"""An audit of the rules of thumb as JSON, CSV and HTML."""

from __future__ import annotations

import csv
import io
from collections.abc import Sequence
from typing import Any

import numpy as np

from solver.audits.audited import LEVELS, AuditedPart, Reading, RuleRecord, records_of
from solver.output.result_json import as_text
from solver.reports.page_frame import page_frame
from solver.reports.page_templates import page_template
from solver.reports.run_record import RunRecord
from solver.studies.plain_values import in_millimetres, plain
from solver.version import installed_version

_HEADS = [
    "rule",
    "reading",
    "of",
    "parts",
    "cannot be made",
    *(f"meet VSWR {level:.2f}" for level in LEVELS),
    "worst VSWR let through",
    "worst leakage let through / dB",
    *(f"mm too long on average (most) for {level:.2f}" for level in LEVELS),
]
#: Columns that hold nothing for most kinds, and are then left out of a page.
_GROUP, _IMPOSSIBLE, _LEAKAGE, _WASTED = 2, 4, 9, (10, 11, 12)


def audit_files(parts: Sequence[AuditedPart], record: RunRecord | None = None) -> dict[str, bytes]:
    """Return the content of every file of an audit, by name."""
    return {
        "audit.json": as_text(audit_result_of(parts)).encode("ascii"),
        "audit.csv": audit_csv(parts).encode("utf-8"),
        "audit.html": audit_html(parts, record).encode("utf-8"),
    }


def audit_result_of(parts: Sequence[AuditedPart]) -> dict[str, Any]:
    """Return an audit as plain values."""
    return plain(
        {
            "schema": 1,
            "version": installed_version(),
            "levels_vswr": LEVELS,
            "rules": [_record(record) for record in records_of(parts)],
            "parts": [_part(part) for part in parts],
        }
    )


def _record(record: RuleRecord) -> dict[str, Any]:
    return {
        "kind": record.kind,
        "of": record.group,
        "name": record.name,
        "reading": record.reading,
        "parts": record.parts,
        "cannot_be_made": record.impossible,
        "holds": [record.holds[level] for level in LEVELS],
        "cannot_tell": [record.cannot_tell[level] for level in LEVELS],
        "worst_vswr": record.worst_vswr,
        "worst_leakage_db": _decibels(record.worst_leakage),
        "wasted_mm": [_millimetres(record.wasted[level]) for level in LEVELS],
    }


def _decibels(amplitude: float | None) -> float | None:
    return None if not amplitude else 20 * float(np.log10(amplitude))


def _millimetres(lengths: tuple[float, float] | None) -> list[float] | None:
    return None if lengths is None else [in_millimetres(length) for length in lengths]


def _part(part: AuditedPart) -> dict[str, Any]:
    smallest = [part.smallest.get(level) or (None, None) for level in LEVELS]
    return {
        "kind": part.kind,
        "of": part.group,
        "about": part.about,
        "from_hz": part.band.start,
        "to_hz": part.band.stop,
        "length_per_size": part.per_size,
        "smallest_mm": [None if r is None else in_millimetres(r) for r, _ in smallest],
        "next_below_mm": [None if d is None else in_millimetres(d) for _, d in smallest],
        "readings": [_reading(reading) for reading in part.readings],
    }


def _reading(reading: Reading) -> dict[str, Any]:
    worst, loosest, leakage = reading.worst, reading.loosest, reading.leakage
    return {
        "name": reading.name,
        "reading": reading.reading,
        "size_mm": None if reading.size is None else in_millimetres(reading.size),
        "outcomes": [reading.outcome(level) for level in LEVELS],
        "worst_s11": None if worst is None else [worst.low, worst.value, worst.high],
        "worst_at_hz": None if worst is None else worst.at_hz,
        "worst_s11_in_tolerance": None if loosest is None else loosest.value,
        "worst_leakage_db": None if leakage is None else _decibels(leakage.value),
    }


def _row(record: RuleRecord) -> list[str]:
    row = [record.name, record.reading, record.group, str(record.parts)]
    row.append(str(record.impossible) if record.impossible else "")
    for level in LEVELS:
        open_ = record.cannot_tell[level]
        row.append(f"{record.holds[level]}" + (f" ({open_} open)" if open_ else ""))
    row.append("" if record.worst_vswr is None else f"{record.worst_vswr:.4g}")
    leaked = _decibels(record.worst_leakage)
    row.append("" if leaked is None else f"{leaked:.1f}")
    for level in LEVELS:
        extra = record.wasted[level]
        row.append("" if extra is None else f"{extra[0] * 1e3:.3g} ({extra[1] * 1e3:.3g})")
    return row


def audit_csv(parts: Sequence[AuditedPart]) -> str:
    """Return one line for each reading, kind of part and group."""
    text = io.StringIO()
    writer = csv.writer(text, lineterminator="\n")
    rows = [[record.kind, *_row(record)] for record in records_of(parts)]
    writer.writerows([["kind", *_HEADS], *rows])
    return text.getvalue()


def audit_html(parts: Sequence[AuditedPart], record: RunRecord | None = None) -> str:
    """Return the audit as one HTML page; it fetches nothing."""
    kinds = list(dict.fromkeys(part.kind for part in parts))
    page = page_frame(
        "audit",
        "Rules of thumb, held against the field",
        f"{len(parts)} parts with sizes left to the rules: {', '.join(kinds)}",
        "a band for each part, as listed",
        record,
        kinds=kinds,
    )
    return page_template("audit.html").render(
        page
        | {"sections": [_section(kind, [p for p in parts if p.kind == kind]) for kind in kinds]}
    )


def _section(kind: str, parts: Sequence[AuditedPart]) -> dict[str, Any]:
    rows = [_row(record) for record in records_of(parts)]
    spare = {_GROUP, _IMPOSSIBLE, _LEAKAGE, *_WASTED}
    shown = [i for i in range(_GROUP, len(_HEADS)) if i not in spare or any(r[i] for r in rows)]
    found = [size for part in parts for size in part.smallest.values() if size is not None]
    return {
        "kind": kind,
        # both in one column, or eleven would not fit on paper
        "heads": ["rule: reading", *(_HEADS[i] for i in shown)],
        "rows": [[f"{row[0]}: {row[1]}", *(row[i] for i in shown)] for row in rows],
        "numbers": [n for n, i in enumerate(shown, start=1) if i > _GROUP],
        "parts": [
            f"{p.about}: {p.band.start / 1e9:.5g} to {p.band.stop / 1e9:.5g} GHz" for p in parts
        ],
        "step": f"{100 * max(gap / size for size, gap in found):.2g}" if found else "",
    }
