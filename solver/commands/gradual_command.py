"""The command ``guideproof gradual``."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING

import click

from solver.commands.options import FOLDER, GUIDE, JSON, Amount
from solver.commands.printing import print_json, print_paths

if TYPE_CHECKING:
    from geometries.shapes.guides import RectangularGuide


@click.command()
@click.option("--guide", type=GUIDE, required=True, help="Size, or 22.86x10.16 in mm.")
@click.option("--kind", type=click.Choice(["bend", "twist", "taper"]), default="bend")
@click.option("--to-guide", type=GUIDE, help="The guide to which a taper leads.")
@click.option("--plane", type=click.Choice(["E", "H"]), default="E", show_default=True)
@click.option("--angle-deg", type=Amount(0, 360), default=90.0, show_default=True)
@click.option("--from-ghz", type=Amount(0), required=True)
@click.option("--to-ghz", type=Amount(0), required=True)
@click.option("--points", type=click.IntRange(2, 20001), default=201, show_default=True)
@click.option("--vswr", type=Amount(1), help="Largest VSWR allowed.")
@click.option("--return-loss-db", type=Amount(0), help="Smallest return loss allowed.")
@click.option("--s-error", type=Amount(0, 0.1), default=1e-5, show_default=True)
@FOLDER
@JSON
def gradual(
    guide: RectangularGuide,
    kind: str,
    to_guide: RectangularGuide | None,
    plane: str,
    angle_deg: float,
    from_ghz: float,
    to_ghz: float,
    points: int,
    vswr: float | None,
    return_loss_db: float | None,
    s_error: float,
    folder: Path | None,
    as_json: bool,
) -> int:
    """Find how gradual a part must be to meet a limit.

    For a bend it is the mean radius, for a twist or taper the length.
    """
    import math

    from solver.commands.options import check_above_cutoff, check_rectangular
    from solver.output.output_folder import check_folder, write_files
    from solver.progress import ProgressLine
    from solver.studies.band import Band, hertz
    from solver.studies.limits import Limit

    if vswr is None and return_loss_db is None:
        raise click.UsageError("no limit: give --vswr or --return-loss-db")
    if from_ghz >= to_ghz:
        raise click.UsageError(f"--to-ghz {to_ghz:g}: must be above --from-ghz ({from_ghz:g})")
    check_rectangular(guide)
    check_above_cutoff(guide, from_ghz, "--from-ghz")
    if to_guide is not None:
        check_rectangular(to_guide)
        check_above_cutoff(to_guide, from_ghz, "--from-ghz")
    if folder is not None:
        check_folder(folder)
    from solver.searches.gradual import find_gradual

    with ProgressLine() as progress:
        result = find_gradual(
            guide,
            plane,
            math.radians(angle_deg),
            Band(hertz(from_ghz), hertz(to_ghz), points),
            Limit(vswr, return_loss_db),
            kind=kind,
            to_guide=to_guide,
            s_error=s_error,
            progress=progress,
        )
    paths: Sequence[Path] = ()
    if folder is not None:
        from solver.output.report import gradual_files
        from solver.version import installed_version

        paths = write_files(folder, gradual_files(result, installed_version()))
    if as_json:
        from solver.output.result_json import gradual_result_of

        print_json(gradual_result_of(result))
    else:
        from solver.output.screen import gradual_result_text

        click.echo(gradual_result_text(result))
        print_paths(paths)
    return 0 if result.smallest is not None else 3
