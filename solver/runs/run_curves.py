"""Whole runs as points of a grid or a search: equal parts of all of them are solved once."""

from __future__ import annotations

import tempfile
from collections import OrderedDict
from collections.abc import Iterator, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from functools import cache, partial
from pathlib import Path
from typing import Any

from solver.progress import Progress
from solver.runs.part_store import PartStore
from solver.runs.part_task import KeptPart, PartTask, compute_part
from solver.runs.run_parts import run
from solver.runs.run_result import RunResult
from solver.runs.run_units import laid_out, part_tasks
from solver.searches.part_curves import BandCurve, PartCurves, Refusal, curves_of
from solver.searches.varied_runs import is_run
from solver.searches.worker_pool import compute_all
from solver.studies.run_study import RunStudy

#: Parts that a process keeps in memory where there is no folder for them.
_MOST_IN_MEMORY = 500


@dataclass(frozen=True)
class RunCurves:
    """Gives the curves of a run, with the parts that are kept in a folder.

    Parameters
    ----------
    folder : Path or None
        In which other processes find the parts too; None keeps them in the memory of this one.
    """

    folder: Path | None

    def __call__(self, study: RunStudy) -> PartCurves:
        """Compute a run over its band.

        Raises
        ------
        StudyError, GeometryError, LinearSolveError, ProblemSizeError
        """
        return curves_of_run(
            run(
                study.parts,
                study.band,
                end_vswr=study.end_vswr,
                s_error=study.s_error,
                walls=study.walls,
                title=study.title,
                store=_own_store() if self.folder is None else PartStore(self.folder),
            )
        )


def curves_of_run(result: RunResult) -> PartCurves:
    """Return what the transmitter sees of a run, in the shape that grids and searches judge."""
    matrix, listed, whole = result.scattering, result.listed, result.whole
    return PartCurves(
        frequency=matrix.frequency,
        port_modes=matrix.port_modes,
        s11=listed.s11,
        s21=matrix.s21 if matrix.transmitted is not None else None,
        error=listed.error,
        leaked_power=matrix.leaked_power,
        dissipated_power=matrix.dissipated_power,
        reached=bool(result.provenance["accuracy_reached"]),
        whole=BandCurve(
            frequency=whole.frequency,
            port_modes=whole.port_modes,
            s11=whole.s11,
            error=whole.error,
            leaked_power=whole.leaked_power,
            leaked_error=whole.leaked_error,
            resonances=result.resonances,
            unsampled=result.unsampled,
        ),
    )


@contextmanager
def computing(
    tables: Mapping[str, Any],
    folder: Path | None,
    *,
    workers: int = 1,
    engine: bool = False,
    progress: Progress | None = None,
) -> Iterator[dict[str, Any]]:
    """Say how the points of a study, or of a run, are computed.

    Parameters
    ----------
    tables : mapping
        Those of the study or of the run.
    folder : Path or None
        Of the results; it keeps finished parts of runs.
    workers : int
        Processes of this machine.
    engine : bool
        Whether a cluster computes, on machines that may have no folder in common.
    progress : callable, optional

    Yields
    ------
    dict
        ``compute`` and ``prepare`` of `solver.searches.explore.explore`.
    """
    if not is_run(tables):
        yield {"compute": curves_of}
    elif engine:
        yield {"compute": RunCurves(None)}
    elif folder is not None:
        yield _locally(folder, workers, progress)
    else:
        with tempfile.TemporaryDirectory(prefix="guideproof-parts-") as place:
            yield _locally(Path(place), workers, progress)


def _locally(folder: Path, workers: int, progress: Progress | None) -> dict[str, Any]:
    prepare = partial(solve_all_parts, folder=folder, workers=workers, progress=progress)
    return {"compute": RunCurves(folder), "prepare": prepare}


def solve_all_parts(
    studies: Sequence[RunStudy],
    *,
    folder: Path,
    workers: int = 1,
    progress: Progress | None = None,
) -> None:
    """Solve every part that the runs hold and that is not kept yet, side by side.

    A part that cannot be computed is left to the runs it stands in, which tell why.

    Parameters
    ----------
    studies : sequence of RunStudy
    folder : Path
        Where finished parts are kept.
    workers : int
    progress : callable, optional

    Raises
    ------
    OutputError
        If a part cannot be written.
    """
    store = PartStore(folder)
    tasks: dict[str, PartTask] = {}
    for study in studies:
        stations, _ = laid_out(study.parts)
        tasks |= part_tasks(stations, study.band, study.s_error, study.walls)
    todo: Any = {key: task for key, task in tasks.items() if store.get(key) is None}
    compute: Any = compute_part
    for done, (key, outcome) in enumerate(compute_all(todo, compute, workers), start=1):
        kept: Any = outcome
        if not isinstance(kept, Refusal):
            store.add(key, kept)
        if progress is not None:
            progress(f"{done} of {len(todo)} different parts", done / len(todo))


class _Memory(PartStore):
    """Finished parts in the memory of this process, the latest of them."""

    def __init__(self) -> None:
        super().__init__(None)
        self._parts: OrderedDict[str, KeptPart] = OrderedDict()

    def get(self, fingerprint: str) -> KeptPart | None:
        """Return the part with this fingerprint, if it is there."""
        return self._parts.get(fingerprint)

    def add(self, fingerprint: str, part: KeptPart) -> None:
        """Keep a part, in the place of the oldest where there are too many."""
        self._parts[fingerprint] = part
        while len(self._parts) > _MOST_IN_MEMORY:
            self._parts.popitem(last=False)


@cache
def _own_store() -> PartStore:
    return _Memory()
