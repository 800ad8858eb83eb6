"""Does the computed part meet its limit, given how sure the numbers are?"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Protocol

import numpy as np
from numpy.typing import NDArray

from solver.studies.limits import WORDING, Limit, amplitude_of, value_of, wording
from solver.waves.resonances import Resonance
from solver.waves.scattering import SMALLEST_AMPLITUDE, PortMode

MEETS, EXCEEDS, UNDECIDED = "meets", "exceeds", "undecided"
NO_LIMIT = "no limit"


class Judged(Protocol):
    """What a verdict reads of a part: a `ScatteringMatrix`, or its first element alone.

    Attributes
    ----------
    frequency : (n,) array
        [Hz]
    port_modes : tuple of PortMode
        The first is the dominant mode at port 1.
    s11 : (n,) complex array
    error : (n,) array
        Bound on the error of `s11`.
    leaked_power : (n,) array
        Over the power that enters [-].
    """

    @property
    def frequency(self) -> NDArray[np.float64]: ...
    @property
    def port_modes(self) -> tuple[PortMode, ...]: ...
    @property
    def s11(self) -> NDArray[np.complex128]: ...
    @property
    def error(self) -> NDArray[np.float64]: ...
    @property
    def leaked_power(self) -> NDArray[np.float64]: ...


@dataclass(frozen=True)
class Verdict:
    """The answer, with the reading that decides it.

    Parameters
    ----------
    outcome : str
        ``"meets"``, ``"exceeds"``, ``"undecided"``, or ``"no limit"`` where none was set.
    quantity : str
        Quantity with the least room to its limit: a field name of `Limit`.
    worst : float
        Worst value of that quantity over the band, in the limit's own quantity and unit.
    lowest, highest : float
        Interval that holds the true worst value, ascending, in the same unit.
    at_hz : float
        Frequency of the worst value [Hz].
    limit : float or None
        The limit on the quantity; None if none was set.
    reasons : tuple of str
        Sentences that say why.
    margin_db : float or None
        Room between the limit and the end of the bar that decides, as a ratio of amplitudes;
        negative where the limit is exceeded [dB].
    margin : float or None
        The same room in the limit's own quantity and unit.
    holds : tuple of (float, float)
        Parts of the band in which every limit holds with the bar counted [Hz].
    accuracy_reached : bool
        Whether the bar is under the accuracy that was asked for.
    """

    outcome: str
    quantity: str
    worst: float
    lowest: float
    highest: float
    at_hz: float
    limit: float | None
    reasons: tuple[str, ...]
    margin_db: float | None = None
    margin: float | None = None
    holds: tuple[tuple[float, float], ...] = ()
    accuracy_reached: bool = True

    @property
    def exit_code(self) -> int:
        """Exit code of the command: 0 meets, 1 exceeds, 3 undecided.

        Without a limit 0, or 3 if the accuracy that was asked for was not reached.
        """
        if self.outcome == NO_LIMIT:
            return 0 if self.accuracy_reached else 3
        return {MEETS: 0, EXCEEDS: 1, UNDECIDED: 3}[self.outcome]

    @property
    def text(self) -> str:
        """The worst value and its interval in words."""
        name = WORDING[self.quantity][0]
        worst, low, high = (
            wording(self.quantity, value, self.limit)
            for value in (self.worst, self.lowest, self.highest)
        )
        return f"worst {name} {worst} at {self.at_hz / 1e9:.6g} GHz, between {low} and {high}"


@dataclass(frozen=True)
class _Reading:
    """One quantity against its limit; amplitudes, so that larger is always worse."""

    quantity: str
    limit: float | None
    worst: float
    lowest: float
    highest: float
    at_hz: float
    highest_at: float

    @property
    def outcome(self) -> str:
        if self.limit is None:
            return NO_LIMIT
        allowed = amplitude_of(self.quantity, self.limit)
        # An amplitude that went through a logarithm and back is equal only to round-off.
        slack = 1e-12 * allowed
        if self.lowest > allowed + slack:
            return EXCEEDS
        return MEETS if self.highest <= allowed + slack else UNDECIDED

    @property
    def margin(self) -> tuple[float, float] | tuple[None, None]:
        """Room to the limit, in dB and in the limit's own unit."""
        if self.limit is None:
            return None, None
        allowed = amplitude_of(self.quantity, self.limit)
        end = max(self.lowest if self.outcome == EXCEEDS else self.highest, SMALLEST_AMPLITUDE)
        there = float(value_of(self.quantity, end))
        room = there - self.limit if self.quantity == "return_loss_db" else self.limit - there
        return 20.0 * float(np.log10(allowed / end)), room

    @property
    def use(self) -> float:
        """Worst amplitude over the allowed one."""
        return self.worst / amplitude_of(self.quantity, self.limit) if self.limit else self.worst


