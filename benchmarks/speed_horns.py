"""Horns: time, memory and bar of four.

Run: ``python benchmarks/speed_horns.py``.  Times are those of S with its bar over 41 points, the
wall's clock and the processor's: others may use the machine.
"""

from __future__ import annotations

import resource
import sys
import time
from collections.abc import Sequence
from pathlib import Path

import numpy as np

ROOT = Path(__file__).parent.parent
sys.path[:0] = [str(ROOT), str(Path(__file__).parent)]

from record import RESULTS, record  # noqa: E402

from geometries import CircularGuide, ConicalHorn, RectangularHorn, standard_guide  # noqa: E402
from solver.parts.horns import solved_horn  # noqa: E402

#: Horn, band [GHz] and wanted bound on the error of S.
HORNS = {
    "conical, TM01, 2 wavelengths": (
        ConicalHorn(CircularGuide(30e-3), 60e-3, 50e-3, "TM01"),
        (8.2, 10.0),
        1e-4,
    ),
    "conical, TE11, 2 wavelengths": (
        ConicalHorn(CircularGuide(24e-3), 60e-3, 50e-3, "TE11"),
        (9.0, 10.0),
        1e-3,
    ),
    "conical, TE11, 2 wavelengths, bare": (
        ConicalHorn(CircularGuide(24e-3), 60e-3, 50e-3, "TE11", "bare"),
        (9.0, 10.0),
        1e-3,
    ),
    "pyramidal, 3 x 2 wavelengths": (
        RectangularHorn(standard_guide("WR-90"), 90e-3, 60e-3, 120e-3),
        (9.0, 10.0),
        1e-3,
    ),
}


def measure(name: str, points: int) -> dict[str, float]:
    """Solve one horn."""
    horn, (low, high), s_error = HORNS[name]
    frequency = np.linspace(low * 1e9, high * 1e9, points)
    wall, processor = time.perf_counter(), time.process_time()
    solved = solved_horn(horn, frequency, s_error, None, None)
    figures = {
        "seconds": time.perf_counter() - wall,
        "processor_seconds": time.process_time() - processor,
        "peak_memory_gb": resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024**2,
        "unknowns": solved.unknowns,
        "factorisations": solved.factorisations,
        "wanted_error": s_error,
        "error": float(solved.error.max()),
    }
    assert solved.radiation is not None
    radiation = solved.radiation(frequency)
    missing = radiation.power - 1 + np.abs(solved.s[:, 0, 0]) ** 2
    return figures | {"power_that_is_missing": float(np.abs(missing).max())}


def main(names: Sequence[str] = tuple(HORNS), points: int = 41, folder: Path = RESULTS) -> Path:
    """Measure horns and record what came out."""
    figures = {name: measure(name, points) for name in names}
    for name, found in figures.items():
        print(name, {key: float(f"{value:.3g}") for key, value in found.items()})
    return record("speed_horns", figures, folder)


if __name__ == "__main__":
    main()
