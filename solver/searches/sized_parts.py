"""The worst reflection of parts of one size after the other, each computed once."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np

from solver.errors import StudyError
from solver.searches.part_curves import Refusal, curves_of, fingerprint
from solver.searches.point_store import PointStore
from solver.studies.band import Band
from solver.studies.study import Study
from solver.waves.walls import Walls


@dataclass(frozen=True)
class KnownSizes:
    """Parts over one band, with a memory that can outlast the run.

    Parameters
    ----------
    band : Band
    walls : Walls or None
    store : PointStore
    """

    band: Band
    walls: Walls | None
    store: PointStore

    def worst(self, part: Any, s_error: float) -> tuple[float, float]:
        """Return the worst |S11| over the whole band, between the points too, and its bar.

        Parameters
        ----------
        part : object
        s_error : float
            Wanted bound on the error of S11 [-].

        Raises
        ------
        StudyError
            When the store knows that the part cannot be computed.
        """
        study = Study("", part, self.band, None, s_error, self.walls, Path())
        name = fingerprint(study)
        kept = self.store.get(name)
        if kept is None:
            kept = curves_of(study)
            self.store.add(name, kept)
        if isinstance(kept, Refusal):
            raise StudyError(kept.reason)
        if kept.whole.unsampled:
            return 1.0, 1.0
        reflected, error = np.abs(kept.whole.s11), kept.whole.error
        worst = float(reflected.max())
        above = min(float((reflected + error).max()), 1.0) - worst
        below = worst - float(np.maximum(reflected - error, 0.0).max())
        return worst, max(above, below)
