"""Assessing the part of a study file, for every command that does so."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from solver.commands.assess_supplements import (
    MeasuredRequest,
    Supplements,
    frequencies_of,
    supplements_of,
)

if TYPE_CHECKING:
    from solver.judgement.assessment import Assessment
    from solver.progress import ProgressLine


def assess_study(
    path: Path,
    progress: ProgressLine,
    *,
    in_space: bool = False,
    however_long: bool = False,
    request: MeasuredRequest | None = None,
    pictured: bool = True,
) -> tuple[Assessment, Supplements]:
    """Return the assessment of the part in a study file, and what is added to it.

    Parameters
    ----------
    path : Path
    progress : ProgressLine
    in_space, however_long, pictured
        As those of `solver.judgement.assess_part.assess`.
    request : MeasuredRequest, optional

    Raises
    ------
    GuideproofError, GeometryError
    KeyboardInterrupt
        With a line on what was lost; an interrupt after which an answer stands raises nothing.
    """
    from solver.studies.study import read_study

    study = read_study(path)
    request = request or MeasuredRequest(None)
    measurement = request.read(study.band, study.component.guides)
    from solver.judgement.assess_part import assessed

    try:
        assessment = assessed(
            study,
            in_space=in_space,
            however_long=however_long,
            picture_at=study.picture_at,
            pictured=pictured,
            further_at=frequencies_of(measurement),
            progress=progress,
        )
        added = supplements_of(
            study, assessment, measurement, request, in_space=in_space, progress=progress
        )
    except KeyboardInterrupt as interrupt:
        at = f", which was at: {progress.step}" if progress.step else ""
        raise KeyboardInterrupt(
            f"nothing was written of {path.name}{at}; a verdict needs the whole band, so a part "
            "that is not finished starts again"
        ) from interrupt
    return assessment, added
