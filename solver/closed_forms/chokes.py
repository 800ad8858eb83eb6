"""Reflection and leakage of choke joints by radial lines and coaxial grooves."""

from __future__ import annotations

from functools import lru_cache

import numpy as np
from numpy.typing import ArrayLike, NDArray

from geometries.arrays import Array, ComplexArray
from geometries.shapes.choke_flanges import ChokeFlange
from geometries.shapes.rotating_joints import RotatingJoint
from solver.closed_forms.choke_gaps import Joint, gap_is_a_line
from solver.closed_forms.choke_openings import (
    DRIVEN_ORDER,
    Opening,
    mode_factor,
    rectangular_opening,
    round_opening,
)
from solver.closed_forms.choke_resonances import trapped_resonances
from solver.closed_forms.source import Source, Validity, sourced
from solver.waves.guide_modes import (
    circular_cutoff_frequency,
    cutoff_frequency,
    free_space_wavelength,
)

_RADIAL_MODEL = Source(
    "derived here: radial lines, coaxial grooves, a tee by conformal mapping, coupling by the "
    "guide's modes; no source",
    "derived",
)


#: Least leakage that is claimed to be right [-].
_LEAST_OF_JOINT, _LEAST_OF_FLANGE = 10**-4.8, 10**-5.5
#: Nearer to a trapped resonance of TE10's class, over its frequency, flanges leak otherwise.
_NEAR_RESONANCE = 0.12


def _joint_holds(joint: RotatingJoint, frequency: ArrayLike) -> bool:
    """Only one mode of the driven order travels, by a margin."""
    order = DRIVEN_ORDER[joint.mode]
    next_modes = [("TM", 2)] if joint.mode == "TM01" else [("TM", 1), ("TE", 2)]
    ceiling = min(circular_cutoff_frequency(joint.guide, kind, order, n) for kind, n in next_modes)
    return bool(np.max(frequency) < 0.98 * ceiling) and gap_is_a_line(joint, frequency)


def _opening(joint: Joint, frequency: ArrayLike) -> Opening:
    mode_factor(joint, frequency)
    return _opening_at(joint, tuple(np.ravel(np.asarray(frequency, dtype=float)).tolist()))


@lru_cache(maxsize=2)
def _opening_at(joint: Joint, frequencies: tuple[float, ...]) -> Opening:
    """Kept, as reflection and leakage are asked for one after the other."""
    f = np.array(frequencies)
    k = np.asarray(2 * np.pi / free_space_wavelength(f))
    if isinstance(joint, ChokeFlange):
        return rectangular_opening(joint, k, f)
    return round_opening(joint, k)


@sourced(
    _RADIAL_MODEL,
    Validity(
        "one mode of its order, gap and grooves within 0.12 wavelengths, gap at most half a "
        "groove's width: within 4 % of |S11| and 0.05 (TM01) or 0.01 (TE11) times the gap in "
        "wavelengths",
        _joint_holds,
    ),
)
def joint_reflection(joint: RotatingJoint, frequency: ArrayLike) -> ComplexArray:
    """S11 of a rotating joint for its own mode.

    Parameters
    ----------
    joint : RotatingJoint
    frequency : array_like
        [Hz], above the cutoff of the joint's mode.

    Returns
    -------
    complex array
        S11, referred to the middle of the gap [-].

    Raises
    ------
    BelowCutoffError

    Notes
    -----
    TM01 drives the field of order m = 0 in the gap, TE11 that of m = 1, and no other. See
    `choke_gaps.gap_field` for the gap and `choke_openings.round_opening` for its coupling.
    """
    return np.reshape(_opening(joint, frequency).s11, np.shape(frequency))


def _flange_holds(joint: ChokeFlange, frequency: ArrayLike) -> bool:
    guide = joint.guide
    ceiling = min(cutoff_frequency(guide, 2, 0), cutoff_frequency(guide, 0, 1))
    return bool(np.max(frequency) < ceiling) and gap_is_a_line(joint, frequency)


@sourced(
    _RADIAL_MODEL,
    Validity(
        "single-mode band, gap and groove within 0.12 wavelengths, gap at most half the groove's "
        "width: within 5 % of |S11| and 0.05 times the gap in wavelengths, seen on five flanges "
        "solved in space",
        _flange_holds,
    ),
)
def flange_reflection(joint: ChokeFlange, frequency: ArrayLike) -> ComplexArray:
    """S11 of TE10 of a choke flange.

    Parameters
    ----------
    joint : ChokeFlange
    frequency : array_like
        [Hz], above the cutoff.

    Returns
    -------
    complex array
        S11, referred to the middle of the gap [-].

    Raises
    ------
    BelowCutoffError

    Notes
    -----
    TE10 drives the odd orders m = 1, 3, 5, 7 in the gap. See `choke_gaps.gap_field` for the gap and
    `choke_openings.rectangular_opening` for its coupling.
    """
    return np.reshape(_opening(joint, frequency).s11, np.shape(frequency))


def leakage_in_range(joint: Joint, frequency: ArrayLike) -> NDArray[np.bool_]:
    """Whether the leakage is claimed to be right, at each frequency.

    Parameters
    ----------
    joint : RotatingJoint or ChokeFlange
    frequency : (n,) array_like
        [Hz], above the cutoff of the joint's mode.

    Returns
    -------
    (n,) bool array
        See `choke_leakage`: a null of the leakage, and a flange near a trapped resonance, are out
        of range.
    """
    f = np.atleast_1d(np.asarray(frequency, dtype=float))
    leaked = _opening(joint, f).leaked
    if not isinstance(joint, ChokeFlange):
        inside = np.array([_joint_holds(joint, one) for one in f])
        return np.asarray(inside & (leaked >= _LEAST_OF_JOINT))
    resonances = trapped_resonances(joint, 1, float(f.max()) / (1 - _NEAR_RESONANCE))
    apart = np.abs(f[:, None] / resonances - 1) >= _NEAR_RESONANCE
    inside = np.array([_flange_holds(joint, one) for one in f])
    return np.asarray(inside & (leaked >= _LEAST_OF_FLANGE) & apart.all(axis=1))


@sourced(
    _RADIAL_MODEL,
    Validity(
        "as the reflection, and: rotating joints above -48 dB within 0.6 dB; flanges above -55 dB "
        "within 2 dB, 12 % or more from a resonance of gap and groove, seen on five solved in "
        "space",
        lambda joint, frequency: bool(leakage_in_range(joint, frequency).all()),
    ),
)
def choke_leakage(joint: Joint, frequency: ArrayLike) -> Array:
    """Power that passes the rim of a choke joint, over the incident power.

    Parameters
    ----------
    joint : RotatingJoint or ChokeFlange
    frequency : array_like
        [Hz], above the cutoff of the joint's mode.

    Returns
    -------
    array
        [-]; 0 for a closed rim.

    Raises
    ------
    BelowCutoffError

    Notes
    -----
    Im(conj(E_z) r dE_z/dr) is the same at every radius of a line without loss, so that the outward
    power is known from the rim however small it is.

    Examples
    --------
    >>> from geometries.shapes.guides import CircularGuide
    >>> joint = RotatingJoint(CircularGuide(26e-3), 0.5e-3, 40e-3, 20e-3, 22e-3, 7.5e-3)
    >>> round(float(10 * np.log10(choke_leakage(joint, 9.7e9))), 1)
    -36.8
    """
    return np.reshape(_opening(joint, frequency).leaked, np.shape(frequency))
