"""The command ``guideproof gradual``."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from solver.commands.gradual_options import (
    KINDS,
    band_asked,
    limit_asked,
    part_asked,
    s_error_asked,
)
from solver.commands.kept_points import kept_points
from solver.commands.options import FOLDER, GUIDE, JSON, RULES, Amount
from solver.commands.printing import (
    print_json,
    print_paths,
    run_record,
    speak_lengths,
    write_folder,
)
from solver.studies.inches import length_text, millimetres

if TYPE_CHECKING:
    from solver.studies.study import Study

#: Field of the size that is looked for, where it is not the length.
_SIZED = {"bend": "mean_radius", "load": "taper_length"}


@click.command()
@click.argument("study", required=False, type=click.Path(path_type=Path))
@click.option("--guide", type=GUIDE, help="Size, 22.86x10.16 in mm, or 0.9x0.4in.")
@click.option("--kind", type=click.Choice(KINDS), help="By default a bend.")
@click.option("--to-guide", type=GUIDE, help="The guide to which a taper leads.")
@click.option("--plane", type=click.Choice(["E", "H"]), help="By default E.")
@click.option("--angle-deg", type=Amount(0, 360), help="By default 90.")
@click.option("--position", type=click.Choice(["centre", "wall"]), help="Of a load's tip.")
@click.option("--base-length-mm", type=Amount(0), help="Of a load.")
@click.option("--base-width-mm", type=Amount(0), help="Of a load; by default the whole guide.")
@click.option("--permittivity", type=Amount(0), help="Of a load's absorber.")
@click.option("--loss-tangent", type=Amount(0), help="Of a load's absorber.")
@click.option("--permeability", type=Amount(0), help="By default 1.")
@click.option("--magnetic-loss-tangent", type=Amount(0), help="By default 0.")
@click.option("--aperture-width-mm", type=Amount(0), help="Of a horn.")
@click.option("--aperture-height-mm", type=Amount(0), help="Of a horn.")
@click.option("--aperture-diameter-mm", type=Amount(0), help="Of a horn on circular guide.")
@click.option("--mode", type=click.Choice(["TE11", "TM01"]), help="In circular guide.")
@click.option("--from-ghz", type=Amount(0))
@click.option("--to-ghz", type=Amount(0))
@click.option("--points", type=click.IntRange(2, 20001), help="By default 201.")
@click.option("--vswr", type=Amount(1), help="Largest VSWR allowed.")
@click.option("--return-loss-db", type=Amount(0), help="Smallest return loss allowed.")
@click.option("--s-error", type=Amount(0, 0.1), help="By default 1e-5.")
@click.option(
    "--most-minutes",
    type=Amount(0),
    default=20.0,
    show_default=True,
    help="A search that would take longer is refused, or ended.",
)
@click.option(
    "--tolerance-mm",
    type=Amount(0),
    help="How far the radius or length may come out off; by default what STUDY says of it.",
)
@click.option("--tolerance-in", type=Amount(0), help="The same in inches.")
@click.option(
    "--shortest", is_flag=True, help="Find the profile with which the part can be shortest."
)
@FOLDER
@RULES
@JSON
def gradual(
    study: Path | None,
    most_minutes: float,
    tolerance_mm: float | None,
    tolerance_in: float | None,
    shortest: bool,
    folder: Path | None,
    every_rule: bool,
    as_json: bool,
    **options: Any,
) -> int:
    """Find how gradual a part must be to meet a limit.

    For a bend it is the mean radius, for a twist, taper or horn the length, for a load the length
    over which its absorber tapers. Part, band and limit come from a STUDY, or from options; an
    option given beside a STUDY counts instead of what it says.
    With -o the same command goes on after an interrupt. With --shortest the profile of a
    bend, twist or taper is searched too, whatever the part has.

    Examples: guideproof gradual riser.toml --vswr 1.02; or guideproof gradual --guide WR-90
    --plane E --angle-deg 90 --from-ghz 8.2 --to-ghz 12.4 --vswr 1.05
    """
    from solver.progress import ProgressLine

    if tolerance_in is not None:
        if tolerance_mm is not None:
            raise click.UsageError("--tolerance-in: --tolerance-mm says the same; give one")
        tolerance_mm = millimetres(tolerance_in)
    read = None
    if study is not None:
        from solver.studies.study import read_study

        read = read_study(study)
    speak_lengths(study)
    part, band = part_asked(read, options), band_asked(read, options)
    limit, s_error = limit_asked(read, options), s_error_asked(read, options)
    if shortest:
        from solver.commands.shortest_answer import tell_shortest

        if tolerance_mm is not None:
            raise click.UsageError("--tolerance-mm: not with --shortest; add it to what is found")
        walls = read.walls if read is not None else None
        asked = {"s_error": s_error, "walls": walls, "most_minutes": most_minutes}
        return tell_shortest(part, band, limit, asked, folder, as_json, study)
    if tolerance_mm is None and read is not None:
        tolerance_mm = _tolerance_of(read)
    with kept_points(folder) as store, ProgressLine() as progress:
        from solver.searches.gradual import gradual as search

        result = search(
            part,
            band,
            limit,
            s_error=s_error,
            walls=read.walls if read is not None else None,
            store=store,
            most_minutes=most_minutes,
            progress=progress,
        )
    from solver.output.result_json import as_text, gradual_result_of

    told = gradual_result_of(result)
    told |= _with_tolerance(result.smallest, result.uncertainty, tolerance_mm)
    paths: Sequence[Path] = ()
    if folder is not None:
        from solver.reports.gradual_report import gradual_files
        from solver.version import installed_version

        files = gradual_files(result, installed_version(), run_record(study)) | store.files()
        files["result.json"] = as_text(told).encode("ascii")
        paths = write_folder(folder, files)
        store.close()
    if as_json:
        print_json(told)
    else:
        from solver.output.screen import gradual_result_text

        click.echo(gradual_result_text(result, every_rule))
        if tolerance_mm is not None and told["smallest_with_tolerance_mm"] is not None:
            click.echo(
                f"To be made within {length_text(tolerance_mm / 1e3)} it is drawn with "
                f"{length_text(told['smallest_with_tolerance_mm'] / 1e3)} at least."
            )
        print_paths(paths)
    return 0 if result.smallest is not None else 3


def _tolerance_of(study: Study) -> float | None:
    """How far the size that is looked for may be off by the study's table [mm]."""
    part: Any = study.component
    for tolerance in study.tolerances:
        if tolerance.name == _SIZED.get(part.kind, "length"):
            return tolerance.amount * 1e3
    return None


def _with_tolerance(
    smallest: float | None, uncertainty: float | None, tolerance_mm: float | None
) -> dict[str, Any]:
    """Keys of the result: the size to draw, so that none within the tolerance is too small.

    Every larger size meets the limit as well, so the tolerance is added, and how far the size that
    was found may be too small itself.
    """
    if tolerance_mm is None:
        return {}
    drawn = None
    if smallest is not None:
        drawn = float(f"{(smallest + (uncertainty or 0.0)) * 1e3 + tolerance_mm:.12g}")
    return {"tolerance_mm": tolerance_mm, "smallest_with_tolerance_mm": drawn}
