"""The command ``guideproof gradual``."""

from __future__ import annotations

import math
from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from geometries.errors import InvalidDimensionError
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
    from geometries.shapes.guides import CircularGuide, RectangularGuide
    from geometries.shapes.horns import Horn
    from geometries.shapes.loads import Load
    from solver.studies.band import Band
    from solver.studies.limits import Limit
    from solver.studies.study import Study

#: Options that say what part it is, which a study does.
_OF_A_LOAD = (
    "position",
    "base_length_mm",
    "base_width_mm",
    "permittivity",
    "loss_tangent",
    "permeability",
    "magnetic_loss_tangent",
)
_OF_A_HORN = ("aperture_width_mm", "aperture_height_mm", "aperture_diameter_mm", "mode")
_OF_THE_PART = ("guide", "kind", "to_guide", "plane", "angle_deg", *_OF_A_LOAD, *_OF_A_HORN)
#: What each kind takes of them besides its guide.
_TAKEN = {
    "bend": ("plane", "angle_deg"),
    "twist": ("angle_deg",),
    "taper": ("to_guide",),
    "load": ("plane", *_OF_A_LOAD),
    "horn": _OF_A_HORN,
}
_KINDS = tuple(_TAKEN)
#: Field of the size that is looked for, where it is not the length.
_SIZED = {"bend": "mean_radius", "load": "taper_length"}


@click.command()
@click.argument("study", required=False, type=click.Path(path_type=Path))
@click.option("--guide", type=GUIDE, help="Size, 22.86x10.16 in mm, or 0.9x0.4in.")
@click.option("--kind", type=click.Choice(_KINDS), help="By default a bend.")
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
    part, band = _part(read, options), _band(read, options)
    limit, s_error = _limit(read, options), _s_error(read, options)
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


def _needed(name: str, value: Any) -> Any:
    if value is None:
        option = f"--{name.replace('_', '-')}"
        raise click.UsageError(f"Missing option '{option}', or a study that says it.")
    return value


def _part(study: Study | None, options: dict[str, Any]) -> Any:
    """The part whose size is wanted, of any size."""
    from solver.searches.gradual import part_to_size

    if study is not None:
        given = [name for name in _OF_THE_PART if options[name] is not None]
        if given:
            raise click.UsageError(
                f"--{given[0].replace('_', '-')}: the study says what part it is; change it there"
            )
        part = study.component
        if part.kind not in _KINDS:
            raise click.UsageError(
                f'{study.path}: component.kind = "{part.kind}": only bends, twists, tapers, '
                "loads and horns can be sized; for other parts, explore or seek vary any key"
            )
        return part
    guide, to_guide = _needed("guide", options["guide"]), options["to_guide"]
    kind = options["kind"] or "bend"
    for name in _OF_THE_PART[2:]:
        if options[name] is not None and name not in _TAKEN[kind]:
            raise click.UsageError(f"--{name.replace('_', '-')}: a {kind} has none; leave it out")
    if kind == "horn":
        return _horn(guide, options)
    _check_rectangular(guide)
    if to_guide is not None:
        _check_rectangular(to_guide)
    if kind == "load":
        return _load(guide, options)
    degrees = 90.0 if options["angle_deg"] is None else options["angle_deg"]
    plane = options["plane"] or "E"
    try:
        return part_to_size(kind, guide, plane, math.radians(degrees), to_guide)
    except InvalidDimensionError as error:
        if error.quantity != "angle":
            raise
        raise click.UsageError(f"--angle-deg {degrees:g}: must be {error.limit}") from error


