"""Ways to compute points side by side: ours against pools of well-known libraries.

Run: ``python benchmarks/worker_pools.py``.  Two workers each; a library that is not installed is
left out (``pip install loky "dask[distributed]"`` for all). Measured for each pool:

- start: from nothing until two points are back that import the solver and do nothing [s];
- each: further points that do nothing, sent and answered [s a point];
- memory: of a worker that has imported what a point needs (proportional share, so that pages which
  forked workers share count once), and of helpers beside the workers [GB];
- killed: one of eight points kills its worker with SIGKILL: how many others come back, whether the
  poisoned one is tried again, and how long it takes;
- interrupt: Ctrl-C to the whole group of processes while points run, as a terminal sends it: how
  long until the end, processes left behind, points given out before it, lines on the screen.

Every trial runs in a process of its own.
"""

from __future__ import annotations

import argparse
import importlib.util
import json
import os
import signal
import statistics
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager, suppress
from pathlib import Path
from typing import Any

ROOT = Path(__file__).parent.parent
sys.path[:0] = [str(ROOT), str(Path(__file__).parent)]

WORKERS = 2
POOLS = ("worker_pool", "futures_spawn", "futures_forkserver", "loky", "dask")
#: What has to be installed.
NEEDS = {"loky": "loky", "dask": "distributed"}
POISON = 3
#: What ends an executor soonest.
_GIVEN_UP: dict[str, Any] = {"wait": False, "cancel_futures": True}
Run = Callable[[Callable[[Any], Any], list[Any]], Iterator[tuple[Any, Any]]]


def nothing(point: Any) -> Any:
    """Import what a point needs, and answer at once."""
    import solver.judgement.assess_part  # noqa: F401

    return point


def loaded(_: Any) -> float:
    """Import what a point needs; give this worker's share of memory a second later [GB]."""
    import psutil

    import solver.judgement.assess_part  # noqa: F401

    time.sleep(1.0)  # so that each worker gets one
    return float(psutil.Process().memory_full_info().pss / 1e9)


def poisoned(point: tuple[int, str]) -> int:
    """Take a while; one point kills its worker, and writes down that it was tried."""
    number, log = point
    time.sleep(0.2)
    if number == POISON:
        with Path(log).open("a") as file:
            file.write("tried\n")
        os.kill(os.getpid(), signal.SIGKILL)
    return number


def slow(point: int) -> int:
    """Take half a second."""
    time.sleep(0.5)
    return point


@contextmanager
def pool(name: str) -> Iterator[Run]:
    """A function that computes points and gives each with its answer as it is finished.

    An exception stands for an answer that did not come.
    """
    if name == "worker_pool":
        yield _ours
    elif name == "dask":
        from distributed import Client, LocalCluster

        cluster = LocalCluster(
            n_workers=WORKERS, threads_per_worker=1, processes=True, dashboard_address=":0"
        )
        with cluster, Client(cluster) as client:
            yield _of_dask(client)
    else:
        executor = _executor(name)
        try:
            yield _of_executor(executor)
        except BaseException:
            executor.shutdown(**({"kill_workers": True} if name == "loky" else _GIVEN_UP))
            raise
        executor.shutdown()


def _ours(compute: Callable[[Any], Any], points: list[Any]) -> Iterator[tuple[Any, Any]]:
    from solver.searches.part_curves import Refusal
    from solver.searches.worker_pool import compute_all

    studies: Any = {str(i): point for i, point in enumerate(points)}
    for key, answer in compute_all(studies, compute, WORKERS):
        yield points[int(key)], RuntimeError() if isinstance(answer, Refusal) else answer


def _executor(name: str) -> Any:
    if name == "loky":
        import loky

        return loky.ProcessPoolExecutor(WORKERS)
    from concurrent.futures import ProcessPoolExecutor
    from multiprocessing import get_context

    return ProcessPoolExecutor(WORKERS, get_context(name.removeprefix("futures_")))


def _of_executor(executor: Any) -> Run:
    from concurrent.futures import as_completed

    def run(compute: Callable[[Any], Any], points: list[Any]) -> Iterator[tuple[Any, Any]]:
        asked = {executor.submit(compute, point): point for point in points}
        for future in as_completed(asked):
            yield asked[future], future.exception() or future.result()

    return run


def _of_dask(client: Any) -> Run:
    from distributed import as_completed

    def run(compute: Callable[[Any], Any], points: list[Any]) -> Iterator[tuple[Any, Any]]:
        asked = {client.submit(compute, point, pure=False): point for point in points}
        for future in as_completed(asked):
            yield asked[future], future.exception() or future.result()

    return run


def trial_time(name: str, points: int) -> dict[str, float]:
    """Start-up, imports included, and time of each point once that is over."""
    start = time.perf_counter()
    with pool(name) as run:
        list(run(nothing, [0, 1]))
        ready = again = time.perf_counter()
        for number, _ in enumerate(run(nothing, list(range(points)))):
            if number == 1 and name == "worker_pool":  # it starts its workers for each call
                again = time.perf_counter()
        each = (time.perf_counter() - again) / points
    return {"start_s": ready - start, "each_s": each}


