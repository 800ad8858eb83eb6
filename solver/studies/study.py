"""Read a study file: the part, the band, the limit and the accuracy, in SI units."""

from __future__ import annotations

import tomllib
from collections.abc import Mapping
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

from pydantic import ValidationError

from geometries.errors import InvalidDimensionError
from geometries.shapes.guides import CircularGuide
from geometries.shapes.loads import Load
from geometries.shapes.straights import Straight
from geometries.user_files.user_meshes import MeshPart
from solver.errors import StudyError
from solver.studies.band import Band, hertz
from solver.studies.component_keys import Component
from solver.studies.cooling import Cooling
from solver.studies.guide_keys import Guide, build_guide
from solver.studies.inches import as_written
from solver.studies.kind_keys import ComponentKeys
from solver.studies.limits import Limit, check_leakage_key
from solver.studies.messages import (
    MISSING,
    WHOLE_TABLE,
    first_problem,
    one_line,
    refusal,
)
from solver.studies.slips import homes, refuse_other_sort, slip_in_text
from solver.studies.study_keys import StudyKeys, band_for, check_cutoff
from solver.studies.tables import RefusedKeyError
from solver.studies.tolerances import Tolerance, tolerances_of
from solver.waves.walls import Walls

#: A study of twenty thousand listed frequencies stays well below this size [bytes].
LARGEST_FILE = 1_000_000


@dataclass(frozen=True)
class Study:
    """What a study file asks for.

    Parameters
    ----------
    title : str
    component : Component
        The part, in its guide.
    band : Band
    limit : Limit or None
    s_error : float
        Wanted bound on the error of every S-parameter [-].
    walls : Walls or None
        None for walls without loss.
    path : Path
        The file it was read from.
    tolerances : tuple of Tolerance
        How far dimensions of the part may be off.
    picture_at : tuple of float
        Frequencies at which the field is shown [Hz]; empty for those that a verdict chooses.
    cooling : Cooling or None
        Of a load.
    """

    title: str
    component: Component
    band: Band
    limit: Limit | None
    s_error: float
    walls: Walls | None
    path: Path
    tolerances: tuple[Tolerance, ...] = ()
    picture_at: tuple[float, ...] = ()
    cooling: Cooling | None = None


def read_study(path: str | Path) -> Study:
    """Read and check a study file.

    Parameters
    ----------
    path : str or Path
        A TOML file.

    Returns
    -------
    Study

    Raises
    ------
    StudyError
        With one line that names the file, the key, the value, the limit and what to change.
    """
    path = Path(path)
    return study_of(read_tables(path), path)


def study_of(tables: Mapping[str, Any], path: Path) -> Study:
    """Check the tables of a study and turn them into the values that the solver takes.

    Parameters
    ----------
    tables : mapping
        What the file holds, or a copy of it with other values.
    path : Path
        The file, for messages and for what it names.

    Returns
    -------
    Study

    Raises
    ------
    StudyError
        As `read_study`.
    """
    name = one_line(str(path))
    refuse_other_sort(tables, "study", name)
    try:
        keys = StudyKeys.model_validate(tables)
        return _build(keys, path)
    except ValidationError as error:
        raise StudyError(f"{name}: {first_problem(error, tables, homes())}") from error
    except RefusedKeyError as error:
        key, shown = as_written(tables, error.key, error.shown)
        raise StudyError(f"{name}: {refusal(key, shown, error.text)}") from error


