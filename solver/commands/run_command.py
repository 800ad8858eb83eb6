"""The command ``guideproof run``."""

from __future__ import annotations

from collections.abc import Sequence
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from solver.commands.assess_supplements import (
    MeasuredRequest,
    Supplements,
    add_measurement,
    frequencies_of,
    measured_options,
)
from solver.commands.options import FOLDER, JSON
from solver.commands.printing import (
    print_json,
    print_paths,
    run_record,
    speak_lengths,
    writes_inches,
)

if TYPE_CHECKING:
    from solver.measured.touchstone_file import Measurement
    from solver.runs.run_result import RunResult
    from solver.studies.run_study import RunStudy


@click.command()
@click.argument("run_file", metavar="RUN", type=click.Path(path_type=Path))
@FOLDER
@click.option(
    "--workers", type=click.IntRange(1, 256), help="Processes; by default one a physical core."
)
@measured_options
@JSON
def run(
    run_file: Path, folder: Path | None, workers: int | None, as_json: bool, **measured: Any
) -> int:
    """Judge a whole RUN of parts: what the transmitter sees at the end of it all.

    The file lists the parts from the transmitter on. With -o every finished part is kept: after a
    change of one part, or an interrupt, the same command computes what is missing. --measured
    holds an analyser's file of the whole run against it, matched at its end.

    Exit codes: as those of assess.

    Example: guideproof run mast.toml -o mast
    """
    from solver.output.output_folder import check_folder
    from solver.progress import ProgressLine
    from solver.runs.part_store import PartStore
    from solver.runs.run_parts import run as run_parts
    from solver.searches.worker_pool import physical_cores
    from solver.studies.run_study import read_run

    request, study = MeasuredRequest(**measured), read_run(run_file)
    measurement = _measured(study, request)
    speak_lengths(run_file)
    if folder is not None:
        check_folder(folder)
    store = PartStore(folder)
    report = None
    if folder is not None:
        from solver.run_output.run_files import part_files

        report = partial(part_files, in_inches=writes_inches(run_file))
    try:
        with ProgressLine() as progress:
            result = run_parts(
                study.parts,
                study.band,
                end_vswr=study.end_vswr,
                limit=study.limit,
                s_error=study.s_error,
                walls=study.walls,
                title=study.title,
                workers=workers or physical_cores(),
                store=store,
                report=report,
                further_at=frequencies_of(measurement),
                progress=progress,
            )
    except KeyboardInterrupt as interrupt:
        raise KeyboardInterrupt(store.kept_text) from interrupt
    added = _compared(run_file, result, measurement, request)
    paths: Sequence[Path] = ()
    if folder is not None:
        from solver.run_output.run_files import write_run

        paths = write_run(folder, result, run_record(run_file), added.result, added.contents())
    if as_json:
        from solver.run_output.run_json import run_result_of

        print_json(run_result_of(result) | added.result)
    else:
        from solver.run_output.run_wording import run_text

        click.echo("\n\n".join([run_text(result), *added.texts]))
        print_paths(paths)
    return result.verdict.exit_code


def _measured(study: RunStudy, request: MeasuredRequest) -> Measurement | None:
    """The measured points in the run's band, before anything is computed."""
    from solver.errors import StudyError
    from solver.studies.messages import one_line

    first, last = study.parts[0].guides, study.parts[-1].guides
    has_two = len(last) > 1
    found = request.read(study.band, (first[0], last[-1]) if has_two else first[:1])
    if found is not None and found.ports == 1 and study.end_vswr is not None and not request.end:
        raise StudyError(
            f"{one_line(str(found.file))}: 1 port, and the run ends in VSWR {study.end_vswr:g} of "
            "any phase: say by --end what it ended in when it was measured"
        )
    return found


def _compared(
    run_file: Path, result: RunResult, measurement: Measurement | None, request: MeasuredRequest
) -> Supplements:
    added = Supplements()
    if measurement is not None and result.further is not None:
        heading = (result.title, str(result.provenance["version"]), run_record(run_file))
        add_measurement(added, result.further, result.axis_length, heading, measurement, request)
    return added
