"""The command ``guideproof reference``."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import Any

import click

from solver.commands.assess_study import assess_study
from solver.commands.options import FOLDER, HOWEVER_LONG, JSON
from solver.commands.printing import (
    exit_code,
    print_json,
    print_paths,
    print_table,
    run_record,
    speak_lengths,
    write_folder,
)


@click.command()
@click.argument("study", required=False, type=click.Path(path_type=Path))
@click.option(
    "--check",
    type=click.Path(path_type=Path),
    metavar="FOLDER",
    help="Compute the sheet of a folder again, and say which values moved.",
)
@FOLDER
@HOWEVER_LONG
@JSON
def reference(
    study: Path | None,
    check: Path | None,
    folder: Path | None,
    however_long: bool,
    as_json: bool,
) -> int:
    """Print reference values for a STUDY as comma-separated values, or write a sheet of many.

    Of a study: computed S-parameters with their error, the closed forms, and for a bend the exact
    phase constant of the curved guide. The study's accuracy and frequencies apply.

    Of a sheet, a file that lists studies and the quantities wanted of each: with -o a page, a
    table as CSV and LaTeX, and JSON. Exit codes: 0 written, or all values hold; 1 with --check,
    one moved by more than its stated uncertainty; 2 the input cannot be used; 3 a study's accuracy
    was not reached.

    Examples: guideproof reference riser.toml > riser.csv; or guideproof reference SHEET.toml
    -o sheet; later guideproof reference --check sheet
    """
    if (study is None) == (check is None):
        raise click.UsageError("give a study or sheet, or --check and the folder of a sheet")
    if check is not None:
        if folder is not None:
            raise click.UsageError("--check writes nothing: leave out -o")
        return _check(check, as_json)
    from solver.sheets.sheet_keys import is_sheet
    from solver.studies.study import read_tables

    assert study is not None
    tables = read_tables(study)
    if is_sheet(tables):
        return _sheet(tables, study, folder, as_json)
    return _study(study, folder, however_long, as_json)


def _study(path: Path, folder: Path | None, however_long: bool, as_json: bool) -> int:
    from solver.output.output_folder import check_folder
    from solver.progress import ProgressLine
    from solver.reports.reference_report import reference_answer

    if folder is not None:
        check_folder(folder)
    speak_lengths(path)
    with ProgressLine(keeps=True) as progress:
        assessment, _ = assess_study(path, progress, however_long=however_long)
    print_table(reference_answer(assessment), "reference", folder, as_json, path)
    return exit_code(0 if assessment.provenance.accuracy_reached else 3, progress)


def _sheet(tables: dict[str, Any], path: Path, folder: Path | None, as_json: bool) -> int:
    from threadpoolctl import threadpool_limits

    from solver.output.output_folder import check_folder
    from solver.progress import ProgressLine
    from solver.sheets.sheet import computed_sheet
    from solver.sheets.sheet_files import sheet_csv, sheet_files, sheet_result_of
    from solver.sheets.sheet_keys import sheet_of

    request = sheet_of(tables, path)
    if folder is not None:
        check_folder(folder)
    with ProgressLine() as progress, threadpool_limits(1, user_api="blas"):
        sheet = computed_sheet(request, progress)
    paths: Sequence[Path] = ()
    if folder is not None:
        paths = write_folder(folder, sheet_files(sheet, run_record(path)))
    if as_json:
        print_json(sheet_result_of(sheet))
    else:
        click.echo(sheet_csv(sheet), nl=False)
        print_paths(paths)
    reached = all(c.assessment.provenance.accuracy_reached for c in sheet.cases if c.assessment)
    return 0 if reached else 3


def _check(folder: Path, as_json: bool) -> int:
    from threadpoolctl import threadpool_limits

    from solver.progress import ProgressLine
    from solver.sheets.sheet_check import check_sheet, check_text

    with ProgressLine() as progress, threadpool_limits(1, user_api="blas"):
        check = check_sheet(folder, progress)
    if as_json:
        values = [
            {
                "name": v.name,
                "wanted": v.wanted,
                "before": v.before,
                "now": v.now,
                "uncertainty": v.uncertainty,
                "holds": v.holds,
            }
            for v in check.values
        ]
        from solver.studies.plain_values import plain

        print_json(plain({"schema": 1, "title": check.title, "values": values}))
    else:
        click.echo(check_text(check))
    return 1 if check.moved else 0
