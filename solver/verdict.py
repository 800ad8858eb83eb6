"""Does the computed part meet its limit, given how sure the numbers are?"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Protocol

import numpy as np
from numpy.typing import NDArray

from solver.limits import WORDING, Limit, amplitude_of, value_of, wording
from solver.scattering import SMALLEST_AMPLITUDE, PortMode

MEETS, EXCEEDS, UNDECIDED = "meets", "exceeds", "undecided"


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
        ``"meets"``, ``"exceeds"`` or ``"undecided"``.
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
    """

    outcome: str
    quantity: str
    worst: float
    lowest: float
    highest: float
    at_hz: float
    limit: float | None
    reasons: tuple[str, ...]

    @property
    def exit_code(self) -> int:
        """Exit code of the command: 0 meets, 1 exceeds, 3 undecided."""
        return {MEETS: 0, EXCEEDS: 1, UNDECIDED: 3}[self.outcome]

    @property
    def text(self) -> str:
        """The worst value and its interval in words."""
        name, (low, high) = WORDING[self.quantity][0], (self.lowest, self.highest)
        return (
            f"worst {name} {wording(self.quantity, self.worst)} at {self.at_hz / 1e9:.6g} GHz, "
            f"between {wording(self.quantity, low)} and {wording(self.quantity, high)}"
        )


@dataclass(frozen=True)
class _Reading:
    """One quantity against its limit; amplitudes, so that larger is always worse."""

    quantity: str
    limit: float | None
    worst: float
    lowest: float
    highest: float
    at_hz: float

    @property
    def outcome(self) -> str:
        if self.limit is None:
            return MEETS
        allowed = amplitude_of(self.quantity, self.limit)
        # An amplitude that went through a logarithm and back is equal only to round-off.
        slack = 1e-12 * allowed
        if self.lowest > allowed + slack:
            return EXCEEDS
        return MEETS if self.highest <= allowed + slack else UNDECIDED

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
) -> Verdict:
    """Judge the part against its limit.

    Parameters
    ----------
    scattering : ScatteringMatrix
        The computed part, or anything else with what `Judged` asks for.
    limit : Limit or None
        What is asked of it.
    accuracy_reached : bool
        Whether the bar is under the accuracy that was asked for; if not, nothing is decided.
    wanted_error : float, optional
        The accuracy that was asked for, for the wording [-].
    cautions : sequence of str, optional
        More sentences for the reasons, for example a resonance in the band.

    Returns
    -------
    Verdict
        "meets" if the upper end of the bar meets every limit at every frequency, "exceeds" if
        the lower end exceeds a limit at some frequency, else "undecided".

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
    rank = {MEETS: 0, UNDECIDED: 1, EXCEEDS: 2}
    readings.sort(key=lambda r: (rank[r.outcome], r.use), reverse=True)
    first = readings[0]
    outcome = first.outcome if accuracy_reached else UNDECIDED
    reasons = [_sentence(reading) for reading in readings]
    if not accuracy_reached:
        reasons.insert(0, _accuracy_sentence(scattering, first, wanted_error))
    converted = _beside_the_dominant(scattering)
    if converted:
        reasons.append(
            f"{scattering.port_modes[0].name} is not the only mode that propagates in the band: "
            "see the other rows of the S-matrix for the power converted to "
            + ", ".join(sorted(converted))
        )
    ends = value_of(first.quantity, [first.lowest, first.worst, first.highest])
    low, high = sorted((float(ends[0]), float(ends[2])))
    return Verdict(
        outcome=outcome,
        quantity=first.quantity,
        worst=float(ends[1]),
        lowest=low,
        highest=high,
        at_hz=first.at_hz,
        limit=first.limit,
        reasons=(*reasons, *cautions),
    )


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
        highest=float(np.max(amplitude + error)),
        at_hz=float(scattering.frequency[at]),
    )


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


def _sentence(reading: _Reading) -> str:
    """Say where one quantity stands against its limit."""
    name = WORDING[reading.quantity][0]
    ends = value_of(reading.quantity, [reading.lowest, reading.worst, reading.highest])
    best, value, worst = (wording(reading.quantity, float(end)) for end in ends)
    at = f"{reading.at_hz / 1e9:.6g} GHz"
    if reading.limit is None:
        return f"no limit was set; the worst {name} is {value} at {at}"
    bound = wording(reading.quantity, reading.limit)
    if reading.outcome == MEETS:
        return f"{name} {worst} at worst, bar included, near {at}, meets {bound}"
    if reading.outcome == EXCEEDS:
        return f"{name} {best} at best, bar included, near {at}, fails {bound}"
    return (
        f"the limit {bound} on {name} lies inside the bar near {at}, which runs from {best} to "
        f"{worst}: ask for a smaller s_error, or change the part"
    )


def _accuracy_sentence(scattering: Judged, first: _Reading, wanted: float | None) -> str:
    """Say that the accuracy was missed, and what the larger bar would still say."""
    asked = f" of {wanted:.3g}" if wanted is not None else ""
    still = {
        MEETS: "would still meet the limit" if first.limit else "is the one shown",
        EXCEEDS: "would still exceed the limit",
        UNDECIDED: "straddles the limit",
    }[first.outcome]
    reached = float(np.max(scattering.error))
    return (
        f"the accuracy asked for{asked} was not reached: the bar is {reached:.3g}, and {still}; "
        "ask for a larger s_error to accept it"
    )
