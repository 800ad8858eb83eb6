"""Trapped resonances of choke joints: where gap and groove ring by themselves."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np

from geometries.arrays import Array
from geometries.shapes.rotating_joints import RotatingJoint
from solver.closed_forms.choke_gaps import Joint, gap_field, gap_field_at, gap_is_a_line
from solver.closed_forms.radial_lines import roots_between
from solver.closed_forms.rectangular_edges import edge_equations
from solver.closed_forms.source import Source, Validity, sourced
from solver.waves.guide_modes import SPEED_OF_LIGHT

_STEPS = 400


def _roots(misfit: Callable[[Array], Array], up_to: float) -> Array:
    """Frequencies [Hz] at which a real function of k changes its sign."""
    highest = 2 * np.pi * up_to / SPEED_OF_LIGHT
    grid = np.linspace(0.01 * highest, highest, _STEPS)
    signs = np.sign(misfit(grid))
    at = np.flatnonzero(signs[1:] != signs[:-1])
    k = roots_between(misfit, grid[at], grid[at + 1])
    return np.asarray(k * SPEED_OF_LIGHT / (2 * np.pi))


@sourced(
    Source(
        "derived here: radial lines, coaxial grooves, a tee by conformal mapping; the condition "
        "tan t1 tan t2 = Z1/Z2 of two plane lines is its limit",
        "derived",
    ),
    Validity(
        "metal contact just outside the groove, gap at most half as wide as the groove, both "
        "within 0.12 wavelengths at the highest frequency: a few per cent; an open rim lowers the "
        "Q, and the guide's own modes shift and damp the resonance further",
        lambda joint, order, up_to: gap_is_a_line(joint, up_to),
    ),
)
def trapped_resonances(joint: Joint, order: int, up_to: float) -> Array:
    """Frequencies at which gap and groove resonate with no current at the guide's wall [Hz].

    Parameters
    ----------
    joint : RotatingJoint or ChokeFlange
    order : int
        Azimuthal order m; at a rectangular opening the least of its class, see Notes. A mode drives
        its own order alone, TM01 0, TE11 and TE10 1; the others couple through misalignment.
    up_to : float
        Highest frequency [Hz].

    Returns
    -------
    (r,) array
        Ascending; empty without a groove.

    Raises
    ------
    ValueError
        If the order is not 0, 1 or 2.

    Notes
    -----
    The gap is a short outside the outermost groove. In a round joint the resonances are the zeros
    of dE_z/dr at the wall; at a rectangular opening those of the determinant of
    `rectangular_edges.EdgeEquations`. Its classes are cos(m phi) with m = 0, 2, 4, 6, even about
    both axes; sin(m phi) with m = 1, 3, 5, 7, which TE10 drives; sin(m phi) with m = 2, 4, 6, 8.
    """
    if order not in (0, 1, 2):
        raise ValueError(f"azimuthal order {order}: give 0, 1 or 2")
    if not joint.grooves:
        return np.empty(0)

    def misfit(k: Array) -> Array:
        if isinstance(joint, RotatingJoint):
            inside = gap_field(joint, order, k, sealed=True)
            slope = gap_field_at(joint, order, k, inside, joint.guide.radius)[1]
            return np.asarray(slope[:, 0].real)
        orders = tuple(range(order, order + 7, 2))
        equations = edge_equations(joint, orders, k, odd=order > 0, sealed=True)
        return np.asarray(np.linalg.slogdet(equations.matrix.real)[0])

    return _roots(misfit, up_to)
