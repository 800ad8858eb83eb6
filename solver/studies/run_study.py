"""Read a run file: parts from the transmitter on, each in the guide that the one before leaves."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any, ClassVar

from pydantic import ValidationError

from geometries.errors import MeshingError
from geometries.shapes.guides import CircularGuide, RectangularGuide
from geometries.shapes.straights import Straight
from geometries.shapes.transitions import Transition
from geometries.user_files.user_meshes import MeshPart
from solver.errors import StudyError
from solver.studies.band import Band
from solver.studies.guide_keys import Guide, build_guide
from solver.studies.kind_keys import ComponentKeys
from solver.studies.limits import Limit
from solver.studies.messages import first_problem, one_line, refusal
from solver.studies.run_keys import (
    BackwardsTransitionKeys,
    MeasuredKeys,
    PartKeys,
    PlaceKeys,
    RunKeys,
    WholeLineError,
    part_keys,
)
from solver.studies.study import build_component, check_cutoff, read_tables
from solver.studies.tables import RefusedKeyError
from solver.waves.walls import Walls

#: Sizes of two guides that differ by less than this are one guide, relative.
_SAME_SIZE = 1e-3


@dataclass(frozen=True)
class MeasuredPart:
    """A part of which a Touchstone file is known, and nothing else.

    Parameters
    ----------
    guide : RectangularGuide or CircularGuide
        At both of its ports.
    file : Path
    """

    kind: ClassVar[str] = "measured"

    guide: Guide
    file: Path

    @property
    def guides(self) -> tuple[Guide, Guide]:
        """Guide at each port."""
        return self.guide, self.guide


@dataclass(frozen=True)
class RunPart:
    """A part at its place in a run.

    Parameters
    ----------
    component : Part or MeasuredPart
    name : str
        By default its kind and its number, which `named` gives.
    turn : float
        By which it is turned about the axis, as it comes, relative to the part before [rad].
    backwards : bool
        Whether the wave enters its port 2.
    """

    component: Any
    name: str = ""
    turn: float = 0.0
    backwards: bool = False

    @property
    def guides(self) -> tuple[Guide, ...]:
        """Guide at each port, in the direction of the run."""
        guides = tuple(self.component.guides)
        return guides[::-1] if self.backwards else guides


@dataclass(frozen=True)
class RunStudy:
    """What a run file asks for.

    Parameters
    ----------
    title : str
    parts : tuple of RunPart
        From the transmitter on.
    band : Band
    limit : Limit or None
    s_error : float
        Wanted bound on the error of every S-parameter of the run [-].
    walls : Walls or None
    end_vswr : float or None
        Of what the run ends in; None where that is matched.
    path : Path
    """

    title: str
    parts: tuple[RunPart, ...]
    band: Band
    limit: Limit | None
    s_error: float
    walls: Walls | None
    end_vswr: float | None
    path: Path


def read_run(path: str | Path) -> RunStudy:
    """Read and check a run file.

    Parameters
    ----------
    path : str or Path
        A TOML file.

    Returns
    -------
    RunStudy

    Raises
    ------
    StudyError
        With one line that names the file, the key, the value, the limit and what to change.
    """
    path = Path(path)
    return run_of(read_tables(path), path)


def run_of(tables: Mapping[str, Any], path: Path) -> RunStudy:
    """Check the tables of a run file and turn them into values.

    Parameters
    ----------
    tables : mapping
    path : Path
        The file, for messages and for what it names.

    Returns
    -------
    RunStudy

    Raises
    ------
    StudyError
        As `read_run`.
    """
    name = one_line(str(path))
    try:
        return _build(RunKeys.model_validate(tables), path)
    except ValidationError as error:
        raise StudyError(f"{name}: {first_problem(error)}") from error
    except WholeLineError as error:
        raise StudyError(f"{name}: {error.line}") from error
    except RefusedKeyError as error:
        raise StudyError(f"{name}: {refusal(error.key, error.shown, error.text)}") from error


def named(parts: tuple[RunPart, ...]) -> tuple[RunPart, ...]:
    """Give every part without a name its kind and number, and no two parts one name."""
    taken: set[str] = set()
    found = []
    for number, part in enumerate(parts, start=1):
        name = part.name or f"{number} {part.component.kind}"
        if name in taken:
            name = f"{name} ({number})"
        taken.add(name)
        found.append(replace(part, name=name))
    return tuple(found)


def check_run(parts: tuple[RunPart, ...], guide: Guide) -> None:
    """Refuse parts that do not fit together.

    Parameters
    ----------
    parts : tuple of RunPart
        With their names.
    guide : RectangularGuide or CircularGuide
        At the transmitter.

    Raises
    ------
    StudyError
        With one line that names both parts.
    """
    before, mode = "the transmitter", ""
    for number, part in enumerate(parts):
        who = f"part[{number}] ({part.name})"
        if not _same(part.guides[0], guide):
            raise StudyError(
                f"{who} has the guide {_size(part.guides[0])}, but {before} ends in "
                f"{_size(guide)}; put a taper or a transition between them"
            )
        if isinstance(guide, RectangularGuide) and not _half_turns(part.turn):
            raise StudyError(
                f"{who}: turn_deg = {math.degrees(part.turn):g}: a rectangular guide fits the one "
                "before it only turned by 0 or 180 degrees; put a twist between them, or an "
                "offset that turns"
            )
        mode = _carried(part, mode, who, before)
        if len(part.guides) == 1 and number < len(parts) - 1:
            raise StudyError(
                f"{who}: a {part.component.kind} has one port, so that nothing can follow it; "
                "make it the last part"
            )
        before, guide = f"part[{number}] ({part.name})", part.guides[-1]


def _carried(part: RunPart, mode: str, who: str, before: str) -> str:
    """Mode that carries the power after a part; refuse one that takes another."""
    first = part.guides[0]
    if isinstance(first, RectangularGuide):
        return "TE11" if isinstance(part.guides[-1], CircularGuide) else ""
    if isinstance(part.component, Straight | MeasuredPart | MeshPart):
        return mode
    wanted = "TE11" if part.backwards else part.component.entering_mode
    if mode and wanted != mode:
        raise StudyError(
            f"{who} takes {wanted}, but {before} brings {mode}; choose parts of one mode"
        )
    return "" if isinstance(part.guides[-1], RectangularGuide) else wanted


def _build(keys: RunKeys, path: Path) -> RunStudy:
    guide = start = build_guide("guide", keys.guide)
    try:
        band = keys.band.build()
    except RefusedKeyError as error:
        raise RefusedKeyError(f"band.{error.key}", error.shown, error.text) from error
    check_cutoff(keys.band, Straight(guide, 1.0), band)
    parts = []
    for number, table in enumerate(keys.part):
        place, own = part_keys(table, number)
        part = _part(place, own, guide, f"part[{number}]", path.parent)
        parts.append(part)
        try:
            guide = part.guides[-1]
        except MeshingError as error:
            raise RefusedKeyError(f"part[{number}]", {}, one_line(str(error))) from error
        check_cutoff(keys.band, Straight(guide, 1.0), band, f" behind part[{number}]")
    run = named(tuple(parts))
    try:
        check_run(run, start)
    except StudyError as error:
        raise WholeLineError(str(error)) from error
    end = keys.end.vswr if keys.end is not None else None
    if end is not None and len(run[-1].guides) == 1:
        raise RefusedKeyError(
            "end.vswr", end, f"the last part, a {run[-1].component.kind}, has one port; remove it"
        )
    return RunStudy(
        title=keys.title or path.stem,
        parts=run,
        band=band,
        limit=keys.limit.build() if keys.limit is not None else None,
        s_error=keys.accuracy.s_error,
        walls=Walls(keys.walls.conductivity_s_per_m) if keys.walls is not None else None,
        end_vswr=end,
        path=path,
    )


def _part(place: PlaceKeys, own: PartKeys, guide: Guide, where: str, folder: Path) -> RunPart:
    stated = guide if place.guide is None else build_guide(f"{where}.guide", place.guide)
    backwards = isinstance(own, BackwardsTransitionKeys)
    component: Any
    if isinstance(own, MeasuredKeys):
        component = MeasuredPart(stated, folder / own.file)
    elif isinstance(own, BackwardsTransitionKeys):
        component = _backwards(own, stated, where)
    else:
        component = _component(own, stated, where)
    if isinstance(component, MeshPart):
        component = replace(component, file=folder / component.file)
    return RunPart(component, place.name, math.radians(place.turn_deg), backwards)


def _component(own: ComponentKeys, guide: Guide, where: str) -> Any:
    try:
        return build_component(own, guide, where)
    except RefusedKeyError as error:
        key = error.key.replace("component", where, 1)
        raise RefusedKeyError(key, error.shown, error.text) from error


def _backwards(own: BackwardsTransitionKeys, guide: Guide, where: str) -> Transition:
    if not isinstance(guide, CircularGuide):
        raise RefusedKeyError(
            f"{where}.to_guide",
            {},
            "a transition to a rectangular guide starts from a circular one; give to_diameter_mm",
        )
    other = build_guide(f"{where}.to_guide", own.to_guide)
    if not isinstance(other, RectangularGuide):
        raise RefusedKeyError(f"{where}.to_guide", {}, "must be a rectangular guide")
    return Transition(other, guide.diameter, own.length_mm / 1000)


def _half_turns(turn: float) -> bool:
    return abs(math.remainder(turn, math.pi)) < 1e-9


def _same(one: Guide, other: Guide) -> bool:
    sides = _sides(one), _sides(other)
    return len(sides[0]) == len(sides[1]) and all(
        abs(x - y) <= _SAME_SIZE * max(x, y) for x, y in zip(*sides, strict=True)
    )


def _sides(guide: Guide) -> tuple[float, ...]:
    if isinstance(guide, CircularGuide):
        return (guide.diameter,)
    return guide.broad_width, guide.narrow_height


def _size(guide: Guide) -> str:
    sides = " x ".join(f"{side * 1e3:.6g}" for side in _sides(guide))
    return f"{guide.label} ({sides} mm)" if guide.name else f"{guide.label}"
