"""The waves of a whole run: every part with all that its neighbours send back.

With the waves a that enter the parts and b = S a that leave them, S being block diagonal, the
guides between give a = C b and what comes from outside: a = (1 - C S)^-1 a0. All internal
reflection is in that inverse, and so is how far an error of one part moves the whole.

**Bar.** Errors dS of the parts change the run's matrix by L dS (1 - G dS)^-1 R exactly, where R
are the waves that enter every part for a unit wave into the run, L what reaches the run's ends of a
unit wave born at each port, and G = (1 - C S)^-1 C what comes back to the parts of such a wave.
With |dS| <= e for every element of a part's block,

    |change| <= |L| U e (1 - H e)^-1 U^T |R|,   H = U^T |G| U,

where U sums over the waves of each part. Where a resonance between the parts makes H e as large as
one, nothing is known and the bar says so.
"""

from __future__ import annotations

from collections.abc import Sequence
from functools import cached_property
from typing import Any

import numpy as np

from geometries.arrays import Array, ComplexArray
from geometries.shapes.part import Guide
from solver.parts.plane_losses import second_order
from solver.runs.chain_answers import ChainAnswers, Line
from solver.runs.sampled_part import SampledPart
from solver.waves.guide_lines import mode_in, phase_constant_of, share_after_turn
from solver.waves.guide_modes import dominant_cutoff
from solver.waves.scattering import PortMode
from solver.waves.space_modes import SpaceMode, space_modes
from solver.waves.walls import Walls

#: The bar where nothing is known: two passive answers differ by no more.
NOTHING_KNOWN = 2.0
#: H e beyond which the series in it is no longer trusted.
_LARGEST_FEEDBACK = 0.9
_CHUNK = 2000


