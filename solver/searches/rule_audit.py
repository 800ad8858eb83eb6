"""Rules of thumb for bends against the field solution: where they hold, and what they cost."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np

from geometries.errors import GeometryError
from geometries.shapes.bends import Bend
from geometries.shapes.guides import RectangularGuide
from geometries.shapes.part import Plane
from solver.progress import Progress
from solver.rules.rules_of_thumb import required_radius, rules_for
from solver.searches.exploration import Worst
from solver.searches.explore import explore
from solver.searches.point_store import PointStore
from solver.searches.varied_keys import Variation
from solver.studies.band import Band
from solver.studies.limits import amplitude_of
from solver.waves.guide_modes import free_space_wavelength

#: Standing-wave ratios against which rules are held.
LEVELS = (1.02, 1.05, 1.10)
#: Radii between the tightest bend and the largest that a rule asks for.
_SCANNED = 28
#: Inner radius of the tightest bend, over the width in the plane.
_TIGHTEST = 0.05


@dataclass(frozen=True)
class Reading:
    """One reading of a rule for one bend.

    Parameters
    ----------
    name, reading : str
    radius : float
        Mean radius that it asks for [m].
    worst : Worst
        Reflection of the bend with that radius, over the band.
    """

    name: str
    reading: str
    radius: float
    worst: Worst

    def holds(self, vswr: float) -> bool:
        """Whether the bend meets a standing-wave ratio, its bar counted."""
        return self.worst.high <= amplitude_of("vswr", vswr)


@dataclass(frozen=True)
class AuditedBend:
    """A bend of given guide, plane and angle, and what the rules say of it.

    Parameters
    ----------
    guide : RectangularGuide
    plane : {"E", "H"}
    angle : float
        [rad]
    band : Band
    readings : tuple of Reading
    smallest : dict of float to (float, float) or None
        By VSWR: mean radius from which every larger one that was computed meets it, and how far
        below it the next one lies [m].
    """

    guide: RectangularGuide
    plane: Plane
    angle: float
    band: Band
    readings: tuple[Reading, ...]
    smallest: dict[float, tuple[float, float] | None]

    def wasted(self, reading: Reading, vswr: float) -> float | None:
        """Axis length beyond what the limit needs; None where it is not met [m]."""
        least = self.smallest[vswr]
        if least is None or not reading.holds(vswr):
            return None
        return max(0.0, (reading.radius - least[0]) * self.angle)


@dataclass(frozen=True)
class RuleRecord:
    """One reading over all bends.

    Parameters
    ----------
    name, reading : str
    plane : {"E", "H"}
    bends : int
    holds : dict of float to int
        Bends that meet each VSWR when made as it says.
    worst_vswr : float
        That it lets through.
    wasted : dict of float to (float, float) or None
        Mean and largest axis length beyond what each VSWR needs, of bends that meet it [m].
    """

    name: str
    reading: str
    plane: Plane
    bends: int
    holds: dict[float, int]
    worst_vswr: float
    wasted: dict[float, tuple[float, float] | None]


def audit_bends(
    guides: Sequence[tuple[RectangularGuide, Band]],
    angles: Sequence[float],
    *,
    workers: int = 1,
    store: PointStore | None = None,
    progress: Progress | None = None,
) -> tuple[AuditedBend, ...]:
    """Solve bends as every reading of every rule wants them, and others beside.

    Parameters
    ----------
    guides : sequence of (RectangularGuide, Band)
    angles : sequence of float
        [rad]
    workers : int
        Processes that compute.
    store : PointStore, optional
        Keeps every finished bend.
    progress : callable, optional
    """
    store = store or PointStore(None)
    kinds = [(g, b, p, angle) for g, b in guides for p in ("E", "H") for angle in angles]
    found = []
    for number, (guide, band, plane, angle) in enumerate(kinds, start=1):
        if progress:
            words = f"{guide.label}, {plane}-plane, {math.degrees(angle):g} degrees"
            progress(f"{words} ({number} of {len(kinds)})", (number - 1) / len(kinds))
        found.append(_audited(guide, band, plane, angle, workers, store))  # type: ignore[arg-type]
    return tuple(found)


def _audited(
    guide: RectangularGuide,
    band: Band,
    plane: Plane,
    angle: float,
    workers: int,
    store: PointStore,
) -> AuditedBend:
    base = Bend(guide, plane, angle, _base_radius(guide, band))
    asked = [(rule, required_radius(rule, base)) for rule in rules_for(base, band)]
    asked = [(rule, radius) for rule, radius in asked if _can_be(guide, plane, angle, radius)]
    tightest = (0.5 + _TIGHTEST) * base.width_in_plane
    largest = max(radius for _, radius in asked)
    scanned = np.geomspace(tightest, largest, _SCANNED)
    millimetres = {_key(r): None for r in (*scanned, *(radius for _, radius in asked))}
    cells = explore(
        _tables(base, band),
        Path("audit"),
        [Variation("component.mean_radius_mm", tuple(sorted(millimetres)))],
        workers=workers,
        store=store,
    ).cells
    worst = {
        cell.values["component.mean_radius_mm"]: cell.reflection
        for cell in cells
        if cell.reflection is not None
    }
    readings = tuple(
        Reading(rule.name, rule.reading, radius, worst[_key(radius)]) for rule, radius in asked
    )
    smallest = {level: _smallest(worst, level) for level in LEVELS}
    return AuditedBend(guide, plane, angle, band, readings, smallest)


def _base_radius(guide: RectangularGuide, band: Band) -> float:
    """Mean radius about which a rule that asks for the nearest of several lengths is read."""
    return max(float(free_space_wavelength(band.centre)), 0.6 * guide.broad_width)


def _can_be(guide: RectangularGuide, plane: Plane, angle: float, radius: float) -> bool:
    try:
        Bend(guide, plane, angle, radius)
    except GeometryError:
        return False
    return True


def _key(radius: float) -> float:
    return float(f"{radius * 1e3:.9g}")


def _tables(bend: Bend, band: Band) -> dict[str, Any]:
    guide = bend.guide
    return {
        "title": "audit",
        "guide": {
            "width_mm": float(f"{guide.broad_width * 1e3:.12g}"),
            "height_mm": float(f"{guide.narrow_height * 1e3:.12g}"),
        },
        "component": {
            "kind": "bend",
            "plane": bend.plane,
            "angle_deg": float(f"{math.degrees(bend.angle):.12g}"),
            "mean_radius_mm": _key(bend.mean_radius),
        },
        "band": {"from_ghz": band.start / 1e9, "to_ghz": band.stop / 1e9, "points": 41},
        "accuracy": {"s_error": 1e-5},
    }


def _smallest(worst: dict[float, Worst], vswr: float) -> tuple[float, float] | None:
    allowed, least = amplitude_of("vswr", vswr), None
    for radius in sorted(worst, reverse=True):
        if worst[radius].high > allowed:
            return None if least is None else (least / 1e3, (least - radius) / 1e3)
        least = radius
    # the tightest bend that was computed meets it as well
    return None if least is None else (least / 1e3, 0.0)


def records_of(bends: Sequence[AuditedBend]) -> tuple[RuleRecord, ...]:
    """Return each reading over all bends of a plane, in the order of the rules."""
    gathered: dict[tuple[str, str, Plane], list[tuple[AuditedBend, Reading]]] = {}
    for bend in bends:
        for reading in bend.readings:
            key = (reading.name, reading.reading, bend.plane)
            gathered.setdefault(key, []).append((bend, reading))
    records = []
    for (name, words, plane), pairs in gathered.items():
        largest = max(reading.worst.value for _, reading in pairs)
        wasted: dict[float, tuple[float, float] | None] = {}
        for level in LEVELS:
            extra = [w for b, r in pairs if (w := b.wasted(r, level)) is not None]
            wasted[level] = (float(np.mean(extra)), max(extra)) if extra else None
        records.append(
            RuleRecord(
                name=name,
                reading=words,
                plane=plane,
                bends=len(pairs),
                holds={level: sum(r.holds(level) for _, r in pairs) for level in LEVELS},
                worst_vswr=(1 + largest) / (1 - min(largest, 1 - 1e-12)),
                wasted=wasted,
            )
        )
    return tuple(records)
