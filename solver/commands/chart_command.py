"""The command ``guideproof chart``."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from pathlib import Path
from typing import Any

import click
import numpy as np

from solver.commands.kept_points import kept_points
from solver.commands.options import FOLDER, JSON, Amount
from solver.commands.printing import print_json, print_paths, run_record


@click.command()
@click.option("--kind", type=click.Choice(["bend", "twist", "taper"]), default="bend")
@click.option("--plane", type=click.Choice(["E", "H"]), help="Of a bend.")
@click.option("--ratio", type=Amount(0, 20), default=2.0, show_default=True, help="a/b.")
@click.option("--from-cutoffs", type=Amount(1, 3), default=1.25, show_default=True)
@click.option("--to-cutoffs", type=Amount(1, 3), default=1.9, show_default=True)
@click.option(
    "--radii", type=click.IntRange(3, 200), help="Number of radii of a bend; by default 30."
)
@click.option(
    "--lengths",
    type=click.IntRange(3, 200),
    help="Number of lengths of a twist or taper; by default 12.",
)
@click.option(
    "--angles",
    type=click.IntRange(3, 200),
    help="Number of angles: of a bend, by default 30, 10 to 180 degrees; of a twist, by default "
    "8, 15 to 90 degrees.",
)
@click.option(
    "--heights",
    type=click.IntRange(3, 200),
    help="Number of heights at the second end of a taper, 0.2 to 0.9 of the first; by default 8.",
)
@click.option(
    "--workers", type=click.IntRange(1, 256), help="Processes; by default one a physical core."
)
@FOLDER
@JSON
def chart(
    kind: Any,
    plane: Any,
    ratio: float,
    from_cutoffs: float,
    to_cutoffs: float,
    workers: int | None,
    folder: Path | None,
    as_json: bool,
    **counts: int | None,
) -> int:
    """Chart how gradual a bend, twist or taper must be, for all guides of one ratio a/b at once.

    Worst reflection over a band, in units of the cutoff frequency, against mean radius in
    wavelengths and angle; of a twist against length and angle, of a taper against length and the
    height at its second end. The rules of thumb are drawn in. Bends are solved to 1e-5, twists and
    tapers to 1e-3. With -o finished parts are kept.

    Examples: guideproof chart --plane E --ratio 2.25 -o chart; or guideproof chart --kind twist
    """
    from solver.output.output_folder import write_files
    from solver.progress import ProgressLine
    from solver.searches.worker_pool import physical_cores

    _check(kind, plane, counts)
    edges = (from_cutoffs, to_cutoffs)
    with kept_points(folder) as store, ProgressLine() as progress:
        common = {
            "workers": workers or physical_cores(),
            "store": store,
            "progress": progress,
        }
        if kind == "bend":
            csv, result, files = _bends(plane, ratio, edges, counts, common)
        else:
            csv, result, files = _lengths(kind, ratio, edges, counts, common)
    paths: Sequence[Path] = ()
    if folder is not None:
        paths = write_files(folder, files() | store.files())
        store.close()
    if as_json:
        print_json(result)
    else:
        click.echo(csv, nl=False)
        print_paths(paths)
    return 0


_COUNTS = {
    "bend": ("radii", "angles"),
    "twist": ("lengths", "angles"),
    "taper": ("lengths", "heights"),
}


def _check(kind: str, plane: str | None, counts: dict[str, int | None]) -> None:
    if kind == "bend" and plane is None:
        raise click.UsageError("--plane: a bend lies in one; give E or H")
    if kind != "bend" and plane is not None:
        raise click.UsageError(f"--plane: a {kind} lies in none; leave it out")
    for name, count in counts.items():
        if count is not None and name not in _COUNTS[kind]:
            fits = " and ".join(f"--{other}" for other in _COUNTS[kind])
            raise click.UsageError(f"--{name}: a chart of a {kind} takes {fits}")


def _bends(
    plane: Any, ratio: float, edges: tuple[float, float], counts: dict[str, Any], common: Any
) -> tuple[str, dict[str, Any], Callable[[], dict[str, bytes]]]:
    from solver.searches.gradualness import gradualness_chart
    from solver.sheets.chart_files import chart_csv, chart_files, chart_result_of

    angles = [math.radians(a) for a in np.linspace(10.0, 180.0, counts["angles"] or 30)]
    radii = counts["radii"] or 30
    found = gradualness_chart(plane, ratio, edges, angles=angles, radii=radii, **common)
    return chart_csv(found), chart_result_of(found), lambda: chart_files(found, run_record())


def _lengths(
    kind: Any, ratio: float, edges: tuple[float, float], counts: dict[str, Any], common: Any
) -> tuple[str, dict[str, Any], Callable[[], dict[str, bytes]]]:
    from solver.searches.length_charts import length_chart
    from solver.sheets.length_chart_files import (
        length_chart_csv,
        length_chart_files,
        length_chart_result_of,
    )

    if kind == "twist":
        changes = [math.radians(a) for a in np.linspace(15.0, 90.0, counts["angles"] or 8)]
    else:
        changes = [float(h) for h in np.linspace(0.2, 0.9, counts["heights"] or 8)]
    lengths = counts["lengths"] or 12
    found = length_chart(kind, ratio, edges, changes=changes, lengths=lengths, **common)
    return (
        length_chart_csv(found),
        length_chart_result_of(found),
        lambda: length_chart_files(found, run_record()),
    )