def _horn(guide: RectangularGuide | CircularGuide, options: dict[str, Any]) -> Horn:
    """A horn of any length, by the keys of a study."""
    from geometries.shapes.guides import RectangularGuide
    from solver.studies.component_keys import HornKeys
    from solver.studies.tables import RefusedKeyError

    sizes = _OF_A_HORN[:3]
    asked = sizes[:2] if isinstance(guide, RectangularGuide) else sizes[2:]
    # what does not belong is told before what is missing
    if all(options[name] is None for name in sizes if name not in asked):
        for name in asked:
            _needed(name, options[name])
    given = {name: options[name] for name in _OF_A_HORN if options[name] is not None}
    try:
        return HornKeys(kind="horn", length_mm=1e4 * guide.longest_side, **given).build(guide)
    except RefusedKeyError as error:
        option = error.key.rpartition(".")[2].replace("_", "-")
        raise click.UsageError(f"--{option}: {error.text}") from error


def _load(guide: RectangularGuide, options: dict[str, Any]) -> Load:
    """A load of any taper, by the keys of a study."""
    from solver.studies.component_keys import LoadKeys

    for name in ("position", "base_length_mm", "permittivity", "loss_tangent"):
        _needed(name, options[name])
    given = {name: options[name] for name in _OF_A_LOAD if options[name] is not None}
    keys = LoadKeys(
        kind="load",
        plane=options["plane"] or "E",
        taper_length_mm=10.0 * guide.broad_width * 1e3,
        **given,
    )
    return keys.build(guide)


def _band(study: Study | None, options: dict[str, Any]) -> Band:
    """The band of the options, or of the study where they are silent."""
    from solver.studies.band import Band, hertz

    low, high, points = (options[name] for name in ("from_ghz", "to_ghz", "points"))
    if study is not None and low is high is points is None:
        return study.band
    guides = (options["guide"], options["to_guide"]) if study is None else study.component.guides
    for guide in guides[:1]:
        _check_unit(guide, low, high)
    start = hertz(_needed("from_ghz", low)) if study is None or low else study.band.start
    stop = hertz(_needed("to_ghz", high)) if study is None or high else study.band.stop
    if start >= stop:
        raise click.UsageError(
            f"--to-ghz {stop / 1e9:g}: must be above --from-ghz ({start / 1e9:g})"
        )
    for guide in guides:
        if guide is not None:
            _check_above_cutoff(guide, start)
    return Band(start, stop, points or (201 if study is None else max(study.band.points, 2)))


def _limit(study: Study | None, options: dict[str, Any]) -> Limit:
    """The limit of the options, or of the study where they set none."""
    from solver.studies.limits import Limit

    if options["vswr"] is not None or options["return_loss_db"] is not None:
        return Limit(options["vswr"], options["return_loss_db"])
    if study is None or study.limit is None:
        raise click.UsageError("no limit: give --vswr or --return-loss-db")
    return study.limit


def _s_error(study: Study | None, options: dict[str, Any]) -> float:
    if options["s_error"] is not None:
        return float(options["s_error"])
    return 1e-5 if study is None else study.s_error


def _check_unit(
    guide: RectangularGuide | CircularGuide, low: float | None, high: float | None
) -> None:
    from solver.studies.band_checks import far_above
    from solver.waves.guide_modes import dominant_cutoff

    for option, ghz in (("--from-ghz", low), ("--to-ghz", high)):
        if ghz is not None and (text := far_above(dominant_cutoff(guide), ghz)):
            raise click.UsageError(f"{option} {ghz:g}: {text}")


def _check_above_cutoff(guide: RectangularGuide | CircularGuide, start: float) -> None:
    from geometries.shapes.guide_sizes import inches_hint
    from solver.waves.guide_modes import dominant_cutoff

    cutoff = dominant_cutoff(guide)
    if start <= cutoff * (1 + 1e-9):
        raise click.UsageError(
            f"--from-ghz {start / 1e9:g}: must be above the cutoff of the guide, "
            f"{cutoff / 1e9:.6g} GHz" + inches_hint(guide, cutoff, start)
        )


def _check_rectangular(guide: RectangularGuide | CircularGuide) -> None:
    from geometries.shapes.guides import RectangularGuide

    if not isinstance(guide, RectangularGuide):
        raise click.UsageError(f"--guide {guide.label}: must be rectangular, as WR-90")
