"""What every command prints in the same way."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

if TYPE_CHECKING:
    from solver.progress import ProgressLine
    from solver.reports.run_record import RunRecord
    from solver.reports.table_report import TableAnswer

#: Exit code of a command that was interrupted.
INTERRUPTED = 130


def print_json(result: dict[str, Any]) -> None:
    """Print a result as one JSON object on standard output."""
    from solver.output.result_json import as_text

    click.echo(as_text(result))


def print_paths(paths: Sequence[Path]) -> None:
    """Name the files that were written."""
    if paths:
        click.echo("\nwritten: " + ", ".join(str(path) for path in paths))


def write_folder(folder: Path, files: Mapping[str, bytes]) -> tuple[Path, ...]:
    """Write the files of an answer, with the report as PDF where the command asks for it.

    Raises
    ------
    OutputError
    """
    from solver.commands.options import PDF_WANTED
    from solver.output.output_folder import write_files

    if click.get_current_context().meta.get(PDF_WANTED) and "report.html" in files:
        from solver.reports.pdf_pages import pdf_bytes

        files = {**files, "report.pdf": pdf_bytes(files["report.html"].decode("utf-8"))}
    return write_files(folder, files)


def print_table(
    answer: TableAnswer,
    command: str,
    folder: Path | None,
    as_json: bool,
    study: Path | None = None,
    more: Mapping[str, bytes] | None = None,
) -> None:
    """Write an answer that is a table into a folder, if one is given, and print it.

    Parameters
    ----------
    answer : TableAnswer
    command : str
        Name of the running command.
    folder : Path or None
    as_json : bool
    study : Path, optional
        The study file.
    more : mapping of str to bytes, optional
        Further files of the folder.
    """
    paths: Sequence[Path] = ()
    if folder is not None:
        from solver.reports.table_report import table_files

        files = table_files(answer, command, run_record(study))
        paths = write_folder(folder, files | dict(more or {}))
    if as_json:
        print_json(answer.told)
    else:
        click.echo(answer.text)
        print_paths(paths)


def run_record(study: Path | None = None) -> RunRecord:
    """Return when and by which command line the running command makes its report.

    Parameters
    ----------
    study : Path, optional
        The study file it reads.
    """
    import shlex

    from solver.reports.run_record import RunRecord

    given = click.get_current_context().find_root().obj or ()
    return RunRecord.now(shlex.join(["guideproof", *map(str, given)]), study)


def exit_code(code: int, progress: ProgressLine) -> int:
    """Return a command's exit code, that of an interrupt if one ended the work early."""
    if not progress.interrupted:
        return code
    click.echo("guideproof: interrupted; the answer is that of the steps done before", err=True)
    return INTERRUPTED


def speak_lengths(study: Path | None = None) -> None:
    """Let the running command tell lengths in the unit in which the user writes them.

    Parameters
    ----------
    study : Path, optional
        A study file that can be read.
    """
    from solver.studies.inches import told_in_inches

    click.get_current_context().with_resource(told_in_inches(writes_inches(study)))


def writes_inches(study: Path | None = None) -> bool:
    """Return whether the user gives lengths in inches, in a study or on the command line.

    Parameters
    ----------
    study : Path, optional
        A study file that can be read.
    """
    from solver.studies.inches import size_in_inches, uses_inches
    from solver.studies.study import read_tables

    given = click.get_current_context().find_root().obj or ()
    for word in map(str, given):
        # a guide stands alone or behind the name of its option or key
        if re.search(r"\d *in$|_in=|-in$", word) or size_in_inches(word.rpartition("=")[2]):
            return True
    return study is not None and uses_inches(read_tables(study))
