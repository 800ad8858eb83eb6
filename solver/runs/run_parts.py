"""From the parts of a run to what the transmitter sees: the whole chain in one call."""

from __future__ import annotations

import math
import time
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from geometries.shapes.part import Guide
from geometries.shapes.straights import Straight
from solver.errors import StudyError
from solver.judgement.verdict import judge
from solver.parts.peak_field import matched_breakdown_power
from solver.progress import Progress
from solver.runs.chain import Chain, ChainAnswers, Line
from solver.runs.chain_band import ChainBand, chain_band, worst_with_end
from solver.runs.cluster import NearJoint
from solver.runs.cluster_task import ClusterTask
from solver.runs.guide_lines import phase_constant_of
from solver.runs.measured_parts import measured
from solver.runs.near_parts import Neighbours, check_polarisation, neighbours
from solver.runs.part_store import PartStore
from solver.runs.part_task import KeptPart, PartTask
from solver.runs.run_result import PartLine, RunCurve, RunResult
from solver.runs.sampled_part import SampledPart, reversed_part
from solver.runs.solve_parts import Report, solve_parts
from solver.runs.worst_case import WorstCase, far_row, worst_case
from solver.studies.band import Band
from solver.studies.limits import Limit
from solver.studies.run_study import MeasuredPart, RunPart, check_run, named
from solver.version import installed_version
from solver.waves.resonances import resonance_text
from solver.waves.scattering import ScatteringMatrix, decibels, reflection_of_vswr
from solver.waves.space_modes import space_modes
from solver.waves.walls import Walls

#: Resonances that the verdict tells of in sentences.
_MOST_TOLD = 3
#: Share of the wanted error that one part solved in its plane takes; it costs next to nothing.
_OF_PLANE_PART = 1 / 64
_FINEST = 1e-9


def run(
    parts: Sequence[Any],
    band: Band,
    *,
    end_vswr: float | None = None,
    limit: Limit | None = None,
    s_error: float = 1e-4,
    walls: Walls | None = None,
    title: str = "",
    workers: int = 1,
    store: PartStore | None = None,
    report: Report | None = None,
    progress: Progress | None = None,
) -> RunResult:
    """Compute a run of parts over a band and judge what the transmitter sees.

    Parameters
    ----------
    parts : sequence of Part or RunPart
        From the transmitter on; a `RunPart` gives a part a name or turns it about the axis.
    band : Band
    end_vswr : float, optional
        Of what the run ends in, of any phase; matched when absent.
    limit : Limit, optional
        What is asked of the run.
    s_error : float
        Wanted bound on the error of every S-parameter of the run [-].
    walls : Walls, optional
        Metal of the walls of every part; lossless when absent.
    title : str
    workers : int
        Processes that compute parts side by side.
    store : PartStore, optional
        Keeps every finished part, and gives back those of a run before.
    report : callable, optional
        A function of a module that gives the files of a part's own report from its assessment.
    progress : callable, optional

    Returns
    -------
    RunResult

    Raises
    ------
    StudyError
        When the parts do not fit together, or one cannot be computed.
    GeometryError, LinearSolveError, ProblemSizeError
    """
    from threadpoolctl import threadpool_limits

    began = time.perf_counter()
    chosen = named(tuple(p if isinstance(p, RunPart) else RunPart(p) for p in parts))
    if not chosen:
        raise StudyError("a run has at least one part")
    check_run(chosen, chosen[0].guides[0])
    if end_vswr is not None and len(chosen[-1].guides) == 1:
        raise StudyError("the run ends in a part with one port: leave out end_vswr")
    end = 0.0 if end_vswr is None else float(reflection_of_vswr(end_vswr))
    stations, lines = laid_out(chosen)
    how = {"workers": workers, "store": store, "report": report, "progress": progress}
    computed = _computed(stations, band, s_error, walls, how)
    samples = [part.sampled for part in computed]
    check_polarisation(stations, samples, lines)
    beside = neighbours(stations, samples, lines, (band.start, band.stop), s_error)
    units = _joined(stations, samples, lines, beside, band, s_error, walls, how)
    with threadpool_limits(1, user_api="blas"):
        chain = Chain(units.samples, units.lines, walls, units.doubts)
        axis = sum(_axis_length(station.component) for station in stations)
        whole = chain_band(chain, band.frequencies, units.names, axis, end)
        worst = worst_case(samples, lines, whole.answers.frequency, walls, end)
    return _result(
        _Inputs(title, chosen, stations, band, limit, s_error, walls, end_vswr, end),
        computed,
        units,
        beside.cautions,
        chain,
        whole,
        worst,
        time.perf_counter() - began,
    )


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


