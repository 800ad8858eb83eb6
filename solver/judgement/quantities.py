"""One quantity of a part over its band, against its limit."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Protocol

import numpy as np

from geometries.arrays import Array, ComplexArray
from solver.studies.limits import Limit, amplitude_of, value_of
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
    def frequency(self) -> Array:
        """[Hz]."""

    @property
    def port_modes(self) -> tuple[PortMode, ...]:
        """Modes that propagate."""

    @property
    def s11(self) -> ComplexArray:
        """Reflection of the dominant mode."""

    @property
    def error(self) -> Array:
        """Bar of S."""

    @property
    def leaked_power(self) -> Array:
        """Past the rim."""


@dataclass(frozen=True)
class Reading:
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
        """Meets, exceeds, undecided, or that no limit is set."""
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


def share_of_limit(curves: Judged, limit: Limit, sign: float) -> Array:
    """Amplitude, moved by its bar, over the allowed one; the worst of all limits, (n,)."""
    shares = []
    for quantity, value in limit.values.items():
        amplitude, error = amplitude_over_band(curves, quantity)
        moved = np.maximum(amplitude + sign * error, 0.0)
        shares.append(moved / amplitude_of(quantity, value))
    return np.asarray(np.max(shares, axis=0))


def holding_parts(scattering: Judged, limit: Limit | None) -> tuple[tuple[float, float], ...]:
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


def read_quantity(scattering: Judged, quantity: str, limit: float | None) -> Reading:
    """Read the worst amplitude of a quantity over the band, and what holds the true one."""
    amplitude, error = amplitude_over_band(scattering, quantity)
    at = int(np.argmax(amplitude))
    return Reading(
        quantity=quantity,
        limit=limit,
        worst=float(amplitude[at]),
        lowest=float(np.max(np.maximum(amplitude - error, 0.0))),
        highest=float(np.max(_upper(amplitude, error, quantity))),
        at_hz=float(scattering.frequency[at]),
        highest_at=float(scattering.frequency[int(np.argmax(amplitude + error))]),
    )


def _upper(amplitude: Array, error: Array, quantity: str) -> Array:
    """Upper end of the bar; no part reflects more than it is given."""
    upper = amplitude + error
    if quantity == "leakage_db":
        return upper
    return np.maximum(np.minimum(upper, 1.0), amplitude)


def amplitude_over_band(scattering: Judged, quantity: str) -> tuple[Array, Array]:
    r"""Return the wave amplitude that a quantity speaks of, and its error bar.

    Parameters
    ----------
    scattering : ScatteringMatrix
        Or anything else with its `s11`, `leaked_power` and `error`.
    quantity : str
        A field name of `Limit`.

    Returns
    -------
    (n,) array, (n,) array
        \|S11\|, or the root of the leaked power, and the bound on its error [-].
    """
    if quantity == "leakage_db":
        amplitude = np.sqrt(np.maximum(scattering.leaked_power, SMALLEST_AMPLITUDE**2))
        # Nothing leaks from a closed part, so there is no error to speak of either.
        own = getattr(scattering, "leaked_error", None)
        if own is not None:
            return amplitude, np.sqrt(amplitude**2 + own) - amplitude
        return amplitude, np.where(scattering.leaked_power > 0.0, scattering.error, 0.0)
    return np.abs(scattering.s11), scattering.error
