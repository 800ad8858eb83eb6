"""What the verdict over the whole band costs beside solving the part at its points.

Run: ``python benchmarks/cost_whole_band.py``.  Processor time on one thread: solving a part
with its error bar, and following it between its points after that; the least of several runs.
Parts without a sharp resonance come first, then some with one.
"""

from __future__ import annotations

import math
import os
import sys
import time
from pathlib import Path
from typing import Any

os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
os.environ.setdefault("MKL_NUM_THREADS", "1")

ROOT = Path(__file__).parent.parent
sys.path[:0] = [str(ROOT), str(Path(__file__).parent)]

from record import RESULTS, record  # noqa: E402

from geometries import Bend, Corner, RotatingJoint, Taper, Twist, standard_guide  # noqa: E402
from geometries.shapes.choke_flanges import ChokeFlange  # noqa: E402
from geometries.shapes.guides import CircularGuide  # noqa: E402
from solver.judgement.assess_part import solve_part  # noqa: E402
from solver.judgement.whole_band import whole_band  # noqa: E402
from solver.studies.band import Band  # noqa: E402

MM = 1e-3
GUIDE = standard_guide("WR-90")
ROUND = CircularGuide(27 * MM)
GROOVE = {"groove_inner_radius": 20 * MM, "groove_outer_radius": 23 * MM, "groove_depth": 8 * MM}
FAR_GROOVE = {
    "groove_inner_radius": 28 * MM,
    "groove_outer_radius": 30 * MM,
    "groove_depth": 9 * MM,
}
X_BAND = (8.2e9, 12.4e9)

#: Part, band and accuracy of each case.
CASES: dict[str, tuple[Any, tuple[float, float], float]] = {
    "E bend": (Bend(GUIDE, "E", math.pi / 2, 30 * MM), X_BAND, 1e-4),
    "H bend": (Bend(GUIDE, "H", math.pi / 2, 30 * MM), X_BAND, 1e-4),
    "corner": (Corner(GUIDE, "E", math.pi / 2, 0.0), X_BAND, 1e-4),
    "twist": (Twist(GUIDE, math.pi / 2, 60 * MM), X_BAND, 1e-4),
    "taper": (Taper(GUIDE, standard_guide("WR-112"), 40 * MM), X_BAND, 1e-4),
    "TM01 joint": (
        RotatingJoint(ROUND, gap=0.5 * MM, rim_radius=50 * MM, **GROOVE),
        (9.0e9, 10.0e9),
        1e-4,
    ),
    "H bend that traps TE20": (
        Bend(GUIDE, "H", math.pi / 3, 27.432 * MM),
        (12.0e9, 13.114e9),
        1e-4,
    ),
    "TM01 joint that rings": (
        RotatingJoint(ROUND, gap=0.1 * MM, rim_radius=40 * MM, **FAR_GROOVE),
        (9.2e9, 10.6e9),
        1e-4,
    ),
    "flange with a closed rim": (
        ChokeFlange(GUIDE, 0.02 * MM, rim_radius=24 * MM, rim="closed"),
        X_BAND,
        1e-2,
    ),
}


def measure(name: str, points: int, runs: int) -> dict[str, float]:
    """Time one case."""
    part, (low, high), s_error = CASES[name]
    band = Band(low, high, points)
    solving = following = math.inf
    for _ in range(runs):
        start = time.process_time()
        solved, _ = solve_part(part, band, s_error=s_error)
        middle = time.process_time()
        whole = whole_band(solved, band.frequencies)
        solving = min(solving, middle - start)
        following = min(following, time.process_time() - middle)
    return {
        "solving_process_s": solving,
        "following_process_s": following,
        "ratio": 1 + following / solving,
        "frequencies": len(whole.scattering.frequency),
        "resonances": len(whole.resonances),
    }


def main(
    points: int = 201,
    runs: int = 5,
    names: tuple[str, ...] = tuple(CASES),
    folder: Path = RESULTS,
) -> Path:
    """Measure and record."""
    measure("E bend", 5, 1)  # warm up imports and caches
    figures: dict[str, Any] = {name: measure(name, points, runs) for name in names}
    return record("cost_whole_band", figures, folder)


if __name__ == "__main__":
    print(main().read_text())