class Chain:
    """Parts one after the other.

    Parameters
    ----------
    parts : sequence of SampledPart
        In the direction of the run; none where it is straight from end to end.
    lines : sequence of Line
        One more than the parts, before and behind each; none behind a part with one port.
    walls : Walls or None
        Of the lines.
    doubts : sequence of float
        What was left out at each part because it stands too far from its neighbours to count.
    """

    def __init__(
        self,
        parts: Sequence[SampledPart],
        lines: Sequence[Line],
        walls: Walls | None = None,
        doubts: Sequence[float] | None = None,
    ) -> None:
        self.parts, self.lines, self.walls = tuple(parts), tuple(lines), walls
        self.doubts = tuple(doubts) if doubts is not None else (0.0,) * len(self.parts)
        counts = [len(part.port_modes) for part in self.parts]
        self._first = np.concatenate([[0], np.cumsum(counts)]).astype(int)
        self.ends_in_guide = len(self.lines) > len(self.parts)

    @property
    def loses(self) -> bool:
        """Whether power turns to heat somewhere."""
        return self.walls is not None or any(part.loses for part in self.parts)

    @property
    def radiates(self) -> bool:
        """Whether the run ends in a horn."""
        return any(part.radiates for part in self.parts)

    @cached_property
    def outer(self) -> list[tuple[int, int, int]]:
        """Port of the run, part and row in that part of each mode at the run's ends."""
        found = [(1, 0, i) for i in self._rows(0, 1)]
        if self.ends_in_guide:
            last = len(self.parts) - 1
            found += [(2, last, i) for i in self._rows(last, 2)]
        return found

    def port_modes(self, highest: float) -> tuple[PortMode, ...]:
        """Modes at the run's ends that propagate up to `highest` [Hz]."""
        if not self.parts:
            return _straight_modes(self.lines[0].guide, highest)
        modes = []
        for port, part, row in self.outer:
            mode = self.parts[part].port_modes[row]
            modes.append(PortMode(port, mode.name, mode.cutoff))
        return tuple(modes)

    def answers(self, frequency: Array) -> ChainAnswers:
        """Evaluate at frequencies (n,) of the band, ascending [Hz]."""
        if not self.parts:
            return self._straight(frequency)
        answers = [
            self._answers(frequency[first : first + _CHUNK])
            for first in range(0, len(frequency), _CHUNK)
        ]
        whole = answers[0]
        for more in answers[1:]:
            whole = whole.joined(more)
        return whole

    def _rows(self, part: int, port: int) -> list[int]:
        modes = self.parts[part].port_modes
        return [i for i, mode in enumerate(modes) if mode.port == port]

    def _answers(self, f: Array) -> ChainAnswers:
        n, count, size = len(f), len(self.parts), int(self._first[-1])
        s = np.zeros((n, size, size), dtype=complex)
        errors, past = np.empty((n, count)), []
        for p, part in enumerate(self.parts):
            here = slice(self._first[p], self._first[p + 1])
            values, error, leak_error = part.at(f)
            s[:, here, here] = values[:, : len(part.port_modes)]
            errors[:, p] = error + self.doubts[p] + self._line_doubt(p, f)
            past.append((values[:, len(part.port_modes) :], leak_error))
        between = self._between(f)
        feedback = np.eye(size) - between @ s
        inverse = np.linalg.inv(feedback)
        outer = [int(self._first[p]) + i for _, p, i in self.outer]
        into = inverse[:, :, outer]
        back = inverse @ between
        out = s[:, outer] @ back
        out[:, range(len(outer)), outer] += 1.0
        ends = self._end_phases(f)
        run = ends[:, :, None] * (s @ into)[:, outer] * ends[:, None, :]
        owner = np.repeat(np.arange(count), np.diff(self._first))
        sums = (owner[:, None] == np.arange(count)).astype(float)
        loop = sums.T @ np.abs(back) @ sums * errors[:, None, :]
        known = loop.sum(axis=2).max(axis=1) < _LARGEST_FEEDBACK
        entering = sums.T @ np.abs(into)
        moved = np.linalg.solve(np.eye(count) - np.where(known[:, None, None], loop, 0.0), entering)
        moved = errors[:, :, None] * moved
        change = (np.abs(out) @ sums @ moved).reshape(n, -1).max(axis=1)
        error = np.where(known, np.minimum(change, NOTHING_KNOWN), NOTHING_KNOWN)
        shifted = (np.abs(back) @ sums @ moved)[:, :, 0]
        first = np.asarray(into[:, :, 0] * ends[:, :1])
        leaked, leaked_error = self._leaked(past, first, shifted, known)
        pull = (np.einsum("npp->np", sums.T @ np.abs(back) @ sums) * errors).sum(axis=1)
        radiated = self._radiated(past, s, first)
        determinant = np.linalg.det(feedback)
        return ChainAnswers(
            f, run, error, leaked, leaked_error, radiated, determinant, entering[:, :, 0], pull
        )

    def _leaked(
        self,
        past: Sequence[tuple[Any, Array]],
        into: Any,
        shifted: Array,
        known: np.ndarray,
    ) -> tuple[Array, Array]:
        power, bar = np.zeros(len(into)), np.zeros(len(into))
        for p, (waves, leak_error) in enumerate(past):
            if not waves.shape[1] or self.parts[p].radiates:
                continue
            here = slice(self._first[p], self._first[p + 1])
            power += _power(waves, into[:, here])
            entering = np.abs(into[:, here]).sum(axis=1) + shifted[:, here].sum(axis=1)
            each = np.linalg.norm(waves, axis=1)
            bar += np.sqrt(waves.shape[1]) * leak_error * entering
            bar += (each * shifted[:, here]).sum(axis=1)
        bar = np.where(known, bar, np.where(bar > 0, NOTHING_KNOWN, 0.0))
        return power, np.asarray(2 * np.sqrt(power) * bar + bar**2)

    def _radiated(self, past: Sequence[tuple[Any, Array]], s: ComplexArray, into: Any) -> Array:
        power = np.zeros(len(into))
        for p, (waves, _) in enumerate(past):
            if self.parts[p].radiates:
                here = slice(self._first[p], self._first[p + 1])
                if waves.shape[1]:
                    power += _power(waves, into[:, here])
                else:
                    # a bare horn has no waves past its port: it sends out what it does not return
                    power += (np.abs(into[:, here]) ** 2).sum(axis=1)
                    power -= _power(s[:, here, here], into[:, here])
        return power

    def _between(self, f: Array) -> ComplexArray:
        """C: from the waves that leave a part to those that enter its neighbours."""
        size = int(self._first[-1])
        matrix = np.zeros((len(f), size, size), dtype=complex)
        for j in range(1, len(self.parts)):
            line = self.lines[j]
            for i in self._rows(j - 1, 2):
                one = mode_in(line.guide, self.parts[j - 1].port_modes[i])
                past: ComplexArray | None = None
                for k in self._rows(j, 1):
                    other = mode_in(line.guide, self.parts[j].port_modes[k])
                    share = share_after_turn(one, other, line.turn)
                    if not share:
                        continue
                    if past is None:
                        past = self._past(line, one, f)
                    a, b = int(self._first[j - 1]) + i, int(self._first[j]) + k
                    matrix[:, b, a] = matrix[:, a, b] = share * past
        return matrix

    def _past(self, line: Line, mode: SpaceMode, f: Array) -> ComplexArray:
        beta = phase_constant_of(mode, f, self.walls)
        carried = phase_constant_of(mode, f, None).real > 0
        return np.asarray(np.where(carried, np.exp(-1j * beta * line.length), 0.0))

    def _end_phases(self, f: Array) -> ComplexArray:
        """Of the lines before the first part and behind the last, for each outer mode (n, m)."""
        # the frame at the near end is that of the first part; half turns on the way are taken
        # back, so that the one at the far end is carried along the axis
        turn = sum(line.turn for line in self.lines[1:])
        half = round(turn / np.pi) if abs(turn / np.pi - round(turn / np.pi)) < 1e-9 else 0
        columns = []
        for port, part, row in self.outer:
            line = self.lines[0] if port == 1 else self.lines[-1]
            mode = mode_in(line.guide, self.parts[part].port_modes[row])
            sign = share_after_turn(mode, mode, np.pi) ** half if port == 2 else 1.0
            columns.append(sign * self._past(line, mode, f))
        return np.stack(columns, axis=1)

    def _line_doubt(self, part: int, f: Array) -> Array:
        """What first order in the walls leaves out of the lines before and behind a part."""
        if self.walls is None:
            return np.zeros(len(f))
        length = self.lines[part].length
        if part + 1 == len(self.parts) and self.ends_in_guide:
            length += self.lines[-1].length
        if not length:
            return np.zeros(len(f))
        cutoff = dominant_cutoff(self.lines[part].guide)
        return second_order(f, self.walls.conductivity, length, cutoff)

    def _straight(self, f: Array) -> ChainAnswers:
        modes = _straight_modes(self.lines[0].guide, float(f[-1]))
        half, line = len(modes) // 2, self.lines[0]
        s = np.zeros((len(f), len(modes), len(modes)), dtype=complex)
        for i, mode in enumerate(modes[:half]):
            past = self._past(line, mode_in(line.guide, mode), f)
            s[:, i, half + i] = s[:, half + i, i] = past
        none = np.zeros(len(f))
        error = none
        if self.walls is not None:
            cutoff = dominant_cutoff(line.guide)
            error = second_order(f, self.walls.conductivity, line.length, cutoff)
        incident = np.zeros((len(f), 0))
        one = np.ones(len(f), complex)
        return ChainAnswers(f, s, error, none, none, none, one, incident, none)


def _power(waves: Any, into: Any) -> Array:
    """Power past the ports (n,) of the waves `into` (n, m) that enter."""
    return np.asarray((np.abs(np.einsum("nwm,nm->nw", waves, into)) ** 2).sum(axis=1))


def _straight_modes(guide: Guide, highest: float) -> tuple[PortMode, ...]:
    modes = space_modes(guide, highest, 1.0, 1.0)
    return tuple(mode.port_mode(port) for port in (1, 2) for mode in modes)
