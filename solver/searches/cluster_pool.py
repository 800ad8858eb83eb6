"""Studies computed on a running cluster of dask workers.

The answers come back one by one, as with `worker_pool`; a worker that dies takes its point with
it only if that point kills every worker that tries it, and a client that is killed leaves what it
was given on disk.
"""

from __future__ import annotations

import math
import threading
import time
from collections.abc import Iterator, Mapping
from typing import Any

from solver.errors import EngineError
from solver.searches.part_curves import Refusal
from solver.searches.worker_pool import Compute, Outcome, attempt
from solver.studies.messages import one_line

#: Time to find the scheduler, and between looks at whether it is still there [s].
_PATIENCE, _LOOK = 10.0, 2.0
#: Points sent ahead for each thread of the cluster; the scheduler's memory stays small.
_AHEAD, _LEAST_AHEAD = 3, 16

#: A worker may have several threads; meshes and direct solver want the process to themselves.
_ALONE = threading.Lock()


def alone(compute: Compute, study: Any) -> Outcome:
    """Compute a study on a worker, one at a time in its process and with one thread."""
    from threadpoolctl import threadpool_limits

    with _ALONE, threadpool_limits(1):
        return attempt(compute, study)


def compute_on_cluster(
    studies: Mapping[str, Any], compute: Compute, address: str
) -> Iterator[tuple[str, Outcome]]:
    """Compute studies on the workers of a scheduler, and give each as it is finished.

    Parameters
    ----------
    studies : mapping of str to Study or RunStudy
    compute : callable
        A function of a module, which the workers import.
    address : str
        Of a running scheduler, as ``"tcp://127.0.0.1:8786"``.

    Yields
    ------
    str, PartCurves or Refusal

    Raises
    ------
    EngineError
        When dask is not installed, or the scheduler does not answer or goes away.
    RuntimeError
        When a worker meets a fault of this program.
    """
    client, wait, killed = _client(address)
    import dask

    shown = one_line(address)
    waiting = list(studies.items())[::-1]
    running: dict[Any, str] = {}
    ahead = _Ahead(client)
    try:
        while waiting or running:
            _feed(client, waiting, running, compute, ahead)
            try:
                done = wait(list(running), timeout=_LOOK, return_when="FIRST_COMPLETED").done
            except TimeoutError:
                done = ()
            if client.status != "running":
                raise EngineError(f"engine {shown}: it went away; finished points are kept")
            for future in done:
                yield running.pop(future), _outcome(future, killed, shown)
    except OSError as error:
        reason = one_line(str(error) or type(error).__name__)
        raise EngineError(f"engine {shown}: it went away ({reason})") from error
    finally:
        client.close(timeout=_LOOK)
        # or every later use of dask in this process would ask for a client
        dask.config.config.pop("scheduler", None)


def _client(address: str) -> tuple[Any, Any, type[Exception]]:
    shown = one_line(address)
    try:
        from distributed import Client, KilledWorker, wait
    except ImportError as error:
        raise EngineError(
            f"engine {shown}: dask is not installed; add it by: pip install 'guideproof[cluster]'"
        ) from error
    try:
        return Client(address, timeout=_PATIENCE), wait, KilledWorker
    except (OSError, TimeoutError, ValueError) as error:
        raise EngineError(
            f"engine {shown}: no scheduler answers there within {_PATIENCE:g} s; give the address "
            "that dask-scheduler printed, as tcp://127.0.0.1:8786"
        ) from error


class _Ahead:
    """How many points are sent ahead, by the threads that the cluster has now."""

    def __init__(self, client: Any) -> None:
        self._client = client
        self._points, self._looked = 0, -math.inf

    @property
    def points(self) -> int:
        """Asking takes a round trip, so it is done now and then: workers may come and go."""
        if time.monotonic() - self._looked > _LOOK:
            threads = sum(self._client.nthreads().values())
            self._points = max(_AHEAD * threads, _LEAST_AHEAD)
            self._looked = time.monotonic()
        return self._points


def _feed(
    client: Any,
    waiting: list[tuple[str, Any]],
    running: dict[Any, str],
    compute: Compute,
    ahead: _Ahead,
) -> None:
    """Send points until so many are on their way."""
    if not waiting:
        return
    most = ahead.points
    while waiting and len(running) < most:
        name, study = waiting.pop()
        # the result of an equal point of another run may be one of another version
        running[client.submit(alone, compute, study, pure=False)] = name


def _outcome(future: Any, killed: type[Exception], shown: str) -> Outcome:
    if future.status == "finished":
        return future.result()
    if future.status in ("cancelled", "lost"):
        raise EngineError(f"engine {shown}: it dropped a point; run the same command again")
    error = future.exception()
    if isinstance(error, killed):
        return Refusal("every worker that tried it died; too little memory?", lasting=False)
    raise RuntimeError(f"on a worker: {type(error).__name__}: {error}")
