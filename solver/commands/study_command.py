"""The command ``guideproof study``."""

from __future__ import annotations

import click


@click.command()
@click.argument("kind", required=False)
@click.option("--circular", is_flag=True, help="A horn on a circular guide.")
def study(kind: str | None, circular: bool) -> None:
    """Print a study of a KIND of part to start from; without a KIND, list them.

    Every key that the kind may have stands there with what it means. KIND run prints a run of
    parts.

    Example: guideproof study bend > riser.toml
    """
    from solver.studies.component_keys import KNOWN_KINDS
    from solver.studies.starters import RUN, starter_study

    if kind is None:
        click.echo("\n".join([*KNOWN_KINDS, RUN]))
    else:
        click.echo(starter_study(kind, circular), nl=False)