def read_tables(path: Path) -> dict[str, Any]:
    """Return a TOML file as nested tables, unchecked.

    Raises
    ------
    StudyError
        If it is not a readable TOML file.
    """
    name = one_line(str(path))
    try:
        if not path.is_file():
            what = "is a folder" if path.is_dir() else "does not exist or is not a regular file"
            raise StudyError(f"{name}: {what}; name a study file")
        size = path.stat().st_size
        if size > LARGEST_FILE:
            raise StudyError(
                f"{name}: {size} bytes: a study has at most {LARGEST_FILE} bytes; is this the file?"
            )
        return tomllib.loads(path.read_bytes().decode("utf-8"))
    except UnicodeDecodeError as error:
        raise StudyError(
            f"{name}: byte {error.start} is not UTF-8 text; save the study as UTF-8"
        ) from error
    except OSError as error:
        reason = error.strerror or str(error)
        raise StudyError(f"{name}: cannot be read: {one_line(reason)}") from error
    except RecursionError as error:
        raise StudyError(f"{name}: not a study: its brackets are nested too deep") from error
    except StudyError:
        raise
    except ValueError as error:  # tomllib's own error, or a path with a null character
        line = f"{name}: not a TOML file: {one_line(str(error))}"
        raise StudyError(line + slip_in_text(path)) from error


def _build(keys: StudyKeys, path: Path) -> Study:
    """Turn checked keys into the values that the solver takes."""
    guide = build_guide("guide", keys.guide)
    component = build_component(keys.component, guide)
    if isinstance(component, MeshPart):
        component = replace(component, file=path.parent / component.file)
    band = band_for(keys.band, component)
    # the file of a mesh is read when it is solved
    others = () if isinstance(component, MeshPart) else component.guides[1:]
    for other in others:
        if other != component.guide:
            check_cutoff(keys.band, Straight(other, 1.0), band, " to which the part leads")
    limit = keys.limit.build() if keys.limit is not None else None
    check_leakage_key(component, limit)
    return Study(
        title=keys.title or path.stem,
        component=component,
        band=band,
        limit=limit,
        s_error=keys.accuracy.s_error,
        walls=Walls(keys.walls.conductivity_s_per_m) if keys.walls is not None else None,
        path=path,
        tolerances=tolerances_of(component, keys.tolerance or {}),
        picture_at=_picture_at(keys, band),
        cooling=_cooling(keys, component),
    )


def _picture_at(keys: StudyKeys, band: Band) -> tuple[float, ...]:
    """Frequencies at which the field is shown, all within the band [Hz]."""
    wanted = keys.picture.frequencies_ghz if keys.picture is not None else []
    for index, ghz in enumerate(wanted):
        if not band.start * (1 - 1e-12) <= hertz(ghz) <= band.stop * (1 + 1e-12):
            raise RefusedKeyError(
                f"picture.frequencies_ghz[{index}]",
                ghz,
                f"must lie in the band, {band.start / 1e9:g} to {band.stop / 1e9:g} GHz",
            )
    return tuple(hertz(ghz) for ghz in wanted)


def _cooling(keys: StudyKeys, component: Component) -> Cooling | None:
    if keys.cooling is not None and not isinstance(component, Load):
        raise RefusedKeyError(
            "component.kind",
            component.kind,
            "has no absorber to cool; leave out the table cooling, or take a load",
        )
    return keys.cooling.build() if keys.cooling is not None else None


def build_component(keys: ComponentKeys, guide: Guide, where: str = "component") -> Component:
    """Build the part; translate a dimension it refuses into the file's key and unit.

    Parameters
    ----------
    keys : ComponentKeys
    guide : RectangularGuide or CircularGuide
    where : str
        Key path of the part's table, for messages.

    Raises
    ------
    RefusedKeyError
    """
    if not isinstance(guide, keys.takes):
        wanted = "rectangular" if isinstance(guide, CircularGuide) else "circular"
        raise RefusedKeyError(
            f"{where}.kind",
            keys.kind,
            f"needs a {wanted} guide; change the guide or the kind",
        )
    try:
        return keys.build(guide)
    except InvalidDimensionError as error:
        fields = type(keys).model_fields
        names = [f"{error.quantity}{unit}" for unit in ("_mm", "_deg", "")]
        key = next((name for name in names if name in fields), None)
        if key is None:
            raise RefusedKeyError(where, WHOLE_TABLE, one_line(str(error))) from error
        advice = f"; {error.advice}" if error.advice else ""
        text = one_line(f"must be {error.limit}{advice}")
        given = getattr(keys, key) if key in keys.model_fields_set else MISSING
        raise RefusedKeyError(f"{where}.{key}", given, text) from error