@dataclass(frozen=True, eq=False)
class _Inputs:
    title: str
    run: tuple[RunPart, ...]
    stations: list[RunPart]
    band: Band
    limit: Limit | None
    s_error: float
    walls: Walls | None
    end_vswr: float | None
    end: float


def _computed(
    stations: Sequence[RunPart],
    band: Band,
    s_error: float,
    walls: Walls | None,
    how: dict[str, Any],
) -> list[KeptPart]:
    """Every part as it stands in the run."""
    in_space = sum(_in_space(station.component) for station in stations)
    tasks: dict[str, PartTask] = {}
    names: dict[str, str] = {}
    keys: list[str | None] = []
    for station in stations:
        part = station.component
        if isinstance(part, MeasuredPart):
            keys.append(None)
            continue
        wanted = part_error(s_error, in_space if _in_space(part) else 0)
        task = PartTask(part, band, wanted, walls)
        keys.append(task.fingerprint)
        tasks[task.fingerprint] = task
        names.setdefault(task.fingerprint, station.name)
    found = solve_parts(tasks, names, **how)
    return [
        _in_its_place(station, found[key] if key is not None else _measured(station, band))
        for station, key in zip(stations, keys, strict=True)
    ]


@dataclass(frozen=True, eq=False)
class _Units:
    """What the chain is made of: parts, and groups of near parts in the place of theirs."""

    samples: list[SampledPart]
    lines: list[Line]
    names: list[str]
    doubts: list[float]
    #: Number of the unit to which each part belongs.
    owner: list[int]
    told: list[str]


def _joined(
    stations: Sequence[RunPart],
    samples: Sequence[SampledPart],
    lines: Sequence[Line],
    beside: Neighbours,
    band: Band,
    s_error: float,
    walls: Walls | None,
    how: dict[str, Any],
) -> _Units:
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
    units = _Units([], [], [], [], [], [])
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


def _axis_length(part: Any) -> float:
    return 0.0 if isinstance(part, MeasuredPart) else float(part.axis_length)


def _result(
    given: _Inputs,
    computed: Sequence[KeptPart],
    units: _Units,
    near_cautions: Sequence[str],
    chain: Chain,
    whole: ChainBand,
    worst: WorstCase,
    seconds: float,
) -> RunResult:
    listed = whole.answers.picked(given.band.frequencies)
    modes = chain.port_modes(given.band.stop)
    matrix = ScatteringMatrix(
        listed.frequency,
        modes,
        listed.s,
        listed.error,
        listed.leaked,
        _heat(chain, listed),
        listed.leaked_error,
    )
    curve, at_listed = (_curve(answers, modes, given.end) for answers in (whole.answers, listed))
    accuracy = float(at_listed.error.max()) <= given.s_error
    told = [r for r in whole.resonances if r not in whole.unsampled]
    sharpest = sorted(told, key=lambda r: -r.quality)[:_MOST_TOLD]
    verdict = judge(
        curve,
        given.limit,
        accuracy,
        wanted_error=given.s_error,
        cautions=[*whole.notes, *(resonance_text(r) for r in sharpest)],
        resonances=whole.resonances,
        unsampled=whole.unsampled,
    )
    solved = [part for part in computed if part.facts["factorisations"]]
    return RunResult(
        title=given.title,
        run=given.run,
        band=given.band,
        limit=given.limit,
        walls=given.walls,
        end_vswr=given.end_vswr,
        scattering=matrix,
        radiated_power=listed.radiated if chain.radiates else None,
        listed=at_listed,
        whole=curve,
        verdict=verdict,
        parts=_part_lines(given, computed, units.owner, whole.answers, worst),
        worst_case=worst,
        worst_loss_db=_worst_loss(whole.answers, matrix.transmitted),
        resonances=whole.resonances,
        near=tuple(units.told),
        cautions=(
            *near_cautions,
            *(
                f"{station.name}: {text}"
                for station, part in zip(given.stations, computed, strict=True)
                for text in part.facts["cautions"]
            ),
        ),
        wanted_error=given.s_error,
        provenance={
            "version": installed_version(),
            "method": "generalised scattering matrices of the parts, joined with all that they "
            "send back to each other; straight guide in closed form",
            "parts_solved": len(solved),
            "factorisations": sum(part.facts["factorisations"] for part in solved),
            "frequencies_followed": len(whole.answers.frequency),
            "accuracy_reached": accuracy,
            "seconds": {"total": seconds},
        },
    )


