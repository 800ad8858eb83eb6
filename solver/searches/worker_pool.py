"""Studies computed side by side in several processes.

Each process takes one study at a time and sends its answer back, so a process that dies takes one
point with it, and stopping the run stops them all.
"""

from __future__ import annotations

import multiprocessing
import os
import signal
import threading
from collections.abc import Callable, Iterator, Mapping
from contextlib import contextmanager, suppress
from dataclasses import dataclass
from multiprocessing.connection import Connection, wait
from typing import Any

from geometries.errors import GeometryError
from solver.errors import GuideproofError
from solver.searches.part_curves import PartCurves, Refusal
from solver.studies.messages import one_line

#: Of the study of a part, or of a run.
Compute = Callable[[Any], PartCurves]
Outcome = PartCurves | Refusal
_ONE_THREAD = ("OPENBLAS_NUM_THREADS", "MKL_NUM_THREADS", "OMP_NUM_THREADS")


def physical_cores() -> int:
    """Return the number of physical cores of this machine; at least 1."""
    import psutil

    return psutil.cpu_count(logical=False) or 1


def compute_all(
    studies: Mapping[str, Any], compute: Compute, workers: int
) -> Iterator[tuple[str, Outcome]]:
    """Compute studies, and give each with its name as it is finished.

    Parameters
    ----------
    studies : mapping of str to Study or RunStudy
    compute : callable
        A function of a module, so that other processes find it.
    workers : int
        Processes; 1 computes here.

    Yields
    ------
    str, PartCurves or Refusal

    Raises
    ------
    RuntimeError
        When a process meets a fault of this program.
    """
    workers = min(workers, len(studies))
    if workers <= 1:
        for name, study in studies.items():
            yield name, attempt(compute, study)
        return
    waiting = list(studies.items())[::-1]
    pool = [_start(compute) for _ in range(workers)]
    try:
        for worker in pool:
            worker.take(*waiting.pop())
        while busy := {worker.link: worker for worker in pool if worker.name is not None}:
            for link in wait(list(busy)):
                worker = busy[link]  # type: ignore[index]
                name, outcome = worker.finish()
                if worker.dead:
                    pool.remove(worker)
                    if waiting:
                        worker = _start(compute)
                        pool.append(worker)
                if waiting:
                    worker.take(*waiting.pop())
                yield name, outcome
    finally:
        for worker in pool:
            worker.stop()


def attempt(compute: Compute, study: Any) -> Outcome:
    """Compute a study; a part that cannot be computed gives a refusal."""
    try:
        return compute(study)
    except MemoryError as error:
        return Refusal(one_line(str(error) or "too little memory"), lasting=False)
    except (GuideproofError, GeometryError) as error:
        return Refusal(one_line(str(error)))


@dataclass(frozen=True)
class _Fault:
    """A fault of this program, in another process."""

    text: str


@dataclass
class _Worker:
    """A process, the link to it, and the study that it is at."""

    process: Any
    link: Connection
    name: str | None = None
    dead: bool = False

    def take(self, name: str, study: Any) -> None:
        self.name = name
        with suppress(OSError):  # from a process that is dead, which `finish` will see
            self.link.send(study)

    def finish(self) -> tuple[str, Outcome]:
        assert self.name is not None
        name, self.name = self.name, None
        try:
            outcome = self.link.recv()
        except (EOFError, OSError):
            self.stop()
            self.dead = True
            text = f"its process died (exit code {self.process.exitcode}); too little memory?"
            return name, Refusal(text, lasting=False)
        if isinstance(outcome, _Fault):
            raise RuntimeError(outcome.text)
        return name, outcome

    def stop(self) -> None:
        self.link.close()
        if self.process.is_alive():
            self.process.terminate()
        self.process.join(timeout=5.0)
        if self.process.is_alive():
            self.process.kill()
            self.process.join()


def _start(compute: Compute) -> _Worker:
    context = multiprocessing.get_context("spawn")
    ours, theirs = context.Pipe()
    process = context.Process(target=_serve, args=(theirs, compute), daemon=True)
    with _one_thread_each(), _deaf_to_interrupts():
        process.start()
    theirs.close()
    return _Worker(process, ours)


def _serve(link: Connection, compute: Compute) -> None:
    """Answer studies until the other end closes; what a process of the pool does."""
    while True:
        try:
            study = link.recv()
        except (EOFError, OSError):
            return
        answer: Outcome | _Fault
        try:
            answer = attempt(compute, study)
        except Exception as error:
            # Whatever it is, the process that started this one has to hear of it.
            answer = _Fault(f"{type(error).__name__}: {error}")
        try:
            link.send(answer)
        except OSError:
            return


@contextmanager
def _one_thread_each() -> Iterator[None]:
    """Let processes that start here use one thread each for dense algebra."""
    before = {name: os.environ.get(name) for name in _ONE_THREAD}
    os.environ.update(dict.fromkeys(_ONE_THREAD, "1"))
    try:
        yield
    finally:
        for name, value in before.items():
            if value is None:
                del os.environ[name]
            else:
                os.environ[name] = value


@contextmanager
def _deaf_to_interrupts() -> Iterator[None]:
    """Let processes that start here leave Ctrl-C to this one; from the main thread only."""
    if threading.current_thread() is not threading.main_thread():
        yield
        return
    before = signal.signal(signal.SIGINT, signal.SIG_IGN)
    try:
        yield
    finally:
        signal.signal(signal.SIGINT, before)
