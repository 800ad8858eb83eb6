"""From the waves of a whole run to what is told of it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from geometries.arrays import Array
from geometries.shapes.straights import Straight
from solver.judgement.verdict import judge
from solver.parts.peak_field import matched_breakdown_power
from solver.runs.chain import Chain
from solver.runs.chain_answers import ChainAnswers
from solver.runs.chain_band import ChainBand, worst_with_end
from solver.runs.part_task import KeptPart
from solver.runs.run_result import PartLine, RunCurve, RunResult
from solver.runs.run_units import RunUnits
from solver.runs.worst_case import WorstCase
from solver.studies.band import Band
from solver.studies.limits import Limit
from solver.studies.run_chain import RunPart
from solver.version import installed_version
from solver.waves.guide_lines import phase_constant_of
from solver.waves.resonances import resonance_text
from solver.waves.scattering import PortMode, ScatteringMatrix, decibels
from solver.waves.space_modes import space_modes
from solver.waves.walls import Walls

#: Resonances that the verdict tells of in sentences.
_MOST_TOLD = 3


@dataclass(frozen=True, eq=False)
class RunInputs:
    """What was asked of a run; `run` holds straight guide too, `stations` what is solved.

    Parameters
    ----------
    title, band, limit, s_error, walls, end_vswr
        As those of `solver.runs.run_parts.run`.
    run : tuple of RunPart
    stations : list of RunPart
    end : float
        Reflection of what the run ends in, of any phase.
    further_at : (n,) array or None
        Frequencies at which the run has to be known besides [Hz].
    """

    title: str
    run: tuple[RunPart, ...]
    stations: list[RunPart]
    band: Band
    limit: Limit | None
    s_error: float
    walls: Walls | None
    end_vswr: float | None
    end: float
    further_at: Array | None = None


def run_result(
    given: RunInputs,
    computed: Sequence[KeptPart],
    units: RunUnits,
    near_cautions: Sequence[str],
    chain: Chain,
    whole: ChainBand,
    worst: WorstCase,
    seconds: float,
) -> RunResult:
    """Judge the chain and gather what is told of it, part by part."""
    listed = whole.answers.picked(given.band.frequencies)
    modes = chain.port_modes(given.band.stop)
    matrix = _matrix(chain, listed, modes)
    further = given.further_at
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
        unsampled=whole.unsampled,
        further=None if further is None else _matrix(chain, chain.answers(further), modes),
    )


def _matrix(chain: Chain, answers: ChainAnswers, modes: tuple[PortMode, ...]) -> ScatteringMatrix:
    return ScatteringMatrix(
        answers.frequency,
        modes,
        answers.s,
        answers.error,
        answers.leaked,
        _heat(chain, answers),
        answers.leaked_error,
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
    given: RunInputs,
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


def _straight_line(part: RunPart, given: RunInputs, worst: float) -> PartLine:
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
