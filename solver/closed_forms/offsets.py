"""Reflection of two equal flanges shifted along one wall, by a few trial fields in the opening."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from geometries.arrays import Array, ComplexArray
from geometries.shapes.bends import Plane, width_in_plane
from geometries.shapes.guides import RectangularGuide
from geometries.shapes.offsets import Offset
from solver.closed_forms.curved_guides import in_compared_band
from solver.closed_forms.source import Source, Validity, sourced
from solver.waves.guide_modes import free_space_wavelength, phase_constant

_MODES, _TRIAL_FIELDS = 2000, 8
#: Shifts over the dimension that were compared with exact solutions.
_COMPARED_SHIFTS = (0.01, 0.3)
_SOURCE = Source(
    "derived here: Galerkin's method with eight trial fields in the opening; no source", "derived"
)
_RANGE = (
    "0.01 to 0.3 of the dimension, no turn, 1.2 to 1.92 times the cutoff, b <= a/2: up to 12 % "
    "high at 0.01, within 5 % above 0.05"
)


def _was_compared(
    plane: Plane, guide: RectangularGuide, shift: float, frequency: ArrayLike
) -> bool:
    least, largest = _COMPARED_SHIFTS
    return (
        least <= abs(shift) / width_in_plane(guide, plane) <= largest
        and guide.narrow_height <= 0.5 * guide.broad_width
        and in_compared_band(guide, frequency)
    )


@sourced(_SOURCE, Validity(f"a shift along one wall, {_RANGE}", _was_compared))
def shift_reflection(
    plane: Plane, guide: RectangularGuide, shift: float, frequency: ArrayLike
) -> ComplexArray:
    """S11 of TE10 of a joint whose second guide is shifted along one wall.

    Parameters
    ----------
    plane : {"E", "H"}
        Along the narrow wall (E) or along the broad wall (H).
    guide : RectangularGuide
    shift : float
        [m], less than the dimension in the plane.
    frequency : array_like
        [Hz], above the cutoff.

    Returns
    -------
    complex array
        S11 at the joint [-].

    Raises
    ------
    BelowCutoffError

    Notes
    -----
    The tangential electric field in the opening is a sum of the opening's own modes
    m = 1..8, of coefficients c. With their overlaps v_nm with the guide's modes n, of admittance
    y_n = beta_n (H) or 1/beta_n (E), continuity of the magnetic field over the opening reads
    A c = 2 y_1 v_1, A_mm' = [1 + (-1)^(m + m')] SUM_n y_n v_nm v_nm', since the second guide is
    the first one turned by 180 degrees; and S11 = v_1 . c - 1. The field rises as r^(-1/3) at
    the two metal edges, which a few modes follow the less the smaller the shift.
    """
    f = np.asarray(frequency, dtype=float)
    beta = np.asarray(phase_constant(guide, f))
    k = beta if plane == "E" else np.asarray(2 * np.pi / free_space_wavelength(f))
    width = width_in_plane(guide, plane)
    q, overlap = _overlaps(plane, width, abs(shift))
    square = np.asarray(k)[..., None] ** 2 - q**2
    # A mode exactly at its cutoff would be a pole; the range of validity ends well below it.
    square = np.where(square == 0, 1e-12, square)
    mode = np.where(square > 0, 1, -1j) * np.sqrt(np.abs(square))
    admittance = mode if plane == "H" else 1 / mode
    m = np.arange(_TRIAL_FIELDS)
    same_parity = 1 + (-1.0) ** (m[:, None] + m)
    loads = np.einsum("...n,nl,nm->...lm", admittance, overlap, overlap, optimize=True)
    drive = 2 * admittance[..., :1] * overlap[0]
    field = np.linalg.solve(loads * same_parity, drive[..., None])[..., 0]
    return np.asarray(field @ overlap[0] - 1)


def _overlaps(plane: Plane, width: float, shift: float) -> tuple[Array, Array]:
    """Transverse wavenumbers (n,) of the guide's modes, and their overlaps (n, m)."""
    opening = width - shift
    first = 0 if plane == "E" else 1
    n = first + np.arange(_MODES)
    q = (n * np.pi / width)[:, None]
    p = (first + np.arange(_TRIAL_FIELDS)) * np.pi / opening
    gap = p**2 - q**2
    equal = np.abs(gap) < 1e-9 * p[-1] ** 2
    limit = 0.5 * opening * np.cos(q * shift) * np.where(p == 0, 2, 1)
    value = np.where(equal, limit, (p if plane == "H" else q) * np.sin(q * shift) / (gap + equal))
    scale: Array = np.where(n == 0, 1.0, np.sqrt(2))[:, None]
    return np.asarray(q[:, 0]), np.asarray(scale * value)


def _one_shift_was_compared(offset: Offset, frequency: ArrayLike) -> bool:
    if offset.turn != 0.0 or (offset.shift_x != 0.0) == (offset.shift_y != 0.0):
        return False
    plane, shift = _shift(offset)
    return _was_compared(plane, offset.guide, shift, frequency)


def _shift(offset: Offset) -> tuple[Plane, float]:
    return ("E", offset.shift_y) if offset.shift_x == 0.0 else ("H", offset.shift_x)


@sourced(_SOURCE, Validity(f"one shift, {_RANGE}", _one_shift_was_compared))
def offset_reflection(offset: Offset, frequency: ArrayLike) -> ComplexArray:
    """S11 of TE10 of a flange joint that is shifted along the walls.

    Parameters
    ----------
    offset : Offset
        A turn is not taken into account.
    frequency : array_like
        [Hz], above the cutoff.

    Returns
    -------
    complex array
        S11 at the joint [-].

    Raises
    ------
    BelowCutoffError

    Notes
    -----
    The sum of `shift_reflection` along both walls.
    """
    along_a = shift_reflection("H", offset.guide, offset.shift_x, frequency)
    return along_a + shift_reflection("E", offset.guide, offset.shift_y, frequency)
