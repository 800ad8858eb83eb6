"""Choke joints as two plane lines: gap and groove, as textbooks draw them."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from geometries.arrays import ComplexArray
from geometries.shapes.rotating_joints import RotatingJoint
from solver.closed_forms.choke_gaps import Joint, gap_is_a_line
from solver.closed_forms.choke_openings import guide_impedance, opening_distance
from solver.closed_forms.source import Source, Validity, sourced
from solver.waves.guide_modes import free_space_wavelength


def _is_single(joint: Joint, frequency: ArrayLike) -> bool:
    open_rim = isinstance(joint, RotatingJoint) or (
        joint.rim == "open" and joint.gasket_permittivity == 1
    )
    return open_rim and len(joint.grooves) <= 1 and gap_is_a_line(joint, frequency)


@sourced(
    Source(
        "derived here: plane lines, as in G. L. Ragan (ed.), Microwave Transmission Circuits "
        "(McGraw-Hill 1948), ch. 4, as remembered; coupling by the power of the guide's mode",
        "derived",
    ),
    Validity(
        "one groove or none, open rim: order of magnitude only, and not even that near the "
        "frequency of least reflection",
        _is_single,
    ),
)
def plane_line_reflection(joint: Joint, frequency: ArrayLike) -> ComplexArray:
    """S11 of a joint whose gap and groove are taken as plane lines.

    Parameters
    ----------
    joint : RotatingJoint or ChokeFlange
    frequency : array_like
        [Hz], above the cutoff of the joint's mode.

    Returns
    -------
    complex array
        S11, referred to the gap [-].

    Raises
    ------
    BelowCutoffError

    Notes
    -----
    The gap is a line of impedance eta gap from the guide's wall (the broad wall) to the middle of
    the groove; there the groove, j eta width tan(k depth), stands in series with the rest of the
    gap, a matched line. S11 = z/(1 + z), z the gap's impedance over that of `guide_impedance`.
    Only the first groove counts.
    """
    f = np.asarray(frequency, dtype=float)
    wave, k = guide_impedance(joint, f), np.asarray(2 * np.pi / free_space_wavelength(f))
    load, z1 = np.asarray(joint.gap + 0j), joint.gap
    turn = np.zeros(f.shape)
    if joint.grooves:
        groove = joint.grooves[0]
        middle = (groove.inner_radius + groove.outer_radius) / 2
        width = groove.outer_radius - groove.inner_radius
        load = load + 1j * width * np.tan(k * groove.depth)
        turn = k * (middle - opening_distance(joint))
    seen = z1 * (load * np.cos(turn) + 1j * z1 * np.sin(turn))
    seen = seen / (z1 * np.cos(turn) + 1j * load * np.sin(turn))
    z = seen / wave
    return np.asarray(z / (1 + z))
