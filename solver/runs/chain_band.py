"""A run over the whole of its band, between the listed frequencies too.

Long lines turn the phase fast, and two parts that reflect can ring between them within less than
any spacing of points. The determinant of 1 - C S (see `solver.runs.chain`) is followed instead:
across a resonance its phase turns by half a circle, however narrow that is, so that a step of the
phase between neighbours is halved until it is resolved.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from geometries.arrays import Array, ComplexArray
from solver.judgement.whole_band import points_to_add
from solver.runs.chain import Chain
from solver.runs.chain_answers import ChainAnswers
from solver.waves.guide_modes import phase_constant
from solver.waves.resonances import Resonance, too_sharp

#: Least number of points, and points for each half wave that comes in along the run.
_LEAST_POINTS, _PER_HALF_WAVE = 65, 6
_MOST_POINTS = 24000
#: Steps of the determinant's phase that are resolved [rad], and rounds of halving.
_STEP, _HALVINGS = 0.6, 36
_ROUNDS = 12
#: Waves between two parts, over the wave that enters, from which on they are called a resonance.
_RINGS = 3.0
#: Distances from a resonance at which it is sampled, over its half width.
_NEAR = (0.0, 0.15, 0.3, 0.5, 0.75, 1.0, 1.5, 2.0, 3.0, 5.0, 8.0, 14.0, 25.0)
_CLOSEST = 1e-12


@dataclass(frozen=True, eq=False)
class ChainBand:
    """A run over its whole band.

    Parameters
    ----------
    answers : ChainAnswers
        At the listed frequencies and as many more as it takes to know the extremes.
    resonances : tuple of Resonance
        Those between the parts, then those of the parts.
    unsampled : tuple of Resonance
        Those that are too sharp to say what they do.
    notes : tuple of str
    """

    answers: ChainAnswers
    resonances: tuple[Resonance, ...]
    unsampled: tuple[Resonance, ...]
    notes: tuple[str, ...]


def chain_band(
    chain: Chain, frequency: Array, names: Sequence[str], axis_length: float, end: float = 0.0
) -> ChainBand:
    """Follow a run between its listed frequencies.

    Parameters
    ----------
    chain : Chain
    frequency : (n,) array
        Listed, ascending [Hz].
    names : sequence of str
        Of the chain's parts.
    axis_length : float
        Of the parts together, without the lines [m].
    end : float
        Reflection of any phase that the run ends in [-].

    Returns
    -------
    ChainBand
    """
    points, notes = _first_points(chain, frequency, axis_length)
    answers = chain.answers(points)
    if len(frequency) == 1:
        return ChainBand(answers, (), (), notes)
    answers = _phase_resolved(chain, answers)
    found, answers = _resonances(chain, answers, names)
    tops = np.zeros(1)
    for left in reversed(range(_ROUNDS)):
        judged = _judged(answers, end)
        rise, tops = judged.max(axis=0) - tops, judged.max(axis=0)
        more = points_to_add(answers.frequency, judged)
        if not more.size:
            break
        if not left or len(answers.frequency) + more.size > max(_MOST_POINTS, 3 * len(points)):
            if (rise > 1e-3 * tops).any():
                notes = (*notes, "some peaks between the points were not followed to their tops")
            break
        answers = answers.joined(chain.answers(more))
    own = [
        Resonance(r.frequency, r.error, r.quality, f"{name}: {r.about}".rstrip(": "), r.driven)
        for name, part in zip(names, chain.parts, strict=True)
        for r in part.resonances
    ]
    lossless = not chain.loses
    unsampled = too_sharp([*found, *own]) if lossless else ()
    return ChainBand(answers, (*found, *own), unsampled, notes)


def worst_with_end(s: ComplexArray, error: Array, row: int, end: float) -> tuple[Array, Array]:
    """Largest reflection with something of any phase at the far end, and its bar, (n,).

    Parameters
    ----------
    s : (n, m, m) complex array
    error : (n,) array
        Bound on the error of every element.
    row : int
        Row of the mode at the far end.
    end : float
        Size of the reflection there [-].

    Notes
    -----
    S11 + S12 S21 G/(1 - S22 G) with G on a circle of radius g lies on a circle about
    S11 + S12 S21 conj(S22) g^2/(1 - |S22|^2 g^2) of radius |S12 S21| g/(1 - |S22|^2 g^2).
    """
    through, back = s[:, 0, row] * s[:, row, 0], s[:, row, row]
    rest = 1 - np.abs(back * end) ** 2
    centre = s[:, 0, 0] + through * np.conj(back) * end**2 / rest
    worst = np.abs(centre) + np.abs(through) * end / rest
    loop = end / np.maximum(1 - end * np.abs(back), 1e-15)
    ways = (1 + np.abs(s[:, 0, row]) * loop) * (1 + np.abs(s[:, row, 0]) * loop)
    known = error * loop < 0.9
    bar = error * ways / np.where(known, 1 - error * loop, 1.0)
    return worst, np.where(known, bar, 2.0)


def _judged(answers: ChainAnswers, end: float) -> Array:
    reflected, error = np.abs(answers.s[:, 0, 0]), answers.error
    curves = [reflected, np.minimum(reflected + error, 1.0), np.maximum(reflected - error, 0.0)]
    if answers.leaked.any():
        curves += [np.sqrt(answers.leaked), np.sqrt(answers.leaked + answers.leaked_error)]
    if end and answers.s.shape[1] > 1:
        worst, bar = worst_with_end(answers.s, error, answers.s.shape[1] // 2, end)
        curves += [worst, np.minimum(worst + bar, 1.0)]
    return np.stack(curves, axis=1)


def _first_points(
    chain: Chain, frequency: Array, axis_length: float
) -> tuple[Array, tuple[str, ...]]:
    start, stop = float(frequency[0]), float(frequency[-1])
    if start == stop:
        return frequency, ()
    ends, half_waves = np.array([start, stop]), 0.0
    for line in chain.lines:
        beta = phase_constant(line.guide, ends)
        share = line.length + axis_length / len(chain.lines)
        half_waves += share * float(beta[1] - beta[0]) / np.pi
    count = max(_LEAST_POINTS, int(_PER_HALF_WAVE * half_waves) + 1)
    notes: tuple[str, ...] = ()
    if count > _MOST_POINTS // 2:
        count = _MOST_POINTS // 2
        notes = (
            f"the run is so long that {count} points do not follow its phase between the listed "
            "frequencies: read the worst case over unknown lengths",
        )
    parts = [frequency, np.linspace(start, stop, count)]
    for part in chain.parts:
        for found in part.resonances:
            offsets = np.array(_NEAR) * found.width
            parts += [found.frequency - offsets, found.frequency + offsets]
        for mode in part.port_modes:
            if start * 0.98 < mode.cutoff < stop * 1.02:
                towards = np.logspace(-9, -2, 29)
                parts.append(mode.cutoff * np.concatenate([1 - towards, 1 + towards]))
    points = np.unique(np.concatenate(parts))
    return points[(points >= start) & (points <= stop)], notes


def _phase_resolved(chain: Chain, answers: ChainAnswers) -> ChainAnswers:
    """Halve the steps across which the determinant's phase turns too far."""
    for _ in range(_HALVINGS):
        f, d = answers.frequency, answers.determinant
        step = np.abs(np.angle(d[1:] / np.where(d[:-1] == 0, 1e-300, d[:-1])))
        wide = (step > _STEP) & (np.diff(f) > _CLOSEST * f[1:])
        if not wide.any() or len(f) > _MOST_POINTS:
            break
        answers = answers.joined(chain.answers(0.5 * (f[:-1] + f[1:])[wide]))
    return answers


