"""The command ``guideproof audit``."""

from __future__ import annotations

import math
from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING

import click

from solver.commands.kept_points import kept_points
from solver.commands.options import FOLDER, JSON, Amount
from solver.commands.printing import print_json, print_paths, run_record

if TYPE_CHECKING:
    from geometries.shapes.guides import RectangularGuide
    from solver.studies.band import Band

#: One of each class of ratio a/b among the common sizes.
_GUIDES = ("WR-284", "WR-112", "WR-90", "WR-62")
_ANGLES = (30.0, 60.0, 90.0)


@click.command()
@click.option(
    "--guide", "sizes", multiple=True, help=f"A standard size; by default {', '.join(_GUIDES)}."
)
@click.option(
    "--angle-deg", "angles", multiple=True, type=Amount(0, 360), help="By default 30, 60 and 90."
)
@click.option(
    "--workers", type=click.IntRange(1, 256), help="Processes; by default one a physical core."
)
@FOLDER
@JSON
def audit(
    sizes: Sequence[str],
    angles: Sequence[float],
    workers: int | None,
    folder: Path | None,
    as_json: bool,
) -> int:
    """Hold the rules of thumb for bends against the field solution.

    Every reading of every rule, for each guide over its own band, plane and angle: how often it
    meets VSWR 1.02, 1.05 and 1.10, the worst that it lets through, and the length it wastes.
    With -o finished bends are kept: after an interrupt the same command goes on.

    Example: guideproof audit --guide WR-90 --angle-deg 90 -o rules
    """
    from solver.output.output_folder import write_files
    from solver.progress import ProgressLine
    from solver.searches.rule_audit import audit_bends
    from solver.searches.worker_pool import physical_cores
    from solver.sheets.audit_files import audit_csv, audit_files, audit_result_of

    chosen = [_guide_and_band(size) for size in sizes or _GUIDES]
    with kept_points(folder) as store, ProgressLine() as progress:
        bends = audit_bends(
            chosen,
            [math.radians(angle) for angle in angles or _ANGLES],
            workers=workers or physical_cores(),
            store=store,
            progress=progress,
        )
    paths: Sequence[Path] = ()
    if folder is not None:
        paths = write_files(folder, audit_files(bends, run_record()) | store.files())
        store.close()
    if as_json:
        print_json(audit_result_of(bends))
    else:
        click.echo(audit_csv(bends), nl=False)
        print_paths(paths)
    return 0


def _guide_and_band(size: str) -> tuple[RectangularGuide, Band]:
    from geometries.shapes.guides import find_standard_guide
    from solver.studies.band import Band

    found = find_standard_guide(size)
    return found.guide, Band(*found.band, 41)
