"""The same value by a second, independent way, where there is one."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any

import numpy as np

from geometries.shapes.bends import Bend
from geometries.shapes.guides import RectangularGuide
from geometries.shapes.part import known_part
from geometries.shapes.straights import Straight
from solver.judgement.assess_part import solve_part
from solver.judgement.assessment import Assessment
from solver.judgement.whole_band import groups, whole_band
from solver.parts.solved_part import scattering_of
from solver.progress import Progress
from solver.sheets.quantities import QUANTITIES, Solved, Wanted
from solver.studies.limits import value_of
from solver.studies.study import Study
from solver.waves.guide_modes import SPEED_OF_LIGHT

#: Bound on the error of S asked of a second solution in space, where a plane is exact.
_IN_SPACE = 1e-4


@dataclass(frozen=True)
class SecondPath:
    """A value found in another way.

    Parameters
    ----------
    way : str
        In words.
    value, uncertainty : float
        In the unit of the quantity; the uncertainty is NaN for an approximation.
    """

    way: str
    value: float
    uncertainty: float


def solved_in_space(study: Study, at: Any, progress: Progress | None = None) -> Solved | None:
    """Solve a part whose field reduces to a plane once more in space; None for other parts.

    The elements, the mesh and the equation are others: edge elements for the field in space,
    nodal ones for one of its components in the plane.
    """
    if known_part(study.component).exact_plane is None:
        return None
    if progress:
        progress("once more, in space")
    solved, _ = solve_part(
        study.component,
        study.band,
        s_error=max(study.s_error, _IN_SPACE),
        walls=study.walls,
        in_space=True,
        progress=progress,
    )
    whole = whole_band(solved, study.band.frequencies, study.walls)
    there = None
    if at is not None:
        group = groups(at, whole.resonances)
        there = scattering_of(solved, solved.answers(at), group, study.walls)
    return Solved(whole.scattering, there, whole.resonances)


def second_of_part(
    wanted: Wanted, assessment: Assessment, in_space: Solved | None
) -> SecondPath | None:
    """Return the value by a second way: in space, or by a closed form; None where none exists."""
    quantity = QUANTITIES[wanted.quantity]
    if in_space is not None and wanted.quantity != "smallest_size_mm":
        value, uncertainty = quantity.read(in_space, wanted)
        return SecondPath("solved in space, with edge elements", value, uncertainty)
    component = assessment.component
    arc = isinstance(component, Bend) and component.profile == "constant"
    if wanted.quantity == "s21_phase_deg" and arc:
        return _phase_along_the_arc(component, wanted)
    return _closed_form(wanted, assessment)


def _phase_along_the_arc(bend: Bend, wanted: Wanted) -> SecondPath:
    from solver.closed_forms.curved_guides import phase_constant_bessel

    beta = phase_constant_bessel(bend.plane, bend.guide, bend.mean_radius, wanted.frequency or 0.0)
    turn = -float(beta) * bend.axis_length
    way = "exact phase constant of the curved guide, its two ends left out"
    return SecondPath(way, math.degrees(math.remainder(turn, 2 * math.pi)), math.nan)


def _closed_form(wanted: Wanted, assessment: Assessment) -> SecondPath | None:
    """The first closed form that claims to hold, read in the same way."""
    for form in assessment.estimates:
        if not form.within_validity or not np.isfinite(form.s11_abs).all():
            continue
        way = f"{form.name} ({form.source.citation})"
        if wanted.quantity in ("vswr", "return_loss_db"):
            worst = float(np.max(form.s11_abs))
            return SecondPath(way, float(value_of(wanted.quantity, worst)), math.nan)
        if wanted.quantity == "s11_abs":
            return SecondPath(way, float(np.max(form.s11_abs)), math.nan)
        if wanted.quantity == "leakage_db" and form.leaked_power is not None:
            leaked = math.sqrt(float(np.max(form.leaked_power)))
            return SecondPath(way, float(value_of("leakage_db", leaked)), math.nan)
    return None


def second_of_guide(wanted: Wanted, guide: Any) -> SecondPath | None:
    """Return a cutoff of TE10 from the resonance of a closed length of the guide."""
    plain = wanted.quantity == "cutoff_ghz" and wanted.mode in ("", "TE10")
    if not (plain and isinstance(guide, RectangularGuide)):
        return None
    from solver.resonances.cavity_modes import cavity_modes

    length = guide.broad_width
    found = cavity_modes(Straight(guide, length), 1, accuracy=1e-7)[0]
    cutoff = math.sqrt(found.frequency**2 - (SPEED_OF_LIGHT / 2 / length) ** 2)
    way = "from the computed resonance of a closed length of the guide"
    return SecondPath(way, cutoff / 1e9, found.frequency / cutoff * found.error / 1e9)
