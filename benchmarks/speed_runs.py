"""Twelve parts as one run: fresh, and with every part kept.

Run: ``python benchmarks/speed_runs.py``.  Elapsed time of `solver.runs.run_parts.run` on one
process: all parts solved, then the same with what was kept, then with one part changed.
"""

from __future__ import annotations

import math
import os
import sys
import tempfile
import time
from pathlib import Path
from typing import Any

os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
os.environ.setdefault("MKL_NUM_THREADS", "1")

ROOT = Path(__file__).parent.parent
sys.path[:0] = [str(ROOT), str(Path(__file__).parent)]

from record import RESULTS, record  # noqa: E402

from geometries import Bend, Corner, Straight, standard_guide  # noqa: E402
from solver.runs.part_store import PartStore  # noqa: E402
from solver.runs.run_parts import run  # noqa: E402
from solver.studies.band import Band  # noqa: E402

MM = 1e-3
GUIDE = standard_guide("WR-90")


def parts(count: int, last_radius: float = 30 * MM) -> list[Any]:
    """Bends and corners in both planes, all different, half a metre apart."""
    found: list[Any] = []
    for number in range(count - 1):
        plane = "EH"[number % 2]
        if number % 3 == 2:
            found.append(Corner(GUIDE, plane, math.radians(30 + number)))
        else:
            found.append(Bend(GUIDE, plane, math.radians(60 + number), 30 * MM))
        found.append(Straight(GUIDE, (480 + 7 * number) * MM))
    return [*found, Bend(GUIDE, "E", math.radians(90), last_radius)]


def main(count: int = 12, points: int = 201, folder: Path = RESULTS) -> Path:
    """Measure, print and record.

    Parameters
    ----------
    count : int
        Of parts that are solved.
    points : int
        Of the band.
    folder : Path
        For the record.
    """
    band = Band(8.2e9, 12.4e9, points)
    figures: dict[str, Any] = {"parts": count, "points": points}
    with tempfile.TemporaryDirectory() as kept:
        for name, made in (
            ("fresh", parts(count)),
            ("kept", parts(count)),
            ("one_changed", parts(count, 31 * MM)),
        ):
            start = time.perf_counter()
            result = run(made, band, store=PartStore(Path(kept)))
            figures[f"{name}_s"] = time.perf_counter() - start
            figures[f"{name}_bar"] = float(result.scattering.error.max())
    figures["frequencies"] = result.provenance["frequencies_followed"]
    for name, value in figures.items():
        print(f"{name:>18}  {value:.4g}")
    return record("speed_runs", figures, folder)


if __name__ == "__main__":
    main()
