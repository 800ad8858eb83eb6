"""``guideproof assess`` of several studies: one table, the exit code of the worst."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from geometries.errors import GeometryError
from solver.commands.assess_study import assess_study
from solver.commands.assess_supplements import MeasuredRequest, Supplements
from solver.commands.printing import (
    INTERRUPTED,
    print_json,
    run_record,
    write_folder,
    writes_inches,
)
from solver.errors import GuideproofError
from solver.studies.inches import told_in_inches

if TYPE_CHECKING:
    from solver.judgement.assessment import Assessment

#: From the best to the worst: met, undecided, exceeded, cannot be used.
_WORSE = (0, 3, 1, 2)
CANNOT_BE_USED, NOT_REACHED = "cannot be used", "not computed"


@dataclass(frozen=True)
class _Answer:
    """What one study came to: an assessment, or why there is none."""

    path: Path
    assessment: Assessment | None
    added: Supplements
    outcome: str
    reason: str = ""

    @property
    def code(self) -> int:
        return self.assessment.verdict.exit_code if self.assessment is not None else 2


def assess_many(
    studies: Sequence[Path],
    folder: Path | None,
    in_space: bool,
    however_long: bool,
    request: MeasuredRequest,
    as_json: bool,
    every_rule: bool = False,
) -> int:
    """Judge the parts of several study files and print one summary.

    Each study's files go into a folder of its own, named after it, as soon as it is finished.

    Returns
    -------
    int
        Exit code of the worst study; 130 after an interrupt.

    Raises
    ------
    click.UsageError
        When a measurement is given, or two studies would share a folder.
    StudyError
        When a study cannot be read; nothing is computed then.
    """
    from solver.progress import ProgressLine
    from solver.studies.study import read_study

    if request.file is not None:
        raise click.UsageError("--measured: goes with one study; give one")
    twice = [path for path in studies if [p.stem for p in studies].count(path.stem) > 1]
    if folder is not None and twice:
        raise click.UsageError(
            f"{twice[0]}: -o names a folder for each study after its file, and two are called "
            f"{twice[0].stem}; rename one"
        )
    for path in studies:
        read_study(path)
    answers: list[_Answer] = []
    stopped = False
    for number, path in enumerate(studies, start=1):
        with ProgressLine(keeps=True) as progress:
            progress.within = f"{path.name}, study {number} of {len(studies)}"
            try:
                if not stopped:
                    answers.append(_answer(path, folder, progress, in_space, however_long))
            except KeyboardInterrupt as interrupt:
                stopped = True
                lost = Supplements()
                answers.append(_Answer(path, None, lost, NOT_REACHED, str(interrupt)))
        stopped = stopped or progress.interrupted
        if len(answers) < number:
            answers.append(_Answer(path, None, Supplements(), NOT_REACHED, "interrupted before"))
    worst = max((answer.code for answer in answers), key=_WORSE.index)
    _print(answers, worst, as_json)
    if every_rule and not as_json:
        _print_rules(answers)
    if stopped:
        click.echo("guideproof: interrupted; what was finished stands above", err=True)
        return INTERRUPTED
    return worst


def _answer(
    path: Path, folder: Path | None, progress: Any, in_space: bool, however_long: bool
) -> _Answer:
    """Assess one study and write its files; a part that cannot be solved gives the reason."""
    try:
        assessment, added = assess_study(
            path,
            progress,
            in_space=in_space,
            however_long=however_long,
            pictured=folder is not None,
        )
    except (GuideproofError, GeometryError) as error:
        return _Answer(path, None, Supplements(), CANNOT_BE_USED, " ".join(str(error).split()))
    if folder is not None:
        from solver.reports.report import result_files

        with told_in_inches(writes_inches(path)):
            files = result_files(assessment, added.result, run_record(path)) | added.contents()
        write_folder(folder / path.stem, files)
    return _Answer(path, assessment, added, assessment.verdict.outcome)


def _print(answers: Sequence[_Answer], worst: int, as_json: bool) -> None:
    if as_json:
        studies = [_described(answer) for answer in answers]
        print_json({"schema": 1, "studies": studies, "exit_code": worst})
        return
    from solver.output.screen import table_text

    heads = ("study", "title", "outcome", "worst", "at / GHz", "margin / dB", "error of S")
    click.echo(table_text(heads, [_row(answer) for answer in answers], (3, 4, 5, 6)))


def _print_rules(answers: Sequence[_Answer]) -> None:
    """Every reading of every rule, study by study."""
    from solver.output.screen import rules_text

    for answer in answers:
        if answer.assessment is not None and answer.assessment.rules:
            with told_in_inches(writes_inches(answer.path)):
                table = rules_text(answer.assessment.rules, "the part has", every=True)
            click.echo(f"\n{answer.path.name}\n{table}")


def _described(answer: _Answer) -> dict[str, Any]:
    from solver.output.result_json import result_of

    if answer.assessment is None:
        verdict = {"outcome": answer.outcome, "reasons": [answer.reason]}
        return {"file": str(answer.path), "verdict": verdict}
    return {"file": str(answer.path)} | result_of(answer.assessment) | answer.added.result


def _row(answer: _Answer) -> tuple[str, ...]:
    from solver.studies.limits import WORDING, wording

    found = answer.assessment
    if found is None:
        return (answer.path.name, answer.reason, answer.outcome, "", "", "", "")
    verdict = found.verdict
    worst = f"{WORDING[verdict.quantity][0]} {wording(verdict.quantity, verdict.worst)}"
    margin = "" if verdict.margin_db is None else f"{verdict.margin_db:+.2f}"
    return (
        answer.path.name,
        found.title,
        answer.outcome,
        worst,
        f"{verdict.at_hz / 1e9:.6g}",
        margin,
        f"{found.scattering.error.max():.1e}",
    )
