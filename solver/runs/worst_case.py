"""What unknown lengths between the parts can do: every phase at its worst, and the likely value."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from geometries.arrays import Array, ComplexArray
from solver.runs.chain_answers import Line
from solver.runs.sampled_part import SampledPart
from solver.waves.guide_lines import mode_in, phase_constant_of
from solver.waves.walls import Walls

#: A load that sends back more than this is taken as a short.
_TOTAL = 1 - 1e-12


@dataclass(frozen=True, eq=False)
class WorstCase:
    """Reflections of a run whose lengths are not known.

    Parameters
    ----------
    worst : float
        Largest reflection that any lengths between the parts can give, bars counted [-].
    at_hz : float
        Where that is [Hz].
    likely : float
        Root of the sum of the squares of all reflections, with the loss before each, where it is
        largest [-].
    without : tuple of float
        `worst` if one part did not reflect, for each part.
    without_end : float
        `worst` if what the run ends in did not reflect.
    """

    worst: float
    at_hz: float
    likely: float
    without: tuple[float, ...]
    without_end: float


def worst_case(
    parts: Sequence[SampledPart],
    lines: Sequence[Line],
    frequency: Array,
    walls: Walls | None,
    end: float = 0.0,
) -> WorstCase:
    """Combine the parts' reflections with every length between them unknown.

    Parameters
    ----------
    parts : sequence of SampledPart
    lines : sequence of Line
        As those of a `Chain`.
    frequency : (n,) array
        [Hz]
    walls : Walls or None
        Of the lines, whose loss is counted.
    end : float
        Reflection that the run ends in [-].

    Returns
    -------
    WorstCase

    Notes
    -----
    What a part shows with a reflection of size g and any phase behind it lies on a circle (see
    `solver.runs.chain_band.worst_with_end`), whose farthest point grows with g; so the worst of
    all phases follows from the far end part by part. For parts without loss it is
    (r1 + r2)/(1 + r1 r2). The dominant mode alone is counted.
    """
    known = [_Reflection.of(part, frequency) for part in parts]
    passed = [_passed(parts, lines, number, frequency, walls) for number in range(len(lines))]
    worst = _combined(known, passed, np.full(len(frequency), end))
    at = int(np.argmax(worst))
    without = tuple(
        float(_combined(known, passed, np.full(len(frequency), end), left_out=i).max())
        for i in range(len(known))
    )
    before = np.ones(len(frequency))
    squares = np.zeros(len(frequency))
    for number, part in enumerate(known):
        before = before * passed[number] ** 2
        squares += (before * part.size) ** 2
        before = before * part.through**2
    if len(lines) > len(parts):
        squares += (before * passed[-1] ** 2 * end) ** 2
    return WorstCase(
        worst=float(worst[at]),
        at_hz=float(frequency[at]),
        likely=float(np.sqrt(squares.max())),
        without=without,
        without_end=float(_combined(known, passed, np.zeros(len(frequency))).max()),
    )


@dataclass(frozen=True, eq=False)
class _Reflection:
    """A part in its dominant modes: S11, S12 S21 and S22, with its bar."""

    front: ComplexArray
    back: ComplexArray
    round_trip: ComplexArray
    error: Array

    @classmethod
    def of(cls, part: SampledPart, frequency: Array) -> _Reflection:
        s, error, _ = part.at(frequency)
        row = far_row(part)
        none = np.zeros(len(frequency), dtype=complex)
        if row is None:
            return cls(s[:, 0, 0], none, none, error)
        return cls(s[:, 0, 0], s[:, row, row], s[:, 0, row] * s[:, row, 0], error)

    @property
    def size(self) -> Array:
        return np.abs(self.front)

    @property
    def through(self) -> Array:
        """Amplitude that passes, at most 1."""
        return np.minimum(np.sqrt(np.abs(self.round_trip)), 1.0)

    @property
    def kept(self) -> Array:
        """Power that passes there and back of what is not reflected: 1 without loss."""
        return np.minimum(self.through**2 / np.maximum(1 - self.size**2, 1e-15), 1.0)

    def worst_with(self, behind: Array) -> Array:
        """Largest reflection with one of this size and any phase behind."""
        g = np.minimum(behind, _TOTAL)
        rest = np.maximum(1 - (np.abs(self.back) * g) ** 2, 1e-15)
        centre = self.front + self.round_trip * np.conj(self.back) * g**2 / rest
        worst = np.abs(centre) + np.abs(self.round_trip) * g / rest
        return np.asarray(np.minimum(worst + self.error, 1.0))


def far_row(part: SampledPart) -> int | None:
    """Row of the dominant mode at port 2; None for a part with one port."""
    rows = [i for i, mode in enumerate(part.port_modes) if mode.port == 2]
    return min(rows, key=lambda i: part.port_modes[i].cutoff) if rows else None


def _combined(
    known: Sequence[_Reflection], passed: Sequence[Array], end: Array, left_out: int | None = None
) -> Array:
    worst = end * passed[-1] ** 2 if len(passed) > len(known) else 0.0 * end
    for number in reversed(range(len(known))):
        if number == left_out:
            worst = worst * known[number].kept
        else:
            worst = known[number].worst_with(worst)
        worst = worst * passed[number] ** 2
    return np.asarray(worst)


def _passed(
    parts: Sequence[SampledPart],
    lines: Sequence[Line],
    number: int,
    frequency: Array,
    walls: Walls | None,
) -> Array:
    """Amplitude that passes a line, (n,)."""
    line = lines[number]
    if walls is None or not line.length or not parts:
        return np.ones(len(frequency))
    if number < len(parts):
        mode = parts[number].port_modes[0]
    else:
        mode = parts[-1].port_modes[far_row(parts[-1]) or 0]
    beta = phase_constant_of(mode_in(line.guide, mode), frequency, walls)
    return np.asarray(np.exp(beta.imag * line.length))
