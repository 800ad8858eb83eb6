"""Which parts of a run stand so near each other that one mode does not tell what passes.

A part excites modes below cutoff at its ports, and a mode that its neighbour does not know may even
propagate. What such a mode does to the answer is bounded by the amplitudes that the parts, each
solved by itself, excite: c1 c2 e^(-alpha d) if both excite it, and 2 c^2 e^(-2 alpha d) of each if
the other sends it back. Where that counts, the parts are joined with those modes.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from solver.errors import StudyError
from solver.runs import near_plane, near_space
from solver.runs.chain_answers import Line
from solver.runs.sampled_part import SampledPart, Spill
from solver.studies.inches import length_text
from solver.studies.run_chain import RunPart
from solver.waves.guide_lines import mode_in, share_after_turn
from solver.waves.guide_modes import SPEED_OF_LIGHT

#: Part of the wanted error from which on what passes beside the first mode counts.
_COUNTS = 0.02
#: The same where a part is rough in space: joined, it has a bar of about this much of its own.
_ROUGH = 5e-3
#: An evanescent mode that comes back has at most this part of the amplitude that arrived.
_SENT_BACK = 2.0


@dataclass(frozen=True)
class Neighbours:
    """How the parts of a run hang together.

    Parameters
    ----------
    groups : tuple of (int, int)
        First and last part of each group that is joined with several modes.
    doubts : tuple of float
        What is left out at each part, for the bar.
    cautions : tuple of str
        Parts that stand too near and cannot be joined with more modes, and what that may do.
    """

    groups: tuple[tuple[int, int], ...]
    doubts: tuple[float, ...]
    cautions: tuple[str, ...]


def neighbours(
    stations: Sequence[RunPart],
    parts: Sequence[SampledPart],
    lines: Sequence[Line],
    band: tuple[float, float],
    s_error: float,
) -> Neighbours:
    """Find parts that stand near each other.

    Parameters
    ----------
    stations : sequence of RunPart
    parts : sequence of SampledPart
        The same, solved one by one, in the direction of the run.
    lines : sequence of Line
        As those of a `Chain`.
    band : (float, float)
        [Hz]
    s_error : float
        Wanted bound on the error of the run.

    Returns
    -------
    Neighbours
    """
    count = len(stations)
    doubts = np.zeros(count)
    cautions = []
    groups: list[tuple[int, int]] = []
    for j in range(1, count):
        size = interaction(parts[j - 1], parts[j], lines[j].length, band)
        first = groups[-1][0] if groups and groups[-1][1] == j - 1 else j - 1
        members = [station.component for station in stations[first : j + 1]]
        rough = any(near_space.is_rough(part) for part in members)
        counts = max(s_error, _ROUGH) if rough else _COUNTS * s_error
        if size > counts and can_join(members):
            groups[-1:] = [(first, j)] if first < j - 1 else [*groups[-1:], (first, j)]
            continue
        doubts[j - 1] += size
        doubts[j] += size
        if size > s_error:
            apart = lines[j].length
            stand = f"stand {length_text(apart, 4)} apart" if apart else "adjoin"
            cautions.append(
                f"{stations[j - 1].name} and {stations[j].name} {stand}: modes below cutoff pass "
                "between them, with which parts of these kinds cannot be joined any better; what "
                f"they may do to S, up to {min(size, 2.0):.2g}, is in the bar"
            )
    return Neighbours(tuple(groups), tuple(float(d) for d in doubts), tuple(cautions))


def check_polarisation(
    stations: Sequence[RunPart], parts: Sequence[SampledPart], lines: Sequence[Line]
) -> None:
    """Refuse parts that are turned so that a neighbour does not know what they bring.

    Parameters
    ----------
    stations : sequence of RunPart
    parts : sequence of SampledPart
    lines : sequence of Line

    Raises
    ------
    StudyError
        If the first mode of a part goes over into one for which the next was not solved.
    """
    for j in range(1, len(parts)):
        line = lines[j]
        brought = [m for m in parts[j - 1].port_modes if m.port == 2]
        taken = [m for m in parts[j].port_modes if m.port == 1]
        first = mode_in(line.guide, min(brought, key=lambda mode: mode.cutoff))
        shares = (share_after_turn(first, mode_in(line.guide, mode), line.turn) for mode in taken)
        if sum(share**2 for share in shares) < 1 - 1e-6:
            raise StudyError(
                f"{stations[j].name}: turned by {math.degrees(line.turn):.6g} degrees against "
                f"{stations[j - 1].name} it gets a polarisation of {first.name} for which it is "
                "not solved; turn it by 0 or 180 degrees"
            )


def can_join(parts: Sequence[Any]) -> bool:
    """Whether neighbours can be solved with their ports near each other."""
    return near_plane.same_plane(parts) or near_space.can_join(parts)


def interaction(
    left: SampledPart, right: SampledPart, distance: float, band: tuple[float, float]
) -> float:
    """Bound on what modes do that are not joined, between two neighbours [-].

    Parameters
    ----------
    left, right : SampledPart
        In the direction of the run.
    distance : float
        Straight guide between their planes of reference [m].
    band : (float, float)
        [Hz]
    """
    one = {s.name: s for s in left.spills if s.port == 2}
    other = {s.name: s for s in right.spills if s.port == 1}
    joined = {
        mode.name
        for mode in left.port_modes
        if mode.port == 2
        and mode.cutoff < band[0]
        and any(m.port == 1 and m.name == mode.name for m in right.port_modes)
    }
    total = 0.0
    for name in {*one, *other} - joined:
        first, second = one.get(name), other.get(name)
        for spill in (first, second):
            if spill is not None:
                total += _SENT_BACK * (spill.size * _carried(spill, distance, band[1])) ** 2
        if first is not None and second is not None:
            passed = _carried(first, distance - second.feed, band[1])
            total += first.size * second.size * passed
    for spills in (one, other):
        beyond = max(spills.values(), key=lambda s: s.cutoff, default=None)
        if beyond is not None and len(spills) > 1:
            total += math.exp(-_decay(beyond.cutoff, band[1]) * distance) * beyond.size**2
    return float(total)


def _carried(spill: Spill, distance: float, highest: float) -> float:
    """Amplitude of a mode over a distance from a plane of reference, over that at the port."""
    return math.exp(min(_decay(spill.cutoff, highest) * (spill.feed - distance), 50.0))


def _decay(cutoff: float, frequency: float) -> float:
    """Attenuation of a mode below cutoff [Np/m]; 0 above."""
    below = max(cutoff**2 - frequency**2, 0.0)
    return 2 * math.pi / SPEED_OF_LIGHT * math.sqrt(below)
