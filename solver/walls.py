"""The metal of the walls."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from solver.errors import StudyError

#: Permeability of free space [H/m]; CODATA 2018 differs from 4 pi 1e-7 only in the tenth digit.
MU0 = 4e-7 * np.pi


@dataclass(frozen=True)
class Walls:
    """Smooth walls of one metal.

    Parameters
    ----------
    conductivity : float
        Conductivity [S/m]; > 0. Annealed copper has 5.8e7.

    Raises
    ------
    StudyError
        If the conductivity is not positive and finite.
    """

    conductivity: float

    def __post_init__(self) -> None:
        if not (np.isfinite(self.conductivity) and self.conductivity > 0):
            raise StudyError(
                f"walls: conductivity {self.conductivity:g} S/m: must be above 0 and finite; "
                "leave the walls out for walls without loss"
            )

    def surface_resistance(self, frequency: ArrayLike) -> NDArray[np.float64]:
        """Return sqrt(pi f mu0 / conductivity) [ohm] at frequencies [Hz].

        References
        ----------
        D. M. Pozar, Microwave Engineering, 4th ed., Wiley 2012, eq. 1.125 (quoted from memory).
        """
        f = np.asarray(frequency, dtype=float)
        return np.asarray(np.sqrt(np.pi * f * MU0 / self.conductivity))
