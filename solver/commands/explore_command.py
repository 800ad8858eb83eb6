"""The commands ``guideproof explore`` and ``guideproof seek``."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING

import click

from solver.commands.kept_points import kept_points
from solver.commands.options import FOLDER, JSON, STUDY, Amount
from solver.commands.printing import (
    print_json,
    print_paths,
    print_table,
    run_record,
    speak_lengths,
    write_folder,
)

if TYPE_CHECKING:
    from solver.searches.varied_keys import Variation

_WORKERS = click.option(
    "--workers", type=click.IntRange(1, 256), help="Processes; by default one a physical core."
)


@click.command()
@STUDY
@click.option(
    "--vary",
    "varied",
    multiple=True,
    required=True,
    metavar="KEY=FROM:TO:COUNT",
    help="A key of the study and its values, or KEY=VALUE,VALUE,...; up to eight times.",
)
@click.option(
    "--sample",
    type=click.IntRange(1, 100_000),
    metavar="COUNT",
    help="So many points that fill the ranges KEY=FROM:TO evenly, in place of a grid.",
)
@click.option(
    "--at-ghz",
    type=Amount(0),
    help="Frequency about which bands are looked for; by default the band's centre.",
)
@_WORKERS
@click.option(
    "--engine",
    metavar="ADDRESS",
    help="Scheduler of dask whose workers compute, as tcp://host:8786; by default this machine.",
)
@FOLDER
@JSON
def explore(
    study: Path,
    varied: Sequence[str],
    sample: int | None,
    at_ghz: float | None,
    workers: int | None,
    engine: str | None,
    folder: Path | None,
    as_json: bool,
) -> int:
    """Compute a STUDY over a grid, or a sample, of some of its keys.

    Which combinations meet the limit, over what band, and how reflection and leakage go. With
    -o every finished point is kept at once: after an interrupt the same command goes on.
    STUDY may be a run file: its parts' keys are part.NUMBER.KEY or part.NAME.KEY.

    Examples: guideproof explore corner.toml --vary component.cut_mm=7.6:8.8:13 -o corner_cuts; or
    guideproof explore mast.toml --vary part.2.length_mm=900:940:21

    Exit codes: 0 some combination meets the limit, or none was set; 1 none meets it; 2 the input
    cannot be used; 3 none meets it, some are undecided.
    """
    from solver.progress import ProgressLine
    from solver.runs.run_curves import computing
    from solver.searches.explore import explore as explore_study
    from solver.searches.varied_keys import parse_span, parse_variation, sampled
    from solver.searches.worker_pool import physical_cores
    from solver.studies.band import hertz
    from solver.studies.study import read_tables

    if engine is not None and workers is not None:
        raise click.UsageError("--workers is for this machine: the engine has workers of its own")
    variations: Sequence[Variation] = [] if sample else [parse_variation(text) for text in varied]
    if sample is not None:
        variations = sampled([parse_span(text) for text in varied], sample)
    tables = read_tables(study)
    speak_lengths(study)
    crew = workers or physical_cores()
    with (
        kept_points(folder) as store,
        ProgressLine() as progress,
        computing(
            tables, folder, workers=crew, engine=engine is not None, progress=progress
        ) as how,
    ):
        result = explore_study(
            tables,
            study,
            variations,
            sampled=sample is not None,
            design=hertz(at_ghz) if at_ghz is not None else None,
            workers=crew,
            store=store,
            engine=engine,
            progress=progress,
            **how,
        )
    paths: Sequence[Path] = ()
    if folder is not None:
        from solver.reports.exploration_files import exploration_files

        paths = write_folder(folder, exploration_files(result, run_record(study)) | store.files())
        store.close()
    if as_json:
        from solver.reports.exploration_files import exploration_result_of

        print_json(exploration_result_of(result))
    else:
        from solver.output.exploration_wording import exploration_text

        click.echo(exploration_text(result))
        print_paths(paths)
    return result.exit_code


@click.command()
@STUDY
@click.option(
    "--vary",
    "varied",
    multiple=True,
    required=True,
    metavar="KEY=FROM:TO",
    help="A key of the study and the interval to search; once or twice.",
)
@click.option("--least", type=click.Choice(["leakage", "reflection"]), required=True)
@click.option(
    "--at-ghz", type=Amount(0), help="The frequency that counts; by default the worst in the band."
)
@_WORKERS
@FOLDER
@JSON
def seek(
    study: Path,
    varied: Sequence[str],
    least: str,
    at_ghz: float | None,
    workers: int | None,
    folder: Path | None,
    as_json: bool,
) -> int:
    """Search one or two keys of a STUDY for the least leakage or reflection.

    It also tells how flat the optimum is. With -o the same command goes on after an interrupt.
    STUDY may be a run file, as for explore.

    Example: guideproof seek corner.toml --vary component.cut_mm=5:13 --least reflection

    Exit codes: 0 found; 2 the input cannot be used; 3 the accuracy asked for was not reached.
    """
    from solver.progress import ProgressLine
    from solver.reports.seek_report import seek_answer
    from solver.runs.run_curves import computing
    from solver.searches.seek import seek as seek_least
    from solver.searches.varied_keys import parse_span
    from solver.searches.varied_parts import built_part
    from solver.searches.varied_runs import run_in_words
    from solver.searches.worker_pool import physical_cores
    from solver.studies.band import hertz
    from solver.studies.run_study import RunStudy
    from solver.studies.study import Study, read_tables

    spans = [parse_span(text) for text in varied]
    tables = read_tables(study)
    speak_lengths(study)
    crew = workers or physical_cores()
    with (
        kept_points(folder) as store,
        ProgressLine() as progress,
        computing(tables, folder, workers=crew, progress=progress) as how,
    ):
        result = seek_least(
            tables,
            study,
            spans,
            least,
            at=hertz(at_ghz) if at_ghz is not None else None,
            workers=crew,
            store=store,
            progress=progress,
            **how,
        )
    best = built_part(tables, study, result.values)
    if isinstance(best, RunStudy):
        answer = seek_answer(result, None, run_in_words(best))
    else:
        assert isinstance(best, Study)
        answer = seek_answer(result, best.component)
    print_table(answer, "seek", folder, as_json, study, store.files())
    store.close()
    return result.exit_code
