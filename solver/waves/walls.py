"""The metal of the walls."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from solver.errors import StudyError


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
