"""How a long computation tells what it is doing; a short one says nothing."""

from __future__ import annotations

import sys
import threading
import time
from types import TracebackType
from typing import Protocol, Self, TextIO

#: A wait shorter than this needs no explanation [s].
PATIENCE = 1.0
#: Shorter steps need no estimate [s].
_WORTH_TELLING = 5.0
#: A share of the work this large tells how long the rest will take.
_TELLING = 0.05


class Progress(Protocol):
    """How a long computation tells what it is doing."""

    def __call__(self, step: str, fraction: float | None = None) -> None:
        """Take the name of the step that begins, and how much of the whole is done (0 to 1)."""


def ends_early(progress: Progress | None) -> bool:
    """Return whether an interrupted computation shall hand on what it has finished.

    Parameters
    ----------
    progress : callable or None
        Made with ``keeps=True`` by who wants that; it remembers the interrupt.
    """
    if not getattr(progress, "keeps", False):
        return False
    progress.interrupted = True  # type: ignore[union-attr]
    return True


def duration_text(seconds: float) -> str:
    """Return a time in words, to two digits at most.

    Examples
    --------
    >>> duration_text(90.0), duration_text(600.0)
    ('90 s', '10 min')
    """
    for unit, size in (("h", 3600.0), ("min", 60.0)):
        if seconds >= 2 * size:
            return f"{seconds / size:.0f} {unit}"
    return f"{seconds:.0f} s"


def time_text(seconds: float) -> str:
    """Return about how long a step takes, to stand behind its name; empty for a short one.

    Examples
    --------
    >>> time_text(2.0), time_text(90.0)
    ('', ', about 90 s')
    """
    return f", about {duration_text(seconds)}" if seconds >= _WORTH_TELLING else ""


class ProgressLine:
    """Shows on standard error the current step once the work has taken longer than `PATIENCE`.

    On a terminal it is one line that goes away at the end; elsewhere each step is a line.

    Parameters
    ----------
    stream : text stream, optional
        Standard error by default.
    patience : float, optional
        Time before anything is shown [s].
    keeps : bool
        Whether an interrupt shall end the work with what is finished; see `ends_early`.

    Attributes
    ----------
    interrupted : bool
        Whether it did.
    within : str
        Of what larger work it is a part; shown before each step.

    Examples
    --------
    ``with ProgressLine() as progress: progress("mesh", 0.1)``
    """

    def __init__(
        self, stream: TextIO | None = None, patience: float = PATIENCE, *, keeps: bool = False
    ) -> None:
        self.keeps, self.interrupted = keeps, False
        self.within = ""
        self._stream = stream if stream is not None else sys.stderr
        self._patience = patience
        self._step = ""
        self._fraction: float | None = None
        self._first: tuple[float, float] | None = None
        self._done = threading.Event()
        self._thread = threading.Thread(target=self._show, daemon=True)

    def __call__(self, step: str, fraction: float | None = None) -> None:
        """Take the name of the step that begins, and how much of the whole is done."""
        now = time.monotonic()
        if self._first is None and fraction is not None:
            self._first = (now, fraction)
        if self._first is not None and fraction is not None and "left" not in step:
            began, at = self._first
            if fraction > at + _TELLING and now > began:
                left = (now - began) / (fraction - at) * (1.0 - fraction)
                step += f", about {duration_text(left)} left"
        self._step = f"{self.within}: {step}" if self.within else step
        self._fraction = fraction

    @property
    def step(self) -> str:
        """The current step; empty before the first."""
        return self._step

    def __enter__(self) -> Self:
        self._thread.start()
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        self._done.set()
        self._thread.join()

    def _show(self) -> None:
        if self._done.wait(self._patience):
            return
        if self._stream.isatty():
            self._show_on_terminal()
        else:
            self._show_lines()

    def _show_lines(self) -> None:
        shown = ""
        while True:
            if self._step != shown:  # nothing is said before the first step
                shown = self._step
                part = "" if self._fraction is None else f" ({self._fraction:.0%})"
                print(f"guideproof: {shown}{part}", file=self._stream, flush=True)
            if self._done.wait(1.0):
                return

    def _show_on_terminal(self) -> None:
        from rich import progress
        from rich.console import Console

        columns = (
            progress.SpinnerColumn(),
            progress.TextColumn("{task.description}", markup=False),
            progress.BarColumn(),
            progress.TimeElapsedColumn(),
        )
        with progress.Progress(*columns, console=Console(file=self._stream), transient=True) as bar:
            task = bar.add_task(self._step, total=None)
            while not self._done.wait(0.1):
                total = None if self._fraction is None else 1.0
                bar.update(
                    task, description=self._step, total=total, completed=self._fraction or 0.0
                )
