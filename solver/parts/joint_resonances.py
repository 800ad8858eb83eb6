"""Trapped resonances of a joint for every azimuthal order that a fault could drive."""

from __future__ import annotations

from geometries.arrays import Array
from geometries.shapes.choke_flanges import ChokeFlange
from geometries.shapes.rotating_joints import RotatingJoint
from solver.fem.level_search import search_levels
from solver.parts.half_plane_solver import half_plane_problem
from solver.parts.quarter_solver import quarter_problem
from solver.parts.resolved_resonances import Resonances, resolved_resonances
from solver.progress import Progress

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
    each: list[Resonances] = []
    classes = dict(_CLASSES)
    if isinstance(part, RotatingJoint):
        del classes["electric", "electric"]
        flat = half_plane_problem(part, frequency, s_error)
        found = search_levels(flat, s_error, report)
        about = "m = 0, in the half-plane"
        each.append(resolved_resonances(found, flat.admittance_at, band, about))
    for mirrors, about in classes.items():
        problem = quarter_problem(part, frequency, s_error, mirrors)
        found = search_levels(problem, s_error, report)
        each.append(resolved_resonances(found, problem.admittance_at, band, about))
    listed = sorted((one for of in each for one in of.listed), key=lambda one: one.frequency)
    return Resonances(tuple(listed), sum(of.not_resolved for of in each))
