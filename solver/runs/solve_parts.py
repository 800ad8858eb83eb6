"""All parts of a run: equal ones once, kept ones not at all, the others side by side."""

from __future__ import annotations

import functools
from collections.abc import Callable, Mapping
from typing import TYPE_CHECKING, Any

from geometries.shapes.part import known_part
from solver.errors import StudyError
from solver.progress import Progress
from solver.runs.part_store import PartStore
from solver.runs.part_task import KeptPart, PartTask, compute_part
from solver.searches.part_curves import Refusal
from solver.searches.worker_pool import compute_all

if TYPE_CHECKING:
    from solver.judgement.assessment import Assessment

Report = Callable[["Assessment"], dict[str, bytes]]


def solve_parts(
    tasks: Mapping[str, Any],
    names: Mapping[str, str],
    *,
    workers: int = 1,
    store: PartStore | None = None,
    report: Report | None = None,
    progress: Progress | None = None,
) -> dict[str, KeptPart]:
    """Compute tasks that differ.

    Parameters
    ----------
    tasks : mapping of str to PartTask
        By fingerprint.
    names : mapping of str to str
        What to call each in a message.
    workers : int
        Processes.
    store : PartStore, optional
        Keeps every finished part, and gives back those of a run before.
    report : callable, optional
        A function of a module that gives the files of a part's own report.
    progress : callable, optional

    Returns
    -------
    dict of str to KeptPart

    Raises
    ------
    StudyError
        When a part cannot be computed.
    """
    shelf = store or PartStore(None)
    found = {key: kept for key in tasks if (kept := shelf.get(key)) is not None}
    todo = {key: task for key, task in tasks.items() if key not in found}
    heavy = sum(_takes_long(task) for task in todo.values())
    total = len(tasks)

    def tell() -> None:
        if progress is not None and todo:
            progress(f"{len(found)} of {total} different parts", len(found) / total)

    tell()
    # a process takes longer to start than an exact plane to solve
    crew = workers if heavy > 1 else 1
    compute: Any = functools.partial(_compute, report=report)
    for key, outcome in compute_all(todo, compute, crew):
        result: Any = outcome
        if isinstance(result, Refusal):
            raise StudyError(f"{names[key]}: {result.reason}")
        shelf.add(key, result)
        found[key] = result
        tell()
    return found


def _compute(task: Any, report: Report | None) -> KeptPart:
    if isinstance(task, PartTask):
        return compute_part(task, report)
    return task.compute()


def _takes_long(task: Any) -> bool:
    return not isinstance(task, PartTask) or known_part(task.component).exact_plane is None
