"""The command ``guideproof chart``."""

from __future__ import annotations

import math
from collections.abc import Sequence
from pathlib import Path
from typing import Any

import click
import numpy as np

from solver.commands.kept_points import kept_points
from solver.commands.options import FOLDER, JSON, Amount
from solver.commands.printing import print_json, print_paths, run_record


@click.command()
@click.option("--plane", type=click.Choice(["E", "H"]), required=True)
@click.option("--ratio", type=Amount(0, 20), default=2.0, show_default=True, help="a/b.")
@click.option("--from-cutoffs", type=Amount(1, 3), default=1.25, show_default=True)
@click.option("--to-cutoffs", type=Amount(1, 3), default=1.9, show_default=True)
@click.option("--radii", type=click.IntRange(3, 200), default=30, show_default=True)
@click.option(
    "--angles",
    "count",
    type=click.IntRange(3, 200),
    default=30,
    show_default=True,
    help="Number of angles, 10 to 180 degrees.",
)
@click.option(
    "--workers", type=click.IntRange(1, 256), help="Processes; by default one a physical core."
)
@FOLDER
@JSON
def chart(
    plane: Any,
    ratio: float,
    from_cutoffs: float,
    to_cutoffs: float,
    radii: int,
    count: int,
    workers: int | None,
    folder: Path | None,
    as_json: bool,
) -> int:
    """Chart how gradual a bend must be, for all guides of one ratio a/b at once.

    Worst reflection over a band, in units of the cutoff frequency, against angle and mean radius
    in wavelengths; the rules of thumb are drawn in. With -o finished bends are kept.

    Example: guideproof chart --plane E --ratio 2.25 -o chart
    """
    from solver.output.output_folder import write_files
    from solver.progress import ProgressLine
    from solver.searches.gradualness import gradualness_chart
    from solver.searches.worker_pool import physical_cores
    from solver.sheets.chart_files import chart_csv, chart_files, chart_result_of

    with kept_points(folder) as store, ProgressLine() as progress:
        found = gradualness_chart(
            plane,
            ratio,
            (from_cutoffs, to_cutoffs),
            angles=[math.radians(a) for a in np.linspace(10.0, 180.0, count)],
            radii=radii,
            workers=workers or physical_cores(),
            store=store,
            progress=progress,
        )
    paths: Sequence[Path] = ()
    if folder is not None:
        paths = write_files(folder, chart_files(found, run_record()) | store.files())
        store.close()
    if as_json:
        print_json(chart_result_of(found))
    else:
        click.echo(chart_csv(found), nl=False)
        print_paths(paths)
    return 0
