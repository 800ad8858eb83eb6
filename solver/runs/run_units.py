"""What a run is made of: its parts as they stand in it, and groups of those that stand near."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from geometries.shapes.part import Guide
from geometries.shapes.straights import Straight
from solver.runs.chain_answers import Line
from solver.runs.cluster import NearJoint
from solver.runs.cluster_task import ClusterTask
from solver.runs.measured_parts import measured
from solver.runs.near_parts import Neighbours
from solver.runs.part_task import KeptPart, PartTask
from solver.runs.sampled_part import SampledPart, reversed_part
from solver.runs.solve_parts import solve_parts
from solver.runs.worst_case import far_row
from solver.studies.band import Band
from solver.studies.run_chain import MeasuredPart, RunPart
from solver.waves.scattering import decibels
from solver.waves.walls import Walls

#: Share of the wanted error that one part solved in its plane takes; it costs next to nothing.
_OF_PLANE_PART = 1 / 64
_FINEST = 1e-9


def laid_out(parts: Sequence[RunPart]) -> tuple[list[RunPart], list[Line]]:
    """Part a run into what is solved and the straight guide before, between and behind it.

    Parameters
    ----------
    parts : sequence of RunPart

    Returns
    -------
    list of RunPart, list of Line
        One line more than parts; none behind a part with one port.
    """
    stations: list[RunPart] = []
    lines: list[Line] = []
    guide: Guide = parts[0].guides[0]
    length = turn = 0.0
    for part in parts:
        turn += part.turn
        if isinstance(part.component, Straight):
            length += part.component.length
            continue
        lines.append(Line(guide, length, turn))
        stations.append(part)
        length = turn = 0.0
        guide = part.guides[-1]
    if not stations or len(stations[-1].guides) > 1:
        lines.append(Line(guide, length, turn))
    return stations, lines


def computed_parts(
    stations: Sequence[RunPart],
    band: Band,
    s_error: float,
    walls: Walls | None,
    how: dict[str, Any],
) -> list[KeptPart]:
    """Every part as it stands in the run."""
    asked = _tasks(stations, band, s_error, walls)
    keys = [task.fingerprint if task is not None else None for task in asked]
    tasks = {task.fingerprint: task for task in asked if task is not None}
    names: dict[str, str] = {}
    for station, key in zip(stations, keys, strict=True):
        if key is not None:
            names.setdefault(key, station.name)
    found = solve_parts(tasks, names, **how)
    return [
        _in_its_place(station, found[key] if key is not None else _measured(station, band))
        for station, key in zip(stations, keys, strict=True)
    ]


def part_tasks(
    stations: Sequence[RunPart], band: Band, s_error: float, walls: Walls | None
) -> dict[str, PartTask]:
    """Return what has to be computed of the parts of a run, by fingerprint.

    Parameters
    ----------
    stations : sequence of RunPart
        From `laid_out`.
    band : Band
    s_error : float
        Wanted of the run.
    walls : Walls or None
    """
    asked = _tasks(stations, band, s_error, walls)
    return {task.fingerprint: task for task in asked if task is not None}


def _tasks(
    stations: Sequence[RunPart], band: Band, s_error: float, walls: Walls | None
) -> list[PartTask | None]:
    """The task of each part; None for a measured one."""
    in_space = sum(_in_space(station.component) for station in stations)
    tasks: list[PartTask | None] = []
    for station in stations:
        part = station.component
        if isinstance(part, MeasuredPart):
            tasks.append(None)
            continue
        wanted = part_error(s_error, in_space if _in_space(part) else 0)
        tasks.append(PartTask(part, band, wanted, walls))
    return tasks


@dataclass(frozen=True, eq=False)
class RunUnits:
    """What the chain is made of: parts, and groups of near parts in the place of theirs."""

    samples: list[SampledPart]
    lines: list[Line]
    names: list[str]
    doubts: list[float]
    #: Number of the unit to which each part belongs.
    owner: list[int]
    told: list[str]


def joined_units(
    stations: Sequence[RunPart],
    samples: Sequence[SampledPart],
    lines: Sequence[Line],
    beside: Neighbours,
    band: Band,
    s_error: float,
    walls: Walls | None,
    how: dict[str, Any],
) -> RunUnits:
    """Put groups of near parts, joined with several modes, in the place of their parts."""
    tasks = {}
    for first, last in beside.groups:
        group = stations[first : last + 1]
        tasks[first] = ClusterTask(
            tuple(station.component for station in group),
            tuple(station.backwards for station in group),
            tuple(NearJoint(line.length, line.turn) for line in lines[first + 1 : last + 1]),
            band,
            part_error(s_error, 1),
            walls,
        )
    names = {
        task.fingerprint: f"{stations[first].name} and what stands near it"
        for first, task in tasks.items()
    }
    found = solve_parts({task.fingerprint: task for task in tasks.values()}, names, **how)
    ends = dict(beside.groups)
    units = RunUnits([], [], [], [], [], [])
    number = 0
    while number < len(stations):
        last = ends.get(number, number)
        unit, name = samples[number], stations[number].name
        if number in tasks:
            kept = found[tasks[number].fingerprint]
            unit, name = kept.sampled, f"{name} to {stations[last].name}"
            units.told.append(f"{name}: {kept.facts['method']}, bar {kept.facts['bar']:.1e}")
        units.samples.append(unit)
        units.names.append(name)
        units.lines.append(lines[number])
        units.doubts.append(max(beside.doubts[number : last + 1]))
        units.owner.extend([len(units.samples) - 1] * (last - number + 1))
        number = last + 1
    units.lines.extend(lines[len(stations) :])
    return units


def part_error(s_error: float, parts_in_space: int) -> float:
    """Share of the wanted error of a run that one part takes [-].

    Parameters
    ----------
    s_error : float
        Of the run.
    parts_in_space : int
        Number of parts that are solved in space; 0 for the share of one solved in its plane.

    Notes
    -----
    A power of two, so that one part more or less changes the share, and with it what is kept, as
    seldom as may be.
    """
    if not parts_in_space:
        return max(_FINEST, s_error * _OF_PLANE_PART)
    return max(_FINEST, s_error / 2 ** (1 + math.ceil(math.log2(parts_in_space))))


def _in_its_place(station: RunPart, kept: KeptPart) -> KeptPart:
    if not station.backwards:
        return kept
    return KeptPart(reversed_part(kept.sampled), kept.facts, kept.files)


def _measured(station: RunPart, band: Band) -> KeptPart:
    part = measured(station.component, band)
    inside = (part.frequency >= band.start) & (part.frequency <= band.stop)
    at = np.union1d(part.frequency[inside], band.frequencies)
    s, error, _ = part.at(at)
    worst, row = int(np.argmax(np.abs(s[:, 0, 0]))), far_row(part)
    facts: dict[str, Any] = {
        "worst_s11": float(np.abs(s[worst, 0, 0])),
        "worst_s11_error": float(error[worst]),
        "worst_loss_db": float(-decibels(s[:, row, 0]).min()) if row is not None else None,
        "breakdown_w": None,
        "method": f"measured, {len(part.frequency)} frequencies",
        "cautions": [],
        "factorisations": 0,
        "seconds": 0.0,
    }
    return KeptPart(part, facts)


def _in_space(part: Any) -> bool:
    return not isinstance(part, MeasuredPart) and part.exact_plane is None
