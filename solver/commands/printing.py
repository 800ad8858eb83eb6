"""What every command prints in the same way."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import Any

import click


def print_json(result: dict[str, Any]) -> None:
    """Print a result as one JSON object on standard output."""
    from solver.output.result_json import as_text

    click.echo(as_text(result))


def print_paths(paths: Sequence[Path]) -> None:
    """Name the files that were written."""
    if paths:
        click.echo("\nwritten: " + ", ".join(str(path) for path in paths))
