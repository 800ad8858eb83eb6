"""What an endless row of equal convolutions does, beside the finite piece."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from geometries.arrays import Array
from solver.periodic.bloch_waves import PeriodicPiece, dies_out, phase_of
from solver.waves.guide_modes import SPEED_OF_LIGHT

#: How far beyond the band stopbands are looked for, over its ends.
_MARGIN = 0.03
#: Safety on the change from the next lower order.
_SAFETY = 4.0


@dataclass(frozen=True, eq=False)
class PeriodicGuide:
    """Waves of the endless row.

    Parameters
    ----------
    period : float
        Length of one period along the axis [m].
    frequency : (n,) array
        [Hz]
    phase, phase_error : (n,) array
        Phase constant times the period, and its bar [rad].
    attenuation : (n,) array
        By which the wave dies out over a period, in a stopband [Np].
    stopbands : tuple of (float, float)
        In the band or within three per cent of its ends [Hz].
    stopband_error : float
        Bound on the error of their edges [Hz].
    extra_loss : (n,) array or None
        Loss in the walls of the piece over that of plain guide of its length [dB]; None where the
        walls lose nothing.
    """

    period: float
    frequency: Array
    phase: Array
    phase_error: Array
    attenuation: Array
    stopbands: tuple[tuple[float, float], ...]
    stopband_error: float
    extra_loss: Array | None = None

    @property
    def cautions(self) -> tuple[str, ...]:
        """What has to be told of stopbands that touch the band, or lie close to it."""
        low, high = float(self.frequency[0]), float(self.frequency[-1])
        told = []
        for start, stop in self.stopbands:
            place = f"a stopband of the convolutions from {start / 1e9:.5g} to {stop / 1e9:.5g} GHz"
            if start <= high and stop >= low:
                told.append(
                    f"{place} touches the band: in it the piece reflects the more the more "
                    "convolutions it has, and at its edges it rings"
                )
            else:
                told.append(f"{place} lies close to the band: a small change of pitch moves it in")
        return tuple(told)


def periodic_guide(
    finest: PeriodicPiece,
    coarser: PeriodicPiece,
    frequency: Array,
    periods: int,
    period: float,
    about: Array,
) -> PeriodicGuide:
    """Read the waves of an endless row from one of its pieces.

    Parameters
    ----------
    finest, coarser : PeriodicPiece
        The piece at an order and at the next lower one.
    frequency : (n,) array
        Ascending [Hz].
    periods : int
        That the piece has.
    period : float
        Length of one [m].
    about : (n,) array
        Phase of the piece that it is known to lie near [rad].

    Returns
    -------
    PeriodicGuide
        Without the loss.
    """
    squared = _squared(frequency)
    cosines = [piece.cosines(squared) for piece in (finest, coarser)]
    phases = [phase_of(cosine, about) / periods for cosine in cosines]
    off = _SAFETY * np.abs(phases[0] - phases[1])
    out = dies_out(cosines[0])
    low, high = _squared(frequency[[0, -1]] * np.array([1 - _MARGIN, 1 + _MARGIN]))
    bands, before = (
        [tuple(_hertz(np.array(edge))) for edge in piece.stopbands(low, high)]
        for piece in (finest, coarser)
    )
    return PeriodicGuide(
        period,
        frequency,
        phases[0].real,
        off,
        np.where(out, -phases[0].imag, 0.0),
        tuple((float(a), float(b)) for a, b in bands),
        _moved(bands, before),
    )


def _moved(bands: list[tuple[float, ...]], before: list[tuple[float, ...]]) -> float:
    """By how much the edges may be off; without bound where a stopband is in one order alone."""
    if len(bands) != len(before):
        return float("inf")
    ends, others = (np.array(edges).ravel() for edges in (bands, before))
    return _SAFETY * float(np.abs(ends - others).max(initial=0.0))


def _squared(frequency: Array) -> Array:
    return np.asarray((2 * np.pi * frequency / SPEED_OF_LIGHT) ** 2)


def _hertz(squared: Array) -> Array:
    return np.asarray(np.sqrt(squared) * SPEED_OF_LIGHT / (2 * np.pi))