def _worst_loss(answers: ChainAnswers, row: int | None) -> float | None:
    if row is None:
        return None
    return max(0.0, float(-decibels(answers.s[:, row, 0]).min()))


def _heat(chain: Chain, answers: ChainAnswers) -> Any:
    lost = 1.0 - (np.abs(answers.s[:, :, 0]) ** 2).sum(axis=1)
    lost = lost - answers.leaked - answers.radiated
    return np.maximum(lost, 0.0) if chain.loses else np.zeros(len(lost))


def _curve(answers: ChainAnswers, modes: tuple[Any, ...], end: float) -> RunCurve:
    s11: Any = answers.s[:, 0, 0]
    error = answers.error
    if end:
        row = next(i for i, mode in enumerate(modes) if mode.port == 2)
        s11, error = worst_with_end(answers.s, error, row, end)
    leaked = (answers.leaked, answers.leaked_error)
    return RunCurve(answers.frequency, modes, s11, error, *leaked)


def _part_lines(
    given: _Inputs,
    computed: Sequence[KeptPart],
    owner: Sequence[int],
    answers: ChainAnswers,
    worst: WorstCase,
) -> tuple[PartLine, ...]:
    lines, number = [], -1
    for part in given.run:
        if isinstance(part.component, Straight):
            lines.append(_straight_line(part, given, worst.worst))
            continue
        number += 1
        kept = computed[number]
        alone = kept.facts["breakdown_w"]
        field = float(answers.incident[:, owner[number]].max())
        lines.append(
            PartLine(
                name=part.name,
                kind=part.component.kind,
                worst_s11=kept.facts["worst_s11"],
                worst_s11_error=kept.facts["worst_s11_error"],
                worst_loss_db=kept.facts["worst_loss_db"],
                breakdown_w=alone,
                breakdown_in_run_w=None if alone is None else alone / max(field, 1.0) ** 2,
                without_it=worst.without[number],
                method=kept.facts["method"],
                cautions=tuple(kept.facts["cautions"]),
                files=kept.files,
            )
        )
    return tuple(lines)


def _straight_line(part: RunPart, given: _Inputs, worst: float) -> PartLine:
    guide, frequency = part.component.guide, given.band.frequencies
    mode = space_modes(guide, given.band.stop, 1.0, 1.0)[0]
    beta = phase_constant_of(mode, frequency, given.walls)
    loss = -decibels(np.exp(beta.imag * part.component.length)).min()
    power = float(matched_breakdown_power(guide, frequency, _air()).min())
    return PartLine(
        name=part.name,
        kind="straight",
        worst_s11=0.0,
        worst_s11_error=0.0,
        worst_loss_db=max(0.0, float(loss)),
        breakdown_w=power,
        breakdown_in_run_w=None,
        without_it=worst,
        method="closed form",
    )


def _air() -> float:
    from solver.waves.guide_power import AIR_BREAKDOWN

    return AIR_BREAKDOWN
