"""The command ``guideproof audit``."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

import click

from solver.commands.kept_points import kept_points
from solver.commands.options import FOLDER, JSON, Amount
from solver.commands.printing import print_json, print_paths, run_record


@click.command()
@click.argument("kinds", nargs=-1, metavar="[KIND]...")
@click.option(
    "--guide", "sizes", multiple=True, help="A standard size in place of those taken by default."
)
@click.option(
    "--angle-deg",
    "angles",
    multiple=True,
    type=Amount(0, 360),
    help="Of bends, corners and twists; by default 30 to 90.",
)
@click.option("--shipped", is_flag=True, help="The results that are shipped; computes nothing.")
@click.option(
    "--workers", type=click.IntRange(1, 256), help="Processes; by default one a physical core."
)
@FOLDER
@JSON
def audit(
    kinds: Sequence[str],
    sizes: Sequence[str],
    angles: Sequence[float],
    shipped: bool,
    workers: int | None,
    folder: Path | None,
    as_json: bool,
) -> int:
    """Hold the rules of thumb against the field solution.

    Every reading of every rule for each KIND (bend, corner, twist, taper, transition, load,
    flexible, choke-flange, rotating-joint; by default all, which takes half an hour): how often
    it meets VSWR 1.02, 1.05 and 1.10, the worst that it lets through, and the length it wastes.
    With -o finished parts are kept: after an interrupt the same command goes on.

    Example: guideproof audit bend twist --guide WR-90 --angle-deg 90 -o rules
    """
    from solver.audits.audit_files import audit_csv, audit_files, audit_result_of
    from solver.audits.audited_kinds import KINDS, cases_of
    from solver.audits.rule_audit import audit as audit_rules
    from solver.output.output_folder import write_files
    from solver.progress import ProgressLine
    from solver.searches.worker_pool import physical_cores

    if shipped:
        if kinds or sizes or angles:
            raise click.UsageError(
                "--shipped: gives all that is shipped; give no kind, guide, angle"
            )
        return _give_shipped(folder, as_json)
    for kind in kinds:
        if kind not in KINDS:
            raise click.UsageError(
                f"{kind}: no kind with rules to audit; known: {', '.join(KINDS)}"
            )
    cases = cases_of(tuple(dict.fromkeys(kinds)) or tuple(KINDS), sizes, angles)
    with kept_points(folder) as store, ProgressLine() as progress:
        found = audit_rules(
            cases, workers=workers or physical_cores(), store=store, progress=progress
        )
    paths: Sequence[Path] = ()
    if folder is not None:
        paths = write_files(folder, audit_files(found, run_record()) | store.files())
        store.close()
    if as_json:
        print_json(audit_result_of(found))
    else:
        click.echo(audit_csv(found), nl=False)
        print_paths(paths)
    return 0


def _give_shipped(folder: Path | None, as_json: bool) -> int:
    from solver.audits.shipped_audit import shipped_files
    from solver.output.output_folder import write_files

    files = shipped_files()
    paths = write_files(folder, files) if folder is not None else ()
    click.echo(files["audit.json" if as_json else "audit.csv"].decode("utf-8"), nl=False)
    if not as_json:
        print_paths(paths)
    return 0
