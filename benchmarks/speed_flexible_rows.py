"""Flexible guides: a row of condensed pieces against all convolutions in one mesh.

Run: ``python benchmarks/speed_flexible_rows.py``.  Both sides take the same elements and search
the same orders until their error bar is under 1e-4; the one mesh is left out where it would take
minutes. ``assess_30_s`` is the whole answer for 30 convolutions, verdict and stopbands included.
"""

from __future__ import annotations

import sys
import time
from collections.abc import Sequence
from pathlib import Path
from typing import Any

import numpy as np

ROOT = Path(__file__).parent.parent
sys.path[:0] = [str(ROOT), str(Path(__file__).parent)]

from record import RESULTS, record  # noqa: E402
from threadpoolctl import threadpool_limits  # noqa: E402

from geometries import Flexible, standard_guide  # noqa: E402
from solver.judgement.assess_part import assess  # noqa: E402
from solver.parts.flexible_problem import FlexibleProblem  # noqa: E402
from solver.parts.flexible_solver import solve_flexible  # noqa: E402
from solver.studies.band import Band  # noqa: E402

#: A guide as flexible ones are made: pitch and depth [m].
PITCH, DEPTH = 3e-3, 1e-3


def part(count: int) -> Flexible:
    """Return a straight piece in WR-90."""
    return Flexible(standard_guide("WR-90"), PITCH, DEPTH, count)


def timed(count: int, whole: bool, s_error: float, points: int) -> tuple[dict[str, float], Any]:
    """Solve once; give elapsed and process time [s], the bar, and S."""
    frequency = np.linspace(8.2e9, 12.4e9, points)
    wall, cpu = time.perf_counter(), time.process_time()
    with threadpool_limits(1, user_api="blas"):
        problem = FlexibleProblem(part(count), frequency, s_error, whole)
        found = solve_flexible(problem, frequency, s_error).found
    modes = len(problem.modes[0])
    figures = {
        "elapsed_s": time.perf_counter() - wall,
        "process_s": time.process_time() - cpu,
        "bar": float(found.error.max()),
        "order": found.order,
    }
    return figures, found.s[:, [0, modes]][:, :, [0, modes]]


def main(
    folder: Path = RESULTS,
    counts: Sequence[int] = (6, 12, 30),
    largest_whole: int = 6,
    s_error: float = 1e-4,
    assessed: int = 30,
    points: int = 201,
) -> Path:
    """Time all counts and record them."""
    figures: dict[str, Any] = {}
    for count in counts:
        row, s = timed(count, False, s_error, points)
        figures[str(count)] = {"row": row}
        if count <= largest_whole:
            whole, other = timed(count, True, s_error, points)
            figures[str(count)] |= {
                "whole": whole,
                "ratio": whole["process_s"] / row["process_s"],
                "largest_difference_of_s": float(np.abs(s - other).max()),
            }
    wall, cpu = time.perf_counter(), time.process_time()
    assess(part(assessed), Band(8.2e9, 12.4e9, points), s_error=s_error)
    figures[f"assess_{assessed}_s"] = time.perf_counter() - wall
    figures[f"assess_{assessed}_process_s"] = time.process_time() - cpu
    return record("speed_flexible_rows", figures, folder)


if __name__ == "__main__":
    print(main())
