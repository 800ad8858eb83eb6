"""Trapped resonances of a joint for every azimuthal order that a fault could drive."""

from __future__ import annotations

from collections.abc import Callable
from functools import partial
from typing import Any

from geometries.arrays import Array
from geometries.shapes.choke_flanges import ChokeFlange
from geometries.shapes.rotating_joints import RotatingJoint
from solver.fem.level_search import search_levels
from solver.parts.half_plane_solver import half_plane_problem
from solver.parts.quarter_solver import quarter_problem
from solver.progress import Progress, ends_early
from solver.resonances.resolved_resonances import Resonances, resolved_resonances

#: Mirror planes x = 0 and y = 0, and the orders that they leave.
_CLASSES = {
    ("magnetic", "magnetic"): "cos m phi, m = 0, 2, 4",
    ("magnetic", "electric"): "sin m phi, m = 1, 3, 5",
    ("electric", "electric"): "sin m phi, m = 2, 4, 6",
}


def joint_resonances(
    part: ChokeFlange | RotatingJoint,
    frequency: Array,
    s_error: float,
    report: Progress | None = None,
) -> Resonances:
    """Find the resonances of gap and grooves in a band, in every class of symmetry.

    Parameters
    ----------
    part : ChokeFlange or RotatingJoint
        Its own mode drives one class; misalignment drives the others.
    frequency : (n,) array
        Ascending [Hz].
    s_error : float
        Wanted bound on the error of the waves at ports and rim.
    report : callable, optional

    Returns
    -------
    Resonances
        Of all classes together.

    Notes
    -----
    In a round joint cos m phi and sin m phi are one field, so two pairs of mirrors suffice, and
    m = 0 with E along the axis is solved in the half-plane.
    """
    band = (float(frequency[0]), float(frequency[-1]))
    problems: list[tuple[str, Callable[[], Any]]] = []
    classes = dict(_CLASSES)
    if isinstance(part, RotatingJoint):
        del classes["electric", "electric"]
        about = "m = 0, in the half-plane"
        problems.append((about, partial(half_plane_problem, part, frequency, s_error)))
    for mirrors, about in classes.items():
        problems.append((about, partial(quarter_problem, part, frequency, s_error, mirrors)))
    each: list[Resonances] = []
    try:
        for number, (about, made) in enumerate(problems, start=1):
            problem = made()
            tell = _telling(f"fields {number} of {len(problems)}: {about}", report)
            found = search_levels(problem, s_error, tell)
            each.append(resolved_resonances(found, problem.admittance_at, band, about))
    except KeyboardInterrupt:
        if not each or not ends_early(report):
            raise
    listed = sorted((one for of in each for one in of.listed), key=lambda one: one.frequency)
    left_out = tuple(about for about, _ in problems[len(each) :])
    return Resonances(tuple(listed), sum(of.not_resolved for of in each), left_out)


def _telling(which: str, report: Progress | None) -> Progress | None:
    """Tell which fields are at work; an interrupt ends all of them, not these alone."""
    if report is None:
        return None

    def tell(step: str, fraction: float | None = None) -> None:
        report(f"{which}, {step}", fraction)

    return tell
