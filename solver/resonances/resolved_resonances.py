"""Trapped resonances that successive discretisations agree on; the others are counted.

A reduced model also has poles that belong to no field of the part: they hardly couple to the
ports, ring as if nothing left, and are elsewhere in the next model.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from solver.fem.level_ladder import LevelResult
from solver.resonances.trapped_resonances import Admittance, trapped_resonances_of
from solver.waves.resonances import UNDRIVEN_Q, Resonance

#: No Q above this can be told from one without bound.
MOST_Q = UNDRIVEN_Q
#: Most error of a frequency over the frequency, and over the distance to the next resonance.
_MOST_ERROR, _MOST_OF_SPACING = 0.01, 0.5


@dataclass(frozen=True)
class Resonances:
    """Resonances of one part, and how many more its models have that do not hold.

    Parameters
    ----------
    listed : tuple of Resonance
        Ascending; a Q of `MOST_Q` stands for any above it.
    not_resolved : int
        Poles left out, because their frequency is not settled.
    not_searched : tuple of str
        Fields that an interrupt left out.
    """

    listed: tuple[Resonance, ...]
    not_resolved: int
    not_searched: tuple[str, ...] = ()


def resolved_resonances(
    found: LevelResult, admittance: Admittance, band: tuple[float, float], about: str
) -> Resonances:
    """Find the resonances of a solved part in its band that are resolved.

    Parameters
    ----------
    found : LevelResult
    admittance : callable
        See `trapped_resonances_of`.
    band : (float, float)
        [Hz]
    about : str
        See `Resonance`.

    Returns
    -------
    Resonances
    """
    listed, left_out = settled(trapped_resonances_of(found, admittance, band, about))
    return Resonances(tuple(map(_bounded, listed)), left_out)


def settled(poles: Sequence[Resonance]) -> tuple[tuple[Resonance, ...], int]:
    """Return the resonances whose error is small enough to be told, and how many are not.

    Small against the frequency, and against the distance to the next of those that are told.
    """
    near = [pole for pole in poles if pole.error <= _MOST_ERROR * pole.frequency]
    at = np.array([pole.frequency for pole in near])

    def apart(pole: Resonance) -> bool:
        distance = np.abs(at - pole.frequency)
        return bool(pole.error <= _MOST_OF_SPACING * distance[distance > 0].min(initial=np.inf))

    told = tuple(pole for pole in near if apart(pole))
    return told, len(poles) - len(told)


def _bounded(pole: Resonance) -> Resonance:
    return replace(pole, quality=min(pole.quality, MOST_Q))
