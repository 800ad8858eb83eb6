"""An audit of the rules of thumb as JSON, CSV and HTML."""

from __future__ import annotations

import csv
import io
import math
from collections.abc import Sequence
from typing import Any

from solver.output.result_json import as_text
from solver.reports.page_frame import page_frame
from solver.reports.page_templates import page_template
from solver.reports.run_record import RunRecord
from solver.searches.rule_audit import LEVELS, AuditedBend, RuleRecord, records_of
from solver.studies.plain_values import described_guide, in_millimetres, plain
from solver.version import installed_version


def audit_files(bends: Sequence[AuditedBend], record: RunRecord | None = None) -> dict[str, bytes]:
    """Return the content of every file of an audit, by name."""
    return {
        "audit.json": as_text(audit_result_of(bends)).encode("ascii"),
        "audit.csv": audit_csv(bends).encode("utf-8"),
        "audit.html": audit_html(bends, record).encode("utf-8"),
    }


def audit_result_of(bends: Sequence[AuditedBend]) -> dict[str, Any]:
    """Return an audit as plain values."""
    return plain(
        {
            "schema": 1,
            "version": installed_version(),
            "levels_vswr": LEVELS,
            "rules": [_record(record) for record in records_of(bends)],
            "bends": [_bend(bend) for bend in bends],
        }
    )


def _record(record: RuleRecord) -> dict[str, Any]:
    return {
        "name": record.name,
        "reading": record.reading,
        "plane": record.plane,
        "bends": record.bends,
        "holds": [record.holds[level] for level in LEVELS],
        "worst_vswr": record.worst_vswr,
        "wasted_mm": [_millimetres(record.wasted[level]) for level in LEVELS],
    }


def _millimetres(lengths: tuple[float, float] | None) -> list[float] | None:
    return None if lengths is None else [in_millimetres(length) for length in lengths]


def _bend(bend: AuditedBend) -> dict[str, Any]:
    smallest = [bend.smallest[level] or (None, None) for level in LEVELS]
    return {
        "guide": described_guide(bend.guide),
        "plane": bend.plane,
        "angle_deg": float(f"{math.degrees(bend.angle):.9g}"),
        "from_hz": bend.band.start,
        "to_hz": bend.band.stop,
        "smallest_mm": [None if r is None else in_millimetres(r) for r, _ in smallest],
        "next_below_mm": [None if d is None else in_millimetres(d) for _, d in smallest],
        "readings": [
            {
                "name": reading.name,
                "reading": reading.reading,
                "radius_mm": in_millimetres(reading.radius),
                "worst_s11": reading.worst.value,
                "worst_s11_high": reading.worst.high,
            }
            for reading in bend.readings
        ],
    }


def _rows(bends: Sequence[AuditedBend]) -> tuple[list[str], list[list[str]]]:
    heads = ["rule", "reading", "plane", "bends"]
    heads += [f"meet VSWR {level:.2f}" for level in LEVELS]
    heads += ["worst VSWR let through"]
    heads += [f"mm too long on average (most) for {level:.2f}" for level in LEVELS]
    rows = []
    for record in records_of(bends):
        row = [record.name, record.reading, record.plane, str(record.bends)]
        row += [str(record.holds[level]) for level in LEVELS]
        row.append(f"{record.worst_vswr:.4g}")
        for level in LEVELS:
            extra = record.wasted[level]
            row.append("" if extra is None else f"{extra[0] * 1e3:.3g} ({extra[1] * 1e3:.3g})")
        rows.append(row)
    return heads, rows


def audit_csv(bends: Sequence[AuditedBend]) -> str:
    """Return one line for each reading and plane."""
    text = io.StringIO()
    writer = csv.writer(text, lineterminator="\n")
    heads, rows = _rows(bends)
    writer.writerows([heads, *rows])
    return text.getvalue()


def audit_html(bends: Sequence[AuditedBend], record: RunRecord | None = None) -> str:
    """Return the audit as one HTML page; it fetches nothing."""
    guides = sorted({bend.guide.label for bend in bends})
    angles = sorted({round(math.degrees(bend.angle), 6) for bend in bends})
    heads, rows = _rows(bends)
    page = page_frame(
        "audit",
        "Rules of thumb for bends, held against the field",
        f"{len(bends)} kinds of bend: {', '.join(guides)}; {', '.join(f'{a:g}' for a in angles)} "
        "degrees; both planes",
        "the band of each guide",
        record,
        kinds=("bend",),
    )
    gaps = [found[1] / found[0] for bend in bends for found in bend.smallest.values() if found]
    more = {"heads": heads, "rows": rows, "step": f"{100 * max(gaps, default=0.0):.2g}"}
    return page_template("audit.html").render(page | more)
