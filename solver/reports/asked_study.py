"""What a Python user asks for: a study file, or a part with its band, checked for its units."""

from __future__ import annotations

import dataclasses
from pathlib import Path
from typing import Any

from geometries.errors import InvalidDimensionError
from geometries.shapes.part import known_part
from geometries.shapes.units import LENGTH, measure_of
from solver.errors import StudyError
from solver.studies.band import Band
from solver.studies.limits import Limit
from solver.studies.study import Study, read_study
from solver.waves.guide_modes import entering_cutoff
from solver.waves.walls import Walls

#: A part longer than this many guides, or a band this many cutoffs up, is in other units.
_LONGEST, _HIGHEST = 500.0, 100.0


def asked_of(
    component: Any,
    band: Band | None,
    limit: Limit | None = None,
    s_error: float | None = None,
    walls: Walls | None = None,
    title: str = "",
    accuracy: float = 1e-4,
) -> Study:
    """Return what is asked for as a study; what is given counts more than what a file says.

    Parameters
    ----------
    component : object, str, Path or Study
        A part, or a study.
    band, limit, s_error, walls, title
        None, or empty, for those of the study.
    accuracy : float
        `s_error` where neither says it [-].

    Returns
    -------
    Study

    Raises
    ------
    StudyError
        When the study cannot be read, or a part has no band.
    UnknownPartError
    """
    if isinstance(component, str | Path):
        component = read_study(component)
    if isinstance(component, Study):
        return dataclasses.replace(
            component,
            band=band or component.band,
            limit=limit or component.limit,
            s_error=component.s_error if s_error is None else s_error,
            walls=walls or component.walls,
            title=title or component.title,
        )
    part: Any = known_part(component)
    if band is None:
        raise StudyError(f"a {part.kind} without a band: give one, as Band(8.2e9, 12.4e9)")
    wanted = accuracy if s_error is None else s_error
    return Study(title, part, band, limit, wanted, walls, Path())


def check_units(asked: Study) -> None:
    """Refuse a part whose lengths are in other units than metres, by the look of them.

    Raises
    ------
    InvalidDimensionError
    """
    part: Any = asked.component
    cutoff, longest = entering_cutoff(part), part.guide.longest_side
    if asked.band.start > _HIGHEST * cutoff:
        name = "broad_width" if hasattr(part.guide, "broad_width") else "diameter"
        raise InvalidDimensionError(
            name,
            longest,
            f"small enough for the band, from {asked.band.start / 1e9:g} GHz: the guide's cutoff "
            f"is {cutoff / 1e9:.2g} GHz",
            _METRES,
        )
    for item in dataclasses.fields(part):
        if item.name == "guide" or measure_of(part, item) != LENGTH:
            continue
        value = getattr(part, item.name)
        if abs(value) > _LONGEST * longest:
            raise InvalidDimensionError(
                item.name,
                value,
                f"at most {_LONGEST:g} times the guide, {_LONGEST * longest:.3g} m, unless "
                "however_long is given",
                _METRES,
            )


_METRES = "lengths are in metres, so that 38 mm is 0.038"
