"""A measured part beside the computed one, as plain values and as text."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

from solver.studies.inches import length_text
from solver.studies.plain_values import in_millimetres, plain

if TYPE_CHECKING:
    from solver.measured.causes import Cause
    from solver.measured.comparison import MeasuredComparison

_OUTCOMES = {
    "yes": "The measured part is consistent with the computed one",
    "no": "The measured part is not the computed one",
    "cannot tell": "Whether the measured part is the computed one cannot be told",
}


def measurement_result_of(comparison: MeasuredComparison) -> dict[str, Any]:
    """Return the comparison as plain values, by the key `measurement` of the result."""
    difference, point, row, column = comparison.largest
    fitted = comparison.planes == "fitted"
    shift, bounds = comparison.fit.shift, comparison.shift_bound
    if not fitted:
        shift, bounds = np.zeros_like(shift), np.zeros_like(bounds)
    frequency = comparison.frequency
    return plain(
        {
            "file": comparison.measurement.file,
            "consistent": comparison.consistent,
            "largest_difference": difference,
            "at_hz": frequency[point],
            "element": element_name(comparison, row, column),
            "uncertainty_there": comparison.allowed[point, row, column],
            "computed_error": comparison.bar.max(),
            "measured_uncertainty": comparison.given,
            "noise": None if comparison.given else comparison.noise,
            "planes": comparison.planes,
            "shift_mm": [in_millimetres(d) for d in shift],
            "shift_uncertainty_mm": [d * 1e3 for d in bounds],
            "shift_sum_mm": in_millimetres(float(shift.sum())),
            "shift_sum_uncertainty_mm": comparison.total_bound * 1e3 if fitted else 0.0,
            "ports_swapped": comparison.swapped,
            "port_modes": comparison.labels,
            "from_hz": frequency[0],
            "to_hz": frequency[-1],
            "points": len(frequency),
            "difference_points_to": [_described(cause) for cause in comparison.causes],
            "reasons": comparison.reasons,
        }
    )


def element_name(comparison: MeasuredComparison, row: int, column: int) -> str:
    """Return the name of an element of S, ``"S21"``; with the modes where a port has several."""
    out, into = (comparison.labels[i].partition(":")[0] for i in (row, column))
    many = len({label.partition(":")[0] for label in comparison.labels}) < len(comparison.labels)
    return f"S({comparison.labels[row]},{comparison.labels[column]})" if many else f"S{out}{into}"


def _described(cause: Cause) -> dict[str, Any]:
    unit, scale = {"length": ("mm", 1e3), "loss": ("db", 1.0), "reflection": ("abs", 1.0)}[
        cause.name
    ]
    told: dict[str, Any] = {
        "cause": cause.name,
        f"value_{unit}": cause.value * scale,
        f"uncertainty_{unit}": cause.uncertainty * scale,
        "share": cause.share,
        "text": cause.text,
    }
    if cause.place is not None and cause.place_uncertainty is not None:
        told |= {
            "from_port": cause.port,
            "at_mm": cause.place * 1e3,
            "at_uncertainty_mm": cause.place_uncertainty * 1e3,
        }
    return told


def headline_of(comparison: MeasuredComparison) -> str:
    """Return the outcome in one sentence without its full stop."""
    return _OUTCOMES[comparison.consistent]


def sentences_of(comparison: MeasuredComparison) -> list[str]:
    """Return what was found, a sentence each without its full stop."""
    difference, point, row, column = comparison.largest
    frequency = comparison.frequency
    name = element_name(comparison, row, column)
    allowed = float(comparison.allowed[point, row, column])
    beside = (
        f", where both uncertainties together are {allowed:.3g}" if np.isfinite(allowed) else ""
    )
    told = [
        f"the largest difference, {difference:.3g}, is in {name} at "
        f"{frequency[point] / 1e9:.6g} GHz{beside}",
        f"{len(frequency)} points from {frequency[0] / 1e9:.6g} to {frequency[-1] / 1e9:.6g} GHz "
        "are compared",
        _planes_text(comparison),
        *comparison.reasons,
    ]
    if comparison.given is None and np.isfinite(comparison.noise).all():
        told.append(
            f"the noise of the file is {comparison.noise.max():.2g} (standard deviation of real "
            "and imaginary part)"
        )
    return told


def _planes_text(comparison: MeasuredComparison) -> str:
    if comparison.planes == "given":
        return "the reference planes of the file are taken as those of the study"
    shifts = []
    for port, (d, bound) in enumerate(
        zip(comparison.fit.shift, comparison.shift_bound, strict=True), start=1
    ):
        if np.isfinite(bound):
            shifts.append(f"port {port} {_signed(d, 4)}, known to {length_text(bound, 2)}")
        else:
            shifts.append(f"port {port} {_signed(d, 4)}, which this trace does not tell")
    total = ""
    if len(shifts) > 1 and np.isfinite(comparison.total_bound):
        total = (
            f"; together {_signed(comparison.fit.total, 5)}, known to "
            f"{length_text(comparison.total_bound, 2)}"
        )
    return f"the measured planes lie outside those of the study by: {', '.join(shifts)}{total}"


def measurement_text(comparison: MeasuredComparison) -> str:
    """Return the comparison as text for a terminal."""
    lines = [f"Measured: {comparison.measurement.file}", headline_of(comparison) + "."]
    lines += [f"  - {sentence}" for sentence in sentences_of(comparison)]
    if comparison.causes:
        lines.append("The difference between file and study looks like:")
        lines += [
            f"  - {cause.text} ({_percent(cause.share)} of it)" for cause in comparison.causes
        ]
    return "\n".join(lines)


def _signed(length: float, digits: int) -> str:
    text = length_text(length, digits)
    return text if length < 0 else f"+{text}"


def _percent(share: float) -> str:
    return f"{100 * min(max(share, 0.0), 1.0):.0f} %"
