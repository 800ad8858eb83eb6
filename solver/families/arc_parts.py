"""Bends of constant radius, solved by modes, in the shape that comes after every solver."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import numpy as np

from geometries.arrays import Array
from geometries.shapes.bends import Bend
from solver.errors import UnsupportedPartError
from solver.families.arc_modes import arc_band, half_waves_gained, has_arc_modes
from solver.fem.band_answers import BandAnswers
from solver.parts.solved_part import SolvedPart
from solver.studies.run_study import RunStudy
from solver.studies.study import Study
from solver.waves.plane_modes import PlaneModes, kept_apart


def arcs_among(studies: Mapping[str, Study | RunStudy]) -> dict[str, Study]:
    """Return the studies of bends that `solved_arc` is for."""
    found = {}
    for name, study in studies.items():
        if isinstance(study, Study) and isinstance(study.component, Bend) and study.walls is None:
            frequency = study.band.frequencies
            if has_arc_modes(study.component, (float(frequency[0]), float(frequency[-1]))):
                found[name] = study
    return found


def solved_arc(bend: Bend, frequency: Array, s_error: float) -> SolvedPart | None:
    """Solve a bend of constant radius by modes of the curved guide.

    Parameters
    ----------
    bend : Bend
        For which `has_arc_modes` holds.
    frequency : (n,) array
        Ascending [Hz].
    s_error : float
        Wanted bound on the error of S.

    Returns
    -------
    SolvedPart or None
        It tells no field. None where modes do not answer for it; see `arc_band`.
    """
    low, high = float(frequency[0]), float(frequency[-1])
    found = arc_band(bend, (low, high), s_error)
    if found is None:
        return None
    modes, bar = PlaneModes(bend.guide, bend.plane, 1), float(found.bars.max())

    def answers(at: Array) -> BandAnswers:
        reflected, through = found.scattering(at)
        reflected = modes.reflection_sign * reflected
        s = np.array([[reflected, through], [through, reflected]]).transpose(2, 0, 1)
        none = np.zeros(len(at))
        return BandAnswers(at, s, (none, none), np.full(len(at), bar), 0.05, False)

    listed = answers(frequency)
    return SolvedPart(
        port_modes=(*modes.port_modes(1), *modes.port_modes(2)),
        s=listed.s,
        error=listed.error(np.zeros(len(frequency), dtype=np.int64)),
        reached=bar <= s_error,
        method="modes of the curved guide, found by elements in the radius",
        unknowns=0,
        mesh={},
        factorisations=0,
        seconds={},
        steps=(),
        uncoupled=kept_apart(bend.guide, bend.plane, high),
        picture=_no_field,
        ratios=_no_field,
        resonances=tuple,
        answers=answers,
        weights=np.ones(2),
        poles_between=lambda a, b: round(half_waves_gained(bend, a, b)),
        feeds=(0.0, 0.0),
    )


def _no_field(at: Any) -> Any:
    raise UnsupportedPartError("modes of a curved guide tell no field here: solve it by elements")
