"""Joining parts by their generalised scattering matrices, evanescent modes included.

Amplitudes are those of the parts here: a mode with the admittance Y, complex where it is
evanescent, has the field (a + b)/sqrt(Y) and the flux sqrt(Y) (a - b) into the part, a being the
wave that enters and b the one that leaves. Where two parts meet in one guide, field and flux go on
if each wave that leaves the one enters the other, whatever Y is, as long as both count the same
modes with the same root of Y.

Between the matrices as parts give them and those to be joined there is one step. The planes that
propagating modes are counted from are the two ends of the part; an evanescent mode is counted
from the port in the mesh, a feed farther out. `moved` brings it to the end too.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

ComplexArray = NDArray[np.complex128]


@dataclass(frozen=True, eq=False)
class Junction:
    """Generalised scattering of a part with two ports at n frequencies.

    Parameters
    ----------
    s11 : (n, k, k) complex array
        From the k modes at port 1 back to them.
    s12 : (n, k, m) complex array
        From the m modes at port 2 to those at port 1.
    s21 : (n, m, k) complex array
    s22 : (n, m, m) complex array
    """

    s11: ComplexArray
    s12: ComplexArray
    s21: ComplexArray
    s22: ComplexArray

    @classmethod
    def of_matrix(cls, s: NDArray[Any], at_first: int) -> Junction:
        """Split matrices (n, k + m, k + m) whose first `at_first` modes are those at port 1."""
        k = at_first
        return cls(s[:, :k, :k], s[:, :k, k:], s[:, k:, :k], s[:, k:, k:])

    @property
    def matrix(self) -> ComplexArray:
        """The whole scattering matrices (n, k + m, k + m), the modes at port 1 first."""
        return np.block([[self.s11, self.s12], [self.s21, self.s22]])

    @property
    def reversed(self) -> Junction:
        """The same part with its ports exchanged."""
        return Junction(self.s22, self.s21, self.s12, self.s11)


def straight_junction(phase_constant: NDArray[Any], length: float) -> Junction:
    """A length of guide.

    Parameters
    ----------
    phase_constant : (n, k) complex array
        Of each mode; evanescent: -j times the attenuation [rad/m].
    length : float
        [m], at least 0.

    Returns
    -------
    Junction
    """
    past = _diagonal(np.exp(-1j * np.asarray(phase_constant) * length))
    none = np.zeros_like(past)
    return Junction(none, past, past, none)


def moved(
    junction: Junction,
    phase_constants: tuple[NDArray[Any], NDArray[Any]],
    inwards: tuple[NDArray[Any], NDArray[Any]],
) -> Junction:
    """Count the waves from planes nearer to the part.

    Parameters
    ----------
    junction : Junction
    phase_constants : ((n, k) array, (n, m) array)
        Of the modes at each port [rad/m].
    inwards : ((k,) or (n, k) array, (m,) or (n, m) array)
        Distance from the old plane of each mode to the new one, inwards [m]. An evanescent
        amplitude grows by the attenuation over that distance, and with it the error of what was
        computed.

    Returns
    -------
    Junction
    """
    one, two = (
        np.exp(1j * np.asarray(beta) * np.asarray(distance))
        for beta, distance in zip(phase_constants, inwards, strict=True)
    )
    return Junction(
        one[:, :, None] * junction.s11 * one[:, None, :],
        one[:, :, None] * junction.s12 * two[:, None, :],
        two[:, :, None] * junction.s21 * one[:, None, :],
        two[:, :, None] * junction.s22 * two[:, None, :],
    )


def joined(first: Junction, second: Junction) -> Junction:
    """Port 2 of one part against port 1 of the next.

    Parameters
    ----------
    first, second : Junction
        With the same modes, in the same order, where they meet.

    Returns
    -------
    Junction

    Raises
    ------
    ValueError
        If the number of modes or of frequencies is not the same.

    Notes
    -----
    The star product of R. Redheffer, "On a certain linear fractional transformation", Journal of
    Mathematics and Physics 39 (1960), pp. 269-286 (from memory). Waves that die out stay small
    numbers in it, so that many parts can be joined, where transfer matrices overflow. What is
    inverted is singular only where the two parts ring between them without loss.
    """
    if first.s22.shape != second.s11.shape:
        raise ValueError(
            f"modes and frequencies that meet do not fit: {first.s22.shape} and {second.s11.shape}"
        )
    unit = np.eye(first.s22.shape[-1])
    # waves that run forwards and backwards where the parts meet, for one that enters at the ends
    ahead = np.linalg.solve(unit - first.s22 @ second.s11, first.s21)
    ahead_from_2 = np.linalg.solve(unit - first.s22 @ second.s11, first.s22 @ second.s12)
    back = second.s11 @ ahead
    back_from_2 = second.s12 + second.s11 @ ahead_from_2
    return Junction(
        first.s11 + first.s12 @ back,
        first.s12 @ back_from_2,
        second.s21 @ ahead,
        second.s22 + second.s21 @ ahead_from_2,
    )


def repeated(cell: Junction, count: int) -> Junction:
    """Equal parts one after the other, by doubling.

    Parameters
    ----------
    cell : Junction
        With the same modes at both ports.
    count : int
        At least 1.

    Returns
    -------
    Junction

    Raises
    ------
    ValueError
        For less than one part.
    """
    if count < 1:
        raise ValueError(f"{count} parts cannot be joined; at least 1 can")
    whole: Junction | None = None
    doubled = cell
    while True:
        if count % 2:
            whole = doubled if whole is None else joined(whole, doubled)
        count //= 2
        if not count:
            assert whole is not None
            return whole
        doubled = joined(doubled, doubled)


def ended(junction: Junction, reflection: NDArray[Any]) -> ComplexArray:
    """Reflection at port 1 with something that reflects at port 2.

    Parameters
    ----------
    junction : Junction
    reflection : (n, m, m) complex array
        What is at port 2, as seen from there; a diagonal of -1 is a short at the plane.

    Returns
    -------
    (n, k, k) complex array
    """
    unit = np.eye(junction.s22.shape[-1])
    back = np.linalg.solve(unit - reflection @ junction.s22, reflection @ junction.s21)
    return np.asarray(junction.s11 + junction.s12 @ back)


def _diagonal(values: NDArray[Any]) -> ComplexArray:
    return np.asarray(values[..., None] * np.eye(values.shape[-1]), dtype=complex)
