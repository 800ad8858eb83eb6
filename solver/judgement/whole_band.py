"""A solved part over the whole of its band: what lies between the listed frequencies too.

Frequencies are added about every resonance, towards the cutoff of every mode, and wherever a
judged quantity bends or peaks between its neighbours, until nothing above the largest value
computed is left between them.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from geometries.arrays import Array, Numbers
from solver.fem.band_answers import BandAnswers
from solver.parts.solved_part import SolvedPart, scattering_of
from solver.waves.resonances import UNDRIVEN_Q, Resonance, too_sharp
from solver.waves.scattering import ScatteringMatrix, leaked_power
from solver.waves.walls import Walls

#: Distances from a resonance at which it is sampled, over its half width.
_NEAR = (0.0, 0.15, 0.3, 0.5, 0.75, 1.0, 1.5, 2.0, 3.0, 5.0, 8.0, 14.0, 25.0)
#: A resonance with more Q than this has a bar of its own, so far about it.
_SHARP_Q, _REACH = 300.0, 30.0
#: Points on the steepest ripple of a part, and least number of points of a band.
_PER_POLE, _LEAST_POINTS = 8, 65
#: Rounds of adding points, and most points altogether.
_ROUNDS, _MOST_POINTS = 16, 4000
#: A bend between neighbours larger than this part of the largest value is looked into.
_BEND = 0.05
#: Peaks are followed until they rise by less than this part of the largest value.
_FLAT = 1e-6
#: A peak that a parabola puts this far past the end of the band, over the last spacing, may lie
#: inside.
_ABOUT_END = 0.25
#: A last rise by more than this part of the largest value is told.
_STILL = 1e-3
#: A band that ends this close to a mode's cutoff is said to.
_CLOSE_TO_CUTOFF = 0.01


@dataclass(frozen=True, eq=False)
class WholeBand:
    """A part over its whole band.

    Parameters
    ----------
    scattering : ScatteringMatrix
        At the listed frequencies and as many more as it takes to know the extremes.
    resonances : tuple of Resonance
        All in the band, those that no wave drives included.
    unsampled : tuple of Resonance
        Driven ones that are too sharp to say what they do.
    notes : tuple of str
        What a reader of the verdict should know of the band.
    """

    scattering: ScatteringMatrix
    resonances: tuple[Resonance, ...]
    unsampled: tuple[Resonance, ...]
    notes: tuple[str, ...]


def whole_band(solved: SolvedPart, frequency: Array, walls: Walls | None = None) -> WholeBand:
    """Follow a solved part between its listed frequencies.

    Parameters
    ----------
    solved : SolvedPart
    frequency : (n,) array
        Listed frequencies, ascending [Hz]; the band runs from the first to the last.
    walls : Walls or None
        Those it was solved with.

    Returns
    -------
    WholeBand
    """
    # an undriven one that the space before does not know is round-off of the model
    resonances = tuple(r for r in solved.resonances() if r.driven or np.isfinite(r.error))
    unsampled = () if walls else too_sharp(resonances)
    points = _first_points(solved, frequency, resonances)
    answers = solved.answers(points)
    most, notes = max(_MOST_POINTS, 3 * len(points)), _notes(solved, frequency)
    tops = np.zeros(1)
    for left in reversed(range(_ROUNDS if len(frequency) > 1 else 0)):
        judged = _judged(solved, answers, resonances)
        rise, tops = judged.max(axis=0) - tops, judged.max(axis=0)
        more = points_to_add(answers.frequency, judged)
        if not more.size:
            break
        if not left or len(answers.frequency) + more.size > most:
            if (rise > _STILL * tops).any():
                notes = (*notes, "some peaks between the points were not followed to their tops")
            break
        answers = answers.joined(solved.answers(more))
    matrix = scattering_of(solved, answers, groups(answers.frequency, resonances), walls)
    return WholeBand(matrix, resonances, unsampled, notes)


def groups(frequency: Array, resonances: tuple[Resonance, ...]) -> Numbers:
    """Which sharp resonance each frequency lies about, counted from 1; 0 for none, (n,)."""
    group = np.zeros(len(frequency), dtype=np.int64)
    nearest = np.ones(len(frequency))
    for number, found in enumerate(resonances, start=1):
        if found.quality < _SHARP_Q or not found.driven:
            continue
        reach = _REACH * found.width
        if np.isfinite(found.error):
            reach = max(reach, min(2 * found.error, 0.02 * found.frequency))
        distance = np.abs(frequency - found.frequency) / reach
        here = distance < nearest
        group[here], nearest[here] = number, distance[here]
    return group


def _first_points(solved: SolvedPart, frequency: Array, resonances: tuple[Resonance, ...]) -> Array:
    start, stop = float(frequency[0]), float(frequency[-1])
    if start == stop:
        return frequency
    count = max(_LEAST_POINTS, _PER_POLE * solved.poles_between(start, stop))
    parts = [frequency]
    if count > len(frequency):
        parts.append(np.linspace(start, stop, count))
    spacing = (stop - start) / max(count, len(frequency))
    for found in resonances:
        for place, width in ((found.frequency, found.width), *found.before):
            least = max(width, 0.5 * place / UNDRIVEN_Q)
            offsets = np.array(_NEAR) * least
            far = np.geomspace(25 * least, max(spacing, 26 * least), 16)
            offsets = np.concatenate([offsets, far])
            parts.append(np.concatenate([place - offsets, place + offsets]))
    towards = np.logspace(-11, -2, 37)
    for cutoff in {mode.cutoff for mode in solved.port_modes}:
        if start * 0.98 < cutoff < stop * 1.02:
            parts.append(cutoff * np.concatenate([1 - towards, 1 + towards]))
    points = np.unique(np.concatenate(parts))
    return points[(points >= start) & (points <= stop)]


def _judged(solved: SolvedPart, answers: BandAnswers, resonances: tuple[Resonance, ...]) -> Array:
    """Amplitudes that are judged, alone and with their bar, (n, c)."""
    error = answers.error(groups(answers.frequency, resonances))
    reflected = np.abs(answers.s[:, 0, 0])
    curves = [reflected, np.minimum(reflected + error, 1.0), np.maximum(reflected - error, 0.0)]
    ports = len(solved.port_modes)
    if answers.s.shape[1] > ports:
        leaked, bar = leaked_power(answers.s, error, solved.weights, ports)
        curves += [np.sqrt(leaked), np.sqrt(leaked + bar), np.sqrt(np.maximum(leaked - bar, 0.0))]
    return np.stack(curves, axis=1)


def points_to_add(f: Array, judged: Array) -> Array:
    """Frequencies between those known (n,) [Hz] at which a judged curve (n, c) may rise higher."""
    if len(f) < 3:
        return np.array([0.5 * (f[0] + f[1])])
    most = judged.max(axis=0)
    left, right = f[1:-1] - f[:-2], f[2:] - f[1:-1]
    into = (judged[1:-1] - judged[:-2]) / left[:, None]
    out = (judged[2:] - judged[1:-1]) / right[:, None]
    curvature = (out - into) / (left + right)[:, None]
    # how far the middle lies off the straight line through its neighbours
    bend = np.abs(curvature) * (left * right)[:, None]
    coarse = (bend > _BEND * most).any(axis=1)
    # height of the parabola through three neighbours above the middle one
    slope = into + curvature * left[:, None]
    rise = np.divide(-(slope**2), 4 * curvature, out=np.zeros_like(slope), where=curvature < 0)
    peak = (judged[1:-1] >= judged[:-2]) & (judged[1:-1] >= judged[2:]) & (rise > _FLAT * most)
    high = judged[1:-1] + 2 * rise > (1 - _BEND) * most
    top = np.divide(-slope, 2 * curvature, out=np.zeros_like(slope), where=curvature < 0)
    # one between the last two points, or the first two, has no lower neighbour at the band's end
    for row, side, away in ((0, left[0], -top[0]), (-1, right[-1], top[-1])):
        inside = (curvature[row] < 0) & (away > 0) & (away < (1 + _ABOUT_END) * side)
        above_end = -curvature[row] * np.maximum(side - away, _ABOUT_END * side) ** 2
        peak[row] |= inside & (above_end > _FLAT * most)
    added = []
    split = coarse | (peak & high).any(axis=1)
    # points closer than the resolution of a resonance at the sharpest say nothing new
    fine = 1e-10 * f[1:-1]
    added += [(f[1:-1] - 0.5 * left)[split & (left > fine)]]
    added += [(f[1:-1] + 0.5 * right)[split & (right > fine)]]
    rows, columns = np.nonzero(peak & high)
    tops = f[1 + rows] + np.clip(top[rows, columns], -0.9 * left[rows], 0.9 * right[rows])
    added += [tops]
    more = np.unique(np.concatenate(added))
    return more[~np.isin(more, f)]


def _notes(solved: SolvedPart, frequency: Array) -> tuple[str, ...]:
    start, stop = float(frequency[0]), float(frequency[-1])
    if start == stop:
        return ()
    close = {}
    for mode in solved.port_modes:
        for end in (start, stop):
            if 0 < abs(mode.cutoff / end - 1) < _CLOSE_TO_CUTOFF:
                close[mode.name] = (end, mode.cutoff)
    return tuple(
        f"the band {'starts' if end == start else 'ends'} at {end / 1e9:.9g} GHz, close to the "
        f"cutoff of {name} at {cutoff / 1e9:.9g} GHz: there a small change of size moves the "
        "answer much"
        for name, (end, cutoff) in close.items()
    )
