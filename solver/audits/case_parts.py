"""What cases of an audit are written with: guides with their bands, sizes, tables of studies."""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence
from typing import Any

import numpy as np

from geometries.arrays import Array
from geometries.shapes.guides import CircularGuide, RectangularGuide, find_standard_guide
from solver.audits.rule_audit import Asked
from solver.rules.readings import RuleReading
from solver.studies.band import Band
from solver.studies.plain_values import described_guide

#: Points of a band; the worst between them is found as well.
POINTS, POINTS_IN_SPACE = 41, 11


def guide_and_band(size: str, points: int) -> tuple[RectangularGuide, Band]:
    """Return a standard guide and the band it is made for.

    Raises
    ------
    UnknownGuideError
    """
    found = find_standard_guide(size)
    return found.guide, Band(*found.band, points)


def rounded(length: float) -> float:
    """Return a length [m] in mm, to nine digits."""
    return float(f"{length * 1e3:.9g}")


def guide_table(guide: RectangularGuide | CircularGuide) -> dict[str, Any]:
    """Return a guide as the table of a study."""
    return {key: value for key, value in described_guide(guide).items() if key != "name"}


def study_tables(
    guide: RectangularGuide | CircularGuide,
    band: Band,
    component: Mapping[str, Any],
    s_error: float,
) -> dict[str, Any]:
    """Return the tables of a study.

    Parameters
    ----------
    guide : RectangularGuide or CircularGuide
    band : Band
    component : mapping
        Keys of the part.
    s_error : float
        Wanted bound on the error of S [-].
    """
    return {
        "title": "audit",
        "guide": guide_table(guide),
        "component": dict(component),
        "band": band_table(band),
        "accuracy": {"s_error": s_error},
    }


def band_table(band: Band) -> dict[str, Any]:
    """Return a band as the table of a study."""
    return {"from_ghz": band.start / 1e9, "to_ghz": band.stop / 1e9, "points": band.points}


def asked_lengths(rules: Iterable[RuleReading], key: str) -> tuple[Asked, ...]:
    """Return what readings that ask for a length ask of the key of that length."""
    return tuple(
        Asked(rule.name, rule.reading, rule.required, ({key: rounded(rule.required)},))
        for rule in rules
    )


def scanned(sizes: Array, key: str) -> tuple[tuple[float, dict[str, float]], ...]:
    """Return further sizes [m] as values of a key."""
    return tuple((float(size), {key: rounded(float(size))}) for size in sizes)


def spread(smallest: float, asked: Sequence[Asked], count: int) -> Array:
    """Return sizes from the smallest to the largest that is asked for, evenly in ratio [m]."""
    largest = max((a.size for a in asked if a.size is not None), default=smallest)
    return np.geomspace(smallest, max(largest, 1.01 * smallest), count)


def degrees(angle: float) -> float:
    """Return an angle [rad] in degrees, without the round-off of the conversion."""
    return float(f"{math.degrees(angle):.12g}")
