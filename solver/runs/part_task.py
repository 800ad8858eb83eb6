"""One part of a run, computed by itself: what another process does, and what is kept of it."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Callable
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any

import numpy as np

from solver.errors import UnsupportedPartError
from solver.progress import Progress
from solver.runs.sampled_part import SampledPart, sampled
from solver.studies.band import Band
from solver.studies.plain_values import described_component, described_guide, file_content, plain
from solver.version import installed_version
from solver.waves.walls import Walls

if TYPE_CHECKING:
    from solver.judgement.assessment import Assessment

#: Changes whenever what is kept of a part, or how it is computed, changes.
RECORD = 3


@dataclass(frozen=True)
class PartTask:
    """A part to compute.

    Parameters
    ----------
    component : Part
    band : Band
    s_error : float
        Wanted bound on the error of its S-parameters [-].
    walls : Walls or None
    """

    component: Any
    band: Band
    s_error: float
    walls: Walls | None

    @property
    def fingerprint(self) -> str:
        """A short text that differs between any two computations with different answers."""
        part = self.component
        told = {
            "version": installed_version(),
            "record": RECORD,
            "component": described_component(part),
            "guide": described_guide(part.guide),
            "frequency_hz": self.band.frequencies,
            "s_error": self.s_error,
            "conductivity": self.walls.conductivity if self.walls is not None else None,
        }
        if (content := file_content(part)) is not None:
            told["file"] = content
        text = json.dumps(plain(told), sort_keys=True)
        return hashlib.sha256(text.encode("ascii")).hexdigest()[:32]


@dataclass(frozen=True, eq=False)
class KeptPart:
    """A part that is computed.

    Parameters
    ----------
    sampled : SampledPart
    facts : dict
        Plain values: ``worst_s11``, ``worst_s11_error``, ``worst_loss_db``, ``breakdown_w`` (None
        where unknown), ``method``, ``cautions``, ``factorisations``, ``seconds``.
    files : mapping of str to bytes
        Its own report; empty if none was wanted.
    """

    sampled: SampledPart
    facts: dict[str, Any]
    files: dict[str, bytes] = field(default_factory=dict)


def compute_part(
    task: PartTask,
    report: Callable[[Assessment], dict[str, bytes]] | None = None,
    progress: Progress | None = None,
) -> KeptPart:
    """Compute a part by itself, matched on both sides.

    Parameters
    ----------
    task : PartTask
    report : callable, optional
        Gives the files of the part's own report, by name.
    progress : callable, optional

    Returns
    -------
    KeptPart

    Raises
    ------
    GeometryError, GuideproofError
        As `solver.judgement.assess_part.assess`.
    """
    from threadpoolctl import threadpool_limits

    from solver.judgement.assess_part import assess

    seen: list[Any] = []
    cautions = []

    def assessed(walls: Walls | None) -> Assessment:
        return assess(
            task.component,
            task.band,
            s_error=task.s_error,
            walls=walls,
            title=f"{task.component.kind} in {task.component.guide.label}",
            however_long=True,
            shown=lambda solved, whole: seen.extend((solved, whole)),
            progress=progress,
        )

    try:
        assessment = assessed(task.walls)
    except UnsupportedPartError:
        if task.walls is None:
            raise
        assessment = assessed(None)
        cautions.append("the loss in its own walls is not computed and left out")
    solved, whole = seen
    with threadpool_limits(1, user_api="blas"):
        part = sampled(
            solved,
            task.band.frequencies,
            task.s_error,
            feeds=solved.feeds,
            resonances=whole.resonances,
        )
    over = whole.scattering
    peak = assessment.peak_field
    passing = over.transmitted is not None
    at = int(np.argmax(np.abs(over.s11)))
    facts = plain(
        {
            "worst_s11": float(np.abs(over.s11[at])),
            "worst_s11_error": float(over.error[at]),
            "worst_loss_db": float(over.insertion_loss_db.max()) if passing else None,
            "breakdown_w": peak.field_limit if peak is not None else None,
            "method": solved.method,
            "cautions": [*cautions, *whole.notes],
            "factorisations": solved.factorisations,
            "seconds": sum(solved.seconds.values()),
        }
    )
    return KeptPart(part, facts, report(assessment) if report is not None else {})