def _resonances(
    chain: Chain, answers: ChainAnswers, names: Sequence[str]
) -> tuple[tuple[Resonance, ...], ChainAnswers]:
    """Resonances between the parts; the answers, with points about each."""
    size, f = np.abs(answers.determinant), answers.frequency
    if not chain.parts:
        return (), answers
    lowest = np.flatnonzero((size[1:-1] <= size[:-2]) & (size[1:-1] <= size[2:])) + 1
    ends = [i for i in (0, len(f) - 1) if len(f) > 1]
    rings = answers.incident.max(axis=1)
    chosen = [i for i in [*lowest, *ends] if rings[i] > _RINGS]
    found: list[Resonance] = []
    for i in chosen:
        pole, slope, there = _pole(chain, float(f[i]))
        if pole is None or not f[0] <= pole.real <= f[-1] or pole.imag <= 0:
            continue
        if any(abs(r.frequency - pole.real) < 0.1 * pole.imag for r in found):
            continue
        quality = pole.real / (2 * pole.imag)
        error = abs(complex(there.determinant[0])) * float(there.pull[0]) / abs(slope)
        p = int(np.argmax(there.incident[0]))
        neighbour = max(
            (q for q in (p - 1, p + 1) if 0 <= q < len(names)),
            key=lambda q: there.incident[0, q],
            default=p,
        )
        first, second = sorted((p, neighbour))
        about = f"between {names[first]} and {names[second]}"
        found.append(Resonance(float(pole.real), error, float(quality), about))
        offsets = np.array(_NEAR) * pole.imag
        near = np.concatenate([pole.real - offsets, pole.real + offsets])
        near = np.setdiff1d(near[(near >= f[0]) & (near <= f[-1])], answers.frequency)
        if near.size:
            answers = answers.joined(chain.answers(near))
    return tuple(sorted(found, key=lambda r: r.frequency)), answers


def _pole(chain: Chain, at: float) -> tuple[complex | None, complex, ChainAnswers]:
    """Follow a zero of the determinant off the real axis, by its slope on the axis."""
    step = 1e-7 * at
    pole: complex | None = None
    for _ in range(8):
        near = chain.answers(np.array([at - step, at, at + step]))
        d = near.determinant
        slope = complex((d[2] - d[0]) / (2 * step))
        bend = complex((d[2] - 2 * d[1] + d[0]) / step**2)
        if slope == 0:
            return None, 1.0 + 0j, near
        # Halley's step: the determinant is close to 1 - c exp(j t f)
        value = complex(d[1])
        pole = at - 2 * value * slope / (2 * slope**2 - value * bend)
        if abs(pole.real - at) < 0.02 * abs(pole.imag):
            break
        at = float(np.clip(pole.real, at * 0.98, at * 1.02))
        step = max(0.05 * abs(pole.imag), 1e-11 * at)
    return pole, slope, near.picked(near.frequency[1:2])
