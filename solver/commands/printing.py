"""What every command prints in the same way."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

if TYPE_CHECKING:
    from solver.output.run_record import RunRecord
    from solver.progress import ProgressLine

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


def run_record(study: Path | None = None) -> RunRecord:
    """Return when and by which command line the running command makes its report.

    Parameters
    ----------
    study : Path, optional
        The study file it reads.
    """
    import shlex

    from solver.output.run_record import RunRecord

    given = click.get_current_context().find_root().obj or ()
    return RunRecord.now(shlex.join(["guideproof", *map(str, given)]), study)


def exit_code(code: int, progress: ProgressLine) -> int:
    """Return a command's exit code, that of an interrupt if one ended the work early."""
    if not progress.interrupted:
        return code
    click.echo("guideproof: interrupted; the answer is that of the steps done before", err=True)
    return INTERRUPTED