def trial_memory(name: str) -> dict[str, float]:
    """Memory of a worker, and of processes that are no workers."""
    import psutil

    with pool(name) as run:
        each = statistics.mean(answer for _, answer in run(loaded, [0, 1]))
        shares = []
        for child in psutil.Process().children(recursive=True):
            with suppress(psutil.Error):
                shares.append(child.memory_full_info().pss / 1e9)
        helpers = sorted(shares)[: max(0, len(shares) - WORKERS)]
    return {"worker_gb": each, "helpers_gb": sum(helpers)}


def trial_killed(name: str) -> dict[str, Any]:
    """One of eight points kills its worker."""
    with tempfile.TemporaryDirectory() as folder:
        log = Path(folder) / "log"
        start = time.perf_counter()
        back = lost = 0
        fault = ""
        try:
            with pool(name) as run:
                for _, answer in run(poisoned, [(n, str(log)) for n in range(8)]):
                    back += not isinstance(answer, Exception)
                    lost += isinstance(answer, Exception)
        except Exception as error:  # whatever a library raises is the finding
            fault = type(error).__name__
        tries = len(log.read_text().splitlines())
        seconds = time.perf_counter() - start
    return {"back": back, "lost": lost, "tries": tries, "seconds": seconds, "fault": fault}


def trial_interrupt(name: str) -> None:
    """Compute for ever; write each point down as it comes, until Ctrl-C."""
    with pool(name) as run:
        for point, _ in run(slow, list(range(200))):
            print("point", point, flush=True)


def interrupted(name: str) -> dict[str, Any]:
    """Send Ctrl-C to a group of processes once points come; see what is left of it."""
    import psutil

    words = [sys.executable, __file__, "--pool", name, "--trial", "interrupt"]
    with tempfile.TemporaryFile("w+") as errors:
        child = subprocess.Popen(
            words, stdout=subprocess.PIPE, stderr=errors, text=True, start_new_session=True
        )
        assert child.stdout is not None
        printed = [child.stdout.readline() for _ in range(3)]
        family = psutil.Process(child.pid).children(recursive=True)
        os.killpg(child.pid, signal.SIGINT)
        start = time.perf_counter()
        with suppress(subprocess.TimeoutExpired):
            child.wait(timeout=30.0)
        seconds = time.perf_counter() - start
        ended = child.poll() is not None
        time.sleep(1.0)
        orphans = 0
        for process in family:
            with suppress(psutil.Error):
                if process.is_running() and process.status() != psutil.STATUS_ZOMBIE:
                    orphans += 1
                    process.kill()
        if not ended:
            child.kill()
        printed += child.stdout.readlines()
        child.stdout.close()
        child.wait()
        errors.seek(0)
        noise = len(errors.read().splitlines())
    points = sum(line.startswith("point") for line in printed)
    return {
        "ended": ended,
        "seconds": seconds,
        "orphans": orphans,
        "points_given_out": points,
        "lines_on_screen": noise,
    }


def in_process(name: str, trial: str, *more: str) -> dict[str, Any]:
    """Run one trial in a process of its own."""
    words = [sys.executable, __file__, "--pool", name, "--trial", trial, *more]
    ran = subprocess.run(
        words, stdout=subprocess.PIPE, stderr=subprocess.DEVNULL, text=True, check=True, timeout=120
    )
    return dict(json.loads(ran.stdout.splitlines()[-1]))


def main(
    points: int = 200, runs: int = 3, names: tuple[str, ...] = POOLS, folder: Path | None = None
) -> Path:
    """Try every pool that is there, and record."""
    from record import RESULTS, record

    figures: dict[str, Any] = {"workers": WORKERS, "points": points}
    for name in names:
        if name in NEEDS and importlib.util.find_spec(NEEDS[name]) is None:
            continue
        times = [in_process(name, "time", "--points", str(points)) for _ in range(runs)]
        figures[name] = {
            **{key: min(row[key] for row in times) for key in times[0]},
            **in_process(name, "memory"),
            "killed": in_process(name, "killed"),
            "interrupt": interrupted(name),
        }
        print(name, json.dumps(figures[name]), flush=True)
    return record("worker_pools", figures, RESULTS if folder is None else folder)


def _arguments() -> argparse.Namespace:
    parser = argparse.ArgumentParser(description=(__doc__ or "").partition("\n")[0])
    parser.add_argument("--pool", choices=POOLS)
    parser.add_argument("--trial", choices=("time", "memory", "killed", "interrupt"))
    parser.add_argument("--points", type=int, default=200)
    return parser.parse_args()


if __name__ == "__main__":
    given = _arguments()
    if given.trial == "interrupt":
        trial_interrupt(given.pool)
    elif given.trial == "time":
        print(json.dumps(trial_time(given.pool, given.points)))
    elif given.trial:
        print(json.dumps({"memory": trial_memory, "killed": trial_killed}[given.trial](given.pool)))
    else:
        print(main())