def judge(
    scattering: Judged,
    limit: Limit | None,
    accuracy_reached: bool = True,
    *,
    wanted_error: float | None = None,
    cautions: Sequence[str] = (),
    resonances: Sequence[Resonance] = (),
    unsampled: Sequence[Resonance] = (),
) -> Verdict:
    """Judge the part against its limit.

    Parameters
    ----------
    scattering : ScatteringMatrix
        The computed part, or anything else with what `Judged` asks for; dense enough to hold
        the extremes of its band, as `solver.judgement.whole_band.whole_band` gives it.
    limit : Limit or None
        What is asked of it.
    accuracy_reached : bool
        Whether the bar is under the accuracy that was asked for; if not, a sentence says so.
    wanted_error : float, optional
        The accuracy that was asked for, for the wording [-].
    cautions : sequence of str, optional
        More sentences for the reasons, for example a resonance in the band.
    resonances : sequence of Resonance, optional
        Those in the band, to name the one that decides.
    unsampled : sequence of Resonance, optional
        Those whose effect nobody can tell: nothing is met while there is one.

    Returns
    -------
    Verdict
        "meets" if the upper end of the bar meets every limit at every frequency, "exceeds" if
        the lower end exceeds a limit at some frequency, "undecided" if a limit lies inside the
        bar, and "no limit" if none was set.

    Notes
    -----
    The bar bounds the complex error of each S-parameter, so ``|S11| - error`` and
    ``|S11| + error`` hold the true reflection. Leaked power is taken as the square of an
    amplitude with the same bar.
    """
    wanted = limit.values if limit is not None else {}
    readings = [_read(scattering, q, v) for q, v in wanted.items()]
    if not readings:
        readings = [_read(scattering, "vswr", None)]
    rank = {NO_LIMIT: 0, MEETS: 0, UNDECIDED: 1, EXCEEDS: 2}
    readings.sort(key=lambda r: (rank[r.outcome], r.use), reverse=True)
    first = readings[0]
    outcome = UNDECIDED if unsampled and first.outcome == MEETS else first.outcome
    reasons = [_sentence(reading, resonances) for reading in readings]
    if not accuracy_reached:
        reasons.append(_accuracy_sentence(scattering, wanted_error))
    reasons += [_unsampled_sentence(found) for found in unsampled]
    converted = _beside_the_dominant(scattering)
    if converted:
        reasons.append(
            f"{scattering.port_modes[0].name} is not the only mode that propagates in the band: "
            "see the other rows of the S-matrix for the power converted to "
            + ", ".join(sorted(converted))
        )
    ends = value_of(first.quantity, [first.lowest, first.worst, first.highest])
    low, high = sorted((float(ends[0]), float(ends[2])))
    margin_db, margin = first.margin
    return Verdict(
        outcome=outcome,
        quantity=first.quantity,
        worst=float(ends[1]),
        lowest=low,
        highest=high,
        at_hz=first.at_hz,
        limit=first.limit,
        reasons=(*reasons, *cautions),
        margin_db=margin_db,
        margin=margin,
        holds=_holds(scattering, limit) if wanted else (),
        accuracy_reached=accuracy_reached,
    )


def share_of_limit(curves: Judged, limit: Limit, sign: float) -> NDArray[np.float64]:
    """Amplitude, moved by its bar, over the allowed one; the worst of all limits, (n,)."""
    shares = []
    for quantity, value in limit.values.items():
        amplitude, error = amplitude_over_band(curves, quantity)
        moved = np.maximum(amplitude + sign * error, 0.0)
        shares.append(moved / amplitude_of(quantity, value))
    return np.asarray(np.max(shares, axis=0))


def _holds(scattering: Judged, limit: Limit | None) -> tuple[tuple[float, float], ...]:
    """Parts of the band in which the upper end of the bar meets every limit."""
    assert limit is not None
    f, share = scattering.frequency, share_of_limit(scattering, limit, 1.0)
    inside = share <= 1.0 + 1e-12
    held: list[tuple[float, float]] = []
    for first in np.flatnonzero(inside & ~np.r_[False, inside[:-1]]):
        stop = np.flatnonzero(~inside[first:])
        last = int(first + stop[0] - 1) if stop.size else len(f) - 1

        def edge(within: int, beyond: int) -> float:
            if not 0 <= beyond < len(f):
                return float(f[within])
            x = (1.0 - share[within]) / (share[beyond] - share[within])
            return float(f[within] + np.clip(x, 0.0, 1.0) * (f[beyond] - f[within]))

        held.append((edge(int(first), int(first) - 1), edge(last, last + 1)))
    return tuple(held)


