"""Read a run file: parts from the transmitter on, each in the guide that the one before leaves."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

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
from solver.studies.messages import WHOLE_TABLE, first_problem, one_line, refusal
from solver.studies.run_chain import MeasuredPart, RunPart, check_run, named
from solver.studies.run_keys import (
    BackwardsTransitionKeys,
    MeasuredKeys,
    PartKeys,
    PlaceKeys,
    RunKeys,
    WholeLineError,
    part_keys,
)
from solver.studies.slips import refuse_other_sort
from solver.studies.study import build_component, read_tables
from solver.studies.study_keys import band_for, check_cutoff
from solver.studies.tables import RefusedKeyError
from solver.waves.walls import Walls


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
    refuse_other_sort(tables, "run", name)
    try:
        return _build(RunKeys.model_validate(tables), path)
    except ValidationError as error:
        raise StudyError(f"{name}: {first_problem(error)}") from error
    except WholeLineError as error:
        raise StudyError(f"{name}: {error.line}") from error
    except RefusedKeyError as error:
        raise StudyError(f"{name}: {refusal(error.key, error.shown, error.text)}") from error


def _build(keys: RunKeys, path: Path) -> RunStudy:
    guide = start = build_guide("guide", keys.guide)
    band = band_for(keys.band, Straight(guide, 1.0))
    parts = []
    for number, table in enumerate(keys.part):
        place, own = part_keys(table, number)
        part = _part(place, own, guide, f"part[{number}]", path.parent)
        parts.append(part)
        try:
            guide = part.guides[-1]
        except MeshingError as error:
            raise RefusedKeyError(f"part[{number}]", WHOLE_TABLE, one_line(str(error))) from error
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
            WHOLE_TABLE,
            "a transition to a rectangular guide starts from a circular one; give to_diameter_mm",
        )
    other = build_guide(f"{where}.to_guide", own.to_guide)
    if not isinstance(other, RectangularGuide):
        raise RefusedKeyError(f"{where}.to_guide", WHOLE_TABLE, "must be a rectangular guide")
    return Transition(other, guide.diameter, own.length_mm / 1000)
