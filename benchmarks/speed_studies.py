"""Studies at scale: a chart on one and two processes, what an engine adds, its memory.

Run: ``python benchmarks/speed_studies.py``, or with ``charts`` or ``engine`` behind it for one of
the two.  Measured:

- chart: 30 x 30 E-plane bends at 1e-5 over 41 points of band, on two processes [s];
- efficiency: time of a smaller chart on one process over twice that on two;
- overhead: points that do nothing, through the own pool and through dask's local cluster of two
  workers [s a point];
- memory: how much the process that holds dask's scheduler and client grows over many such points
  [GB]. A run ends after `most_minutes`, with the number of points it came to.

The machine's load at the start of each trial stands beside it: on a busy machine two processes
cannot have two cores. So does the time that the processes had of the cores, ``cpu_seconds``, which
says what a quiet machine would take; it too grows on a busy one, by what others do to the caches.
"""

from __future__ import annotations

import math
import os
import resource
import sys
import time
from collections.abc import Sequence
from pathlib import Path
from typing import Any

import numpy as np

ROOT = Path(__file__).parent.parent
sys.path[:0] = [str(ROOT), str(Path(__file__).parent)]

from record import RESULTS, record  # noqa: E402

from solver.searches.part_curves import Refusal  # noqa: E402

WORKERS, BOTH = 2, ("charts", "engine")
#: Dask's workers import the stub by the name of this file.
_PATH = str(Path(__file__).parent)


def nothing(study: Any) -> Any:
    """Stand for a solver that takes no time."""
    return Refusal(str(study))


def chart_time(size: int, workers: int) -> dict[str, Any]:
    """Time of one chart of `size` radii by `size` angles."""
    from solver.searches.gradualness import gradualness_chart

    load, start, used = os.getloadavg()[0], time.perf_counter(), _core_seconds()
    angles = [math.radians(a) for a in np.linspace(10.0, 180.0, size)]
    gradualness_chart("E", 2.25, angles=angles, radii=size, workers=workers)
    return {
        "seconds": time.perf_counter() - start,
        "cpu_seconds": _core_seconds() - used,
        "load_before": round(load, 2),
    }


def _core_seconds() -> float:
    """Time that this process and its ended children had of the cores [s]."""
    own, others = (resource.getrusage(w) for w in (resource.RUSAGE_SELF, resource.RUSAGE_CHILDREN))
    return sum(u.ru_utime + u.ru_stime for u in (own, others))


def pool_overhead(points: int) -> float:
    """Time of a point that does nothing in the own pool, its start left out [s]."""
    import speed_studies

    from solver.searches.worker_pool import compute_all

    studies: Any = {str(n): n for n in range(points + WORKERS)}
    start = 0.0
    for done, _ in enumerate(compute_all(studies, speed_studies.nothing, WORKERS), start=1):
        if done == WORKERS:
            start = time.perf_counter()
    return (time.perf_counter() - start) / points


def cluster_run(points: int, most_minutes: float) -> dict[str, Any]:
    """Send points that do nothing through a local cluster of dask."""
    import psutil
    import speed_studies
    from distributed import LocalCluster

    from solver.searches.cluster_pool import compute_on_cluster

    own, samples, done = psutil.Process(), [], 0
    studies: Any = {str(n): n for n in range(points)}
    load = os.getloadavg()[0]
    os.environ["PYTHONPATH"] = os.pathsep.join([str(ROOT), _PATH])
    with LocalCluster(
        n_workers=WORKERS, threads_per_worker=1, processes=True, dashboard_address=":0"
    ) as cluster:
        before, start = own.memory_info().rss, time.perf_counter()
        for _ in compute_on_cluster(studies, speed_studies.nothing, cluster.scheduler_address):
            done += 1
            if done % max(1, points // 20) == 0:
                samples.append((done, (own.memory_info().rss - before) / 1e9))
            if time.perf_counter() - start > 60 * most_minutes:
                break
        seconds = time.perf_counter() - start
        grown = (own.memory_info().rss - before) / 1e9
    return {
        "points": done,
        "each_s": seconds / done,
        "grown_gb": grown,
        "grown_gb_after": samples,
        "load_before": round(load, 2),
    }


def main(
    wanted: Sequence[str] = BOTH,
    size: int = 30,
    small: int = 10,
    points: int = 2000,
    many: int = 100_000,
    most_minutes: float = 60.0,
    folder: Path = RESULTS,
) -> Path:
    """Measure and record."""
    figures: dict[str, Any] = {}
    if "charts" in wanted:
        one, two = (chart_time(small, workers) for workers in (1, WORKERS))
        figures |= {
            "chart": chart_time(size, WORKERS) | {"bends": size**2},
            "small_chart": {"one": one, "two": two, "bends": small**2},
            "efficiency": one["seconds"] / (WORKERS * two["seconds"]),
        }
    if "engine" in wanted:
        figures |= {
            "own_pool_each_s": pool_overhead(points),
            "dask": cluster_run(many, most_minutes),
        }
    name = "speed_studies" if len(wanted) > 1 else f"speed_studies_{wanted[0]}"
    return record(name, figures, folder)


if __name__ == "__main__":
    print(main(wanted=tuple(sys.argv[1:]) or BOTH).read_text())
