"""A part of a run as it is kept: its waves at so many frequencies that all between are known."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from geometries.arrays import Array, ComplexArray
from solver.judgement.whole_band import groups
from solver.parts.solved_part import SolvedPart
from solver.runs.local_polynomials import between_of, enough_nodes, interpolated
from solver.waves.resonances import Resonance
from solver.waves.scattering import PortMode

#: What the polynomials between the nodes may leave, over the wanted error of S.
_BETWEEN = 0.01
_LEAST_NODES, _PER_POLE = 33, 4
#: Distances from a resonance at which it is sampled, over its half width.
_NEAR = (0.0, 0.25, 0.5, 1.0, 2.0, 4.0, 8.0, 16.0)
#: Waves past the ports of less amplitude than this carry nothing that counts.
_NOTHING = 1e-12
#: Power that is missing beyond round-off.
_BALANCE = 1e-9


@dataclass(frozen=True)
class Spill:
    """A mode that a part excites at a port and that its neighbour may send back.

    Parameters
    ----------
    port : int
    name : str
    cutoff : float
        [Hz]
    size : float
        Largest amplitude in the band for a unit wave in any mode that propagates [-]; of an
        evanescent mode at the port in the mesh.
    feed : float
        Straight guide from there to the plane of reference [m].
    """

    port: int
    name: str
    cutoff: float
    size: float
    feed: float


@dataclass(frozen=True, eq=False)
class SampledPart:
    """What a part does to the waves that propagate, at any frequency of its band.

    Parameters
    ----------
    port_modes : tuple of PortMode
        The m modes that propagate somewhere in the band, those of port 1 first.
    frequency : (k,) array
        Nodes, ascending [Hz].
    s : (k, m + w, m) complex array
        Waves that leave, those past the ports last, for each wave that enters.
    error : (k,) array
        Bound on the error of every element among the ports.
    leak_error : (k,) array
        The same of the waves past the ports.
    doubt : float
        What the polynomials between the nodes leave.
    reached : bool
        Whether the bar is under what was asked.
    loses : bool
        Whether power turns to heat in it.
    spills : tuple of Spill
    resonances : tuple of Resonance
        Those in the band.
    radiates : bool
        Whether the waves past the ports leave on purpose, as those of a horn.
    """

    port_modes: tuple[PortMode, ...]
    frequency: Array
    s: ComplexArray
    error: Array
    leak_error: Array
    doubt: float
    reached: bool
    loses: bool
    spills: tuple[Spill, ...]
    resonances: tuple[Resonance, ...]
    radiates: bool = False

    @property
    def ports(self) -> int:
        """Number of ports."""
        return max(mode.port for mode in self.port_modes)

    def at(self, frequency: Array) -> tuple[ComplexArray, Array, Array]:
        """Evaluate at frequencies (n,) of the band [Hz].

        Returns
        -------
        (n, m + w, m) complex array, (n,) array, (n,) array
            As `s`, with 0 where a mode is below its cutoff; `error` and `leak_error`, with what
            the polynomials leave.
        """
        s = interpolated(self.frequency, self.s, frequency)
        above = frequency[:, None] > np.array([mode.cutoff for mode in self.port_modes])
        m = len(self.port_modes)
        s = s * above[:, None, :]
        s[:, :m] *= above[:, :, None]
        error, leak = (
            between_of(self.frequency, known, frequency) + self.doubt
            for known in (self.error, self.leak_error)
        )
        return s, error, leak


def sampled(
    solved: SolvedPart,
    frequency: Array,
    s_error: float,
    *,
    feeds: Sequence[float],
    resonances: tuple[Resonance, ...],
) -> SampledPart:
    """Sample a solved part over its band.

    Parameters
    ----------
    solved : SolvedPart
    frequency : (n,) array
        Listed frequencies, ascending [Hz].
    s_error : float
        Wanted bound on the error of S.
    feeds : sequence of float
        Straight guide in the mesh before each port [m].
    resonances : tuple of Resonance
        Those in the band.

    Returns
    -------
    SampledPart
    """
    start, stop = float(frequency[0]), float(frequency[-1])
    kept = [i for i, mode in enumerate(solved.port_modes) if mode.cutoff < stop]
    wanted = _BETWEEN * s_error
    known, values, doubt = enough_nodes(
        lambda at: solved.answers(at).s[:, :, kept],
        _first_nodes(solved, start, stop, resonances),
        wanted,
    )
    answers = solved.answers(known)
    error = answers.error(groups(known, resonances))
    ports = len(solved.port_modes)
    past = [i for i in range(ports, values.shape[1]) if np.abs(values[:, i]).max() > _NOTHING]
    radiates = solved.radiation is not None
    finest = float(solved.weights[ports:].min(initial=np.inf))
    return SampledPart(
        port_modes=tuple(solved.port_modes[i] for i in kept),
        frequency=known,
        s=values[:, [*kept, *past]],
        error=error,
        leak_error=error / finest,
        doubt=doubt,
        reached=solved.reached,
        loses=not radiates and _loses(values, kept),
        spills=_spills(solved, values, feeds),
        resonances=resonances,
        radiates=radiates,
    )


def reversed_part(part: SampledPart) -> SampledPart:
    """The same part with its two ports exchanged."""
    first = [i for i, mode in enumerate(part.port_modes) if mode.port == 1]
    second = [i for i, mode in enumerate(part.port_modes) if mode.port == 2]
    order, m = second + first, len(part.port_modes)
    rows = [*order, *range(m, part.s.shape[1])]
    modes = (part.port_modes[i] for i in order)
    return replace_ports(
        part,
        tuple(PortMode(3 - mode.port, mode.name, mode.cutoff) for mode in modes),
        part.s[:, rows][:, :, order],
        tuple(Spill(3 - s.port, s.name, s.cutoff, s.size, s.feed) for s in part.spills),
    )


def replace_ports(
    part: SampledPart, modes: tuple[PortMode, ...], s: ComplexArray, spills: tuple[Spill, ...]
) -> SampledPart:
    """Return a part with other port modes and the waves among them."""
    from dataclasses import replace

    return replace(part, port_modes=modes, s=s, spills=spills)


def _loses(values: ComplexArray, kept: Sequence[int]) -> bool:
    """Whether less power leaves than enters; without loss the balance holds to round-off."""
    mode = int(np.argmax(np.abs(values[-1][kept]).max(axis=0)))
    return bool((1.0 - (np.abs(values[-1, :, mode]) ** 2).sum()) > _BALANCE)


def _first_nodes(
    solved: SolvedPart, start: float, stop: float, resonances: tuple[Resonance, ...]
) -> Array:
    if start == stop:
        return np.array([start])
    count = max(_LEAST_NODES, _PER_POLE * solved.poles_between(start, stop))
    parts = [np.linspace(start, stop, count)]
    for found in resonances:
        offsets = np.array(_NEAR) * found.width
        parts += [found.frequency - offsets, found.frequency + offsets]
    towards = np.logspace(-9, -2, 22)
    for cutoff in {mode.cutoff for mode in solved.port_modes}:
        if start * 0.99 < cutoff < stop * 1.01:
            parts.append(cutoff * np.concatenate([1 - towards, [1.0], 1 + towards]))
    points = np.unique(np.concatenate(parts))
    return points[(points >= start) & (points <= stop)]


def _spills(solved: SolvedPart, values: ComplexArray, feeds: Sequence[float]) -> tuple[Spill, ...]:
    size = np.abs(values[:, : len(solved.port_modes)]).max(axis=(0, 2))
    return tuple(
        Spill(mode.port, mode.name, mode.cutoff, float(size[i]), float(feeds[mode.port - 1]))
        for i, mode in enumerate(solved.port_modes)
    )


def as_arrays(part: SampledPart) -> dict[str, Any]:
    """Return a sampled part as arrays and texts for a file."""
    return {
        "port": np.array([mode.port for mode in part.port_modes]),
        "mode": np.array([mode.name for mode in part.port_modes]),
        "cutoff": np.array([mode.cutoff for mode in part.port_modes]),
        "frequency": part.frequency,
        "s": part.s,
        "error": part.error,
        "leak_error": part.leak_error,
        "doubt": np.array(part.doubt),
        "flags": np.array([part.reached, part.loses, part.radiates]),
        "spill_text": np.array([spill.name for spill in part.spills]),
        "spill": np.array([(s.port, s.cutoff, s.size, s.feed) for s in part.spills]).reshape(-1, 4),
        "resonance_text": np.array([r.about for r in part.resonances]),
        "resonance": np.array(
            [(r.frequency, r.error, r.quality, float(r.driven)) for r in part.resonances]
        ).reshape(-1, 4),
    }


def from_arrays(arrays: Mapping[str, Any]) -> SampledPart:
    """Return what `as_arrays` wrote, digit for digit.

    Raises
    ------
    KeyError, TypeError, ValueError
        If the arrays are not those of a part.
    """
    listed = zip(arrays["port"], arrays["mode"], arrays["cutoff"], strict=True)
    spills = zip(arrays["spill_text"], arrays["spill"], strict=True)
    resonances = zip(arrays["resonance_text"], arrays["resonance"], strict=True)
    return SampledPart(
        port_modes=tuple(PortMode(int(p), str(n), float(c)) for p, n, c in listed),
        frequency=np.asarray(arrays["frequency"], dtype=float),
        s=np.asarray(arrays["s"], dtype=complex),
        error=np.asarray(arrays["error"], dtype=float),
        leak_error=np.asarray(arrays["leak_error"], dtype=float),
        doubt=float(arrays["doubt"]),
        reached=bool(arrays["flags"][0]),
        loses=bool(arrays["flags"][1]),
        spills=tuple(
            Spill(int(v[0]), str(name), float(v[1]), float(v[2]), float(v[3])) for name, v in spills
        ),
        resonances=tuple(
            Resonance(float(v[0]), float(v[1]), float(v[2]), str(about), bool(v[3]))
            for about, v in resonances
        ),
        radiates=bool(arrays["flags"][2]),
    )


Waves = Callable[[Array], ComplexArray]
