"""The command ``guideproof run``."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

import click

from solver.commands.options import FOLDER, JSON
from solver.commands.printing import print_json, print_paths, run_record


@click.command()
@click.argument("run_file", metavar="RUN", type=click.Path(path_type=Path))
@FOLDER
@click.option(
    "--workers", type=click.IntRange(1, 256), help="Processes; by default one a physical core."
)
@JSON
def run(run_file: Path, folder: Path | None, workers: int | None, as_json: bool) -> int:
    """Judge a whole RUN of parts: what the transmitter sees at the end of it all.

    The file lists the parts from the transmitter on. With -o every finished part is kept: after a
    change of one part, or an interrupt, the same command computes what is missing.

    Exit codes: as those of assess.

    Example: guideproof run mast.toml -o mast
    """
    from solver.output.output_folder import check_folder
    from solver.progress import ProgressLine
    from solver.runs.part_store import PartStore
    from solver.runs.run_parts import run as run_parts
    from solver.searches.worker_pool import physical_cores
    from solver.studies.run_study import read_run

    study = read_run(run_file)
    if folder is not None:
        check_folder(folder)
    store = PartStore(folder)
    report = None
    if folder is not None:
        from solver.run_output.run_files import part_files

        report = part_files
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
                progress=progress,
            )
    except KeyboardInterrupt as interrupt:
        raise KeyboardInterrupt(store.kept_text) from interrupt
    paths: Sequence[Path] = ()
    if folder is not None:
        from solver.run_output.run_files import write_run

        paths = write_run(folder, result, run_record(run_file))
    if as_json:
        from solver.run_output.run_json import run_result_of

        print_json(run_result_of(result))
    else:
        from solver.run_output.run_wording import run_text

        click.echo(run_text(result))
        print_paths(paths)
    return result.verdict.exit_code
