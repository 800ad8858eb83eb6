"""Choke joints as two plane lines: gap and groove, as textbooks draw them."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray

from geometries.rotating_joints import RotatingJoint
from solver.closed_forms.choke_gaps import Joint, gap_is_a_line
from solver.closed_forms.choke_openings import guide_impedance, opening_distance
from solver.closed_forms.source import Source, Validity, sourced
from solver.guide_modes import free_space_wavelength

Array = NDArray[np.float64]
ComplexArray = NDArray[np.complex128]

TWO_LINES = Source(
    "G. L. Ragan (ed.), Microwave Transmission Circuits (McGraw-Hill 1948), chs. 4 and 7, choke "
    "joints",
    "from memory",
)


@sourced(TWO_LINES, Validity("exact for two uniform lines in series", lambda *arguments: True))
def two_section_reactance(
    gap_angle: ArrayLike, groove_angle: ArrayLike, gap_impedance: float, groove_impedance: float
) -> Array:
    """Reactance of a gap that ends in a shorted groove.

    Parameters
    ----------
    gap_angle, groove_angle : array_like
        Electrical lengths [rad].
    gap_impedance, groove_impedance : float
        In one unit of the caller's choice; the answer has it too.

    Returns
    -------
    array
        Infinite at the trapped resonances, tan gap_angle tan groove_angle = Z1/Z2.

    Notes
    -----
    X = Z1 (Z2 tan t2 + Z1 tan t1)/(Z1 - Z2 tan t1 tan t2).

    References
    ----------
    G. L. Ragan (ed.), Microwave Transmission Circuits, McGraw-Hill 1948, ch. 4.
    """
    z1, z2 = gap_impedance, groove_impedance
    sine1, cosine1 = np.sin(gap_angle), np.cos(gap_angle)
    sine2, cosine2 = np.sin(groove_angle), np.cos(groove_angle)
    with np.errstate(divide="ignore"):
        return np.asarray(
            z1
            * (z2 * sine2 * cosine1 + z1 * sine1 * cosine2)
            / (z1 * cosine1 * cosine2 - z2 * sine1 * sine2)
        )


@sourced(
    TWO_LINES,
    Validity(
        "both sections within 0.2 rad of a quarter wave, groove wider than the gap: within 5 % of "
        "the two lines",
        lambda departure, *others: bool(np.all(np.abs(departure) <= 0.2)),
    ),
)
def broad_band_reactance(
    departure: ArrayLike, gap_impedance: float, groove_impedance: float
) -> Array:
    """Reactance of a choke whose two sections are both nearly a quarter wave long.

    Parameters
    ----------
    departure : array_like
        How much longer than a quarter wave each section is [rad].
    gap_impedance, groove_impedance : float
        In one unit.

    Returns
    -------
    array

    Notes
    -----
    X = departure Z1 (1 + Z1/Z2), the first term of `two_section_reactance`. A wide band asks for a
    thin gap and a wide groove.

    References
    ----------
    G. L. Ragan (ed.), Microwave Transmission Circuits, McGraw-Hill 1948, ch. 4.

    Examples
    --------
    WR-90, gap 0.2 mm, groove 2 mm, 10 % off the centre; two walls, over the guide's height:

    >>> x = broad_band_reactance(0.05 * np.pi, 0.2 / 10.16, 2 / 10.16)
    >>> round(2 * float(x), 4), round(1 + 2 * float(x), 3)
    (0.0068, 1.007)
    """
    ratio = gap_impedance / groove_impedance
    return np.asarray(departure, dtype=float) * gap_impedance * (1 + ratio)


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