def _beside_the_dominant(scattering: Judged) -> set[str]:
    """Names of the modes that propagate at a port beside its dominant one."""
    dominant = {
        port: min(
            (mode for mode in scattering.port_modes if mode.port == port), key=lambda m: m.cutoff
        )
        for port in {mode.port for mode in scattering.port_modes}
    }
    return {m.name for m in scattering.port_modes if m is not dominant[m.port]}


def _read(scattering: Judged, quantity: str, limit: float | None) -> _Reading:
    """Worst amplitude of one quantity over the band, and the interval that holds the true one."""
    amplitude, error = amplitude_over_band(scattering, quantity)
    at = int(np.argmax(amplitude))
    return _Reading(
        quantity=quantity,
        limit=limit,
        worst=float(amplitude[at]),
        lowest=float(np.max(np.maximum(amplitude - error, 0.0))),
        highest=float(np.max(_upper(amplitude, error, quantity))),
        at_hz=float(scattering.frequency[at]),
        highest_at=float(scattering.frequency[int(np.argmax(amplitude + error))]),
    )


def _upper(
    amplitude: NDArray[np.float64], error: NDArray[np.float64], quantity: str
) -> NDArray[np.float64]:
    """Upper end of the bar; no part reflects more than it is given."""
    upper = amplitude + error
    if quantity == "leakage_db":
        return upper
    return np.maximum(np.minimum(upper, 1.0), amplitude)


def amplitude_over_band(
    scattering: Judged, quantity: str
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Return the wave amplitude that a quantity speaks of, and its error bar.

    Parameters
    ----------
    scattering : ScatteringMatrix
        Or anything else with its `s11`, `leaked_power` and `error`.
    quantity : str
        A field name of `Limit`.

    Returns
    -------
    (n,) array, (n,) array
        \\|S11\\|, or the root of the leaked power, and the bound on its error [-].
    """
    if quantity == "leakage_db":
        amplitude = np.sqrt(np.maximum(scattering.leaked_power, SMALLEST_AMPLITUDE**2))
        # Nothing leaks from a closed part, so there is no error to speak of either.
        own = getattr(scattering, "leaked_error", None)
        if own is not None:
            return amplitude, np.sqrt(amplitude**2 + own) - amplitude
        return amplitude, np.where(scattering.leaked_power > 0.0, scattering.error, 0.0)
    return np.abs(scattering.s11), scattering.error


def _sentence(reading: _Reading, resonances: Sequence[Resonance]) -> str:
    """Say where one quantity stands against its limit."""
    name = WORDING[reading.quantity][0]
    ends = value_of(reading.quantity, [reading.lowest, reading.worst, reading.highest])
    best, value, worst = (wording(reading.quantity, float(end), reading.limit) for end in ends)
    near = _place(reading.at_hz, resonances)
    if reading.limit is None:
        return f"no limit was set; the worst {name} is {value} {near}"
    bound = wording(reading.quantity, reading.limit)
    if reading.outcome == MEETS:
        return f"{name} {worst} at worst, bar included, {near}, meets {bound}"
    if reading.outcome == EXCEEDS:
        return f"{name} {best} at best, bar included, {near}, fails {bound}"
    near = _place(reading.highest_at, resonances)
    return (
        f"the limit {bound} on {name} lies inside the bar {near}, which runs from {best} to "
        f"{worst}: ask for a smaller s_error, or change the part"
    )


def _place(frequency: float, resonances: Sequence[Resonance]) -> str:
    """Where a value lies: near a frequency, or on the resonance that makes it."""
    about = [r for r in resonances if abs(r.frequency - frequency) <= 30 * r.width]
    if not about:
        return f"near {frequency / 1e9:.6g} GHz"
    found = min(about, key=lambda r: abs(r.frequency - frequency))
    return f"at the resonance of {found.frequency / 1e9:.8g} GHz (Q {found.quality:.3g})"


def _accuracy_sentence(scattering: Judged, wanted: float | None) -> str:
    """Say that the accuracy was missed."""
    asked = f" of {wanted:.3g}" if wanted is not None else ""
    reached = float(np.max(scattering.error))
    return (
        f"the accuracy asked for{asked} was not reached: the bar is {reached:.3g} at its largest, "
        "and the outcome counts it in full"
    )


def _unsampled_sentence(found: Resonance) -> str:
    """Say that a resonance is too sharp for its effect to be told."""
    return (
        f"a resonance at {found.frequency / 1e9:.8g} GHz has a Q of {found.quality:.2g} with "
        "walls that lose nothing: what it does is not settled, and real walls damp it; give the "
        "study [walls] to have them counted"
    )
