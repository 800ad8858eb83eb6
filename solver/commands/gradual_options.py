"""What the options of ``guideproof gradual`` ask for, with a study or without."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Any

import click

from geometries.errors import InvalidDimensionError

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
KINDS = tuple(_TAKEN)


def _needed(name: str, value: Any) -> Any:
    if value is None:
        option = f"--{name.replace('_', '-')}"
        raise click.UsageError(f"Missing option '{option}', or a study that says it.")
    return value


def part_asked(study: Study | None, options: dict[str, Any]) -> Any:
    """Return the part whose size is wanted, of any size.

    Parameters
    ----------
    study : Study or None
    options : dict
        Of the command line, by name; None where one is not given.

    Raises
    ------
    click.UsageError
    """
    from solver.searches.gradual import part_to_size

    if study is not None:
        given = [name for name in _OF_THE_PART if options[name] is not None]
        if given:
            raise click.UsageError(
                f"--{given[0].replace('_', '-')}: the study says what part it is; change it there"
            )
        part = study.component
        if part.kind not in KINDS:
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


def band_asked(study: Study | None, options: dict[str, Any]) -> Band:
    """Return the band of the options, or of the study where they are silent."""
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


def limit_asked(study: Study | None, options: dict[str, Any]) -> Limit:
    """Return the limit of the options, or of the study where they set none."""
    from solver.studies.limits import Limit

    if options["vswr"] is not None or options["return_loss_db"] is not None:
        return Limit(options["vswr"], options["return_loss_db"])
    if study is None or study.limit is None:
        raise click.UsageError("no limit: give --vswr or --return-loss-db")
    return study.limit


def s_error_asked(study: Study | None, options: dict[str, Any]) -> float:
    """Return the accuracy of the options, or of the study where they are silent."""
    if options["s_error"] is not None:
        return float(options["s_error"])
    return 1e-5 if study is None else study.s_error


def _check_unit(
    guide: RectangularGuide | CircularGuide, low: float | None, high: float | None
) -> None:
    from solver.studies.study_keys import far_above
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
