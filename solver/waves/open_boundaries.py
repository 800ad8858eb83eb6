"""Boundaries through which waves leave a part for good: the rim of a gap, the mouth of a horn.

Outside there is no guide but open space, a radial line, a half-space; what it asks of the field on
the boundary is an admittance over frequency. A solver takes any number of such boundaries beside
its guided ports: nothing enters by them, and what leaves has leaked or is radiated.
"""

from __future__ import annotations

from abc import abstractmethod
from collections.abc import Sequence
from typing import Protocol

import numpy as np
from numpy.typing import NDArray

from geometries.arrays import Array, ComplexArray
from solver.waves.matched_ports import matched_scattering

#: Power of a wave below this part of the largest admittance is round-off.
_NO_POWER = 1e-12


class OpenBoundary(Protocol):
    """A boundary of the mesh beyond which all space is open.

    The tangential field on it is written in w known shapes, each of unit square integral over the
    boundary of the mesh (of a quarter, where the mesh is one), orthogonal to each other. With E
    the w amplitudes, what is outside sets

        n x curl E = j Y E     in space, n out of the mesh;
        du/dn = -j Y u         in a plane or half-plane, for the scalar u that is solved.

    Y may be any complex symmetric matrix: an aperture in an endless wall couples all its shapes.
    Its real part carries power off and has no negative eigenvalue at real frequencies. The methods
    are called often, with up to some thousand q at once: what is dear to compute, compute once.

    Attributes
    ----------
    name : str
        Name of the boundary in the mesh; in space it starts with ``open``, or it would be a wall.
    """

    name: str

    @property
    @abstractmethod
    def count(self) -> int:
        """Number of shapes w."""

    @abstractmethod
    def fields(self, points: Array) -> Array:
        """Shapes of the field on the boundary.

        In space (w, 3, n) [1/m] at points (3, n) [m]; in a plane (w, ...) [m^-1/2] at coordinates
        along the boundary (...) [m], see `PlanePort.coordinate`. In a half-plane about an axis
        the square integral has the weight 1/r.
        """

    @abstractmethod
    def admittance(self, squared: Array | ComplexArray) -> ComplexArray:
        """Y at squared wavenumbers q (n,) [rad^2/m^2]: (n, w) where nothing couples, or (n, w, w).

        Complex q, with Im q > 0, belong to a field that decays in time: the resonances of the
        part are looked for there, so Y is to be continued analytically from real q. [rad/m]
        """

    @abstractmethod
    def leaves(self, squared: Array) -> NDArray[np.bool_]:
        """Whether a shape carries power off at q (n,), (n, w)."""

    def finer(self, leaving: ComplexArray, s_error: float) -> float:
        """How many times more exactly than S the amplitudes that leave are wanted.

        Parameters
        ----------
        leaving : (n, w) complex array
            Those amplitudes over the band for a wave in the first port mode, coarsely.
        s_error : float
            Wanted bound on the error of S.
        """
        return 1.0


def power_half(admittance: ComplexArray) -> Array:
    """Return the real symmetric H with H H = Re Y, of Y's shape, (n, w) or (n, w, w).

    The amplitudes of power of tangential fields E are H E, since the power is E^H (Re Y) E.
    """
    if admittance.ndim == 2:
        return np.sqrt(np.maximum(admittance.real, 0.0))
    power, turned = np.linalg.eigh(admittance.real)
    # what round-off leaves of waves that decay is no power
    most = np.abs(admittance).max(axis=(1, 2))[:, None]
    power = np.where(power > _NO_POWER * most, power, 0.0)
    return np.asarray((turned * np.sqrt(power)[:, None, :]) @ turned.swapaxes(1, 2))


def with_open(
    guided: ComplexArray, boundaries: Sequence[OpenBoundary], squared: Array | ComplexArray
) -> ComplexArray:
    """Admittances of all waves that leave, those of the guides first.

    Parameters
    ----------
    guided : (n, m) complex array
        Of the modes in the ports' guides [rad/m].
    boundaries : sequence of OpenBoundary
    squared : (n,) array
        Real or complex.

    Returns
    -------
    (n, m + w) complex array, or (n, m + w, m + w) where waves at a boundary are coupled.
    """
    return _joined([guided, *(boundary.admittance(squared) for boundary in boundaries)])


def from_guided(leaves: NDArray[np.bool_], guided: int) -> NDArray[np.bool_]:
    """Return which elements (n, m, m) of S go from the guided waves, the first, to all that leave.

    Parameters
    ----------
    leaves : (n, m) bool array
        Whether a wave carries power off.
    guided : int
        Number of guided waves.
    """
    enters = leaves.copy()
    # a wave from beyond an open boundary is none of the answer
    enters[:, guided:] = False
    return np.asarray(leaves[:, :, None] & enters[:, None, :])


def leaving(boundaries: Sequence[OpenBoundary], squared: Array) -> NDArray[np.bool_]:
    """Whether each wave at the boundaries carries power off at q (n,), (n, w)."""
    none = np.zeros((len(squared), 0), dtype=bool)
    return np.concatenate([none, *(each.leaves(squared) for each in boundaries)], axis=1)


def finer_weights(
    boundaries: Sequence[OpenBoundary], first: ComplexArray, guided: int, s_error: float
) -> Array:
    """How much more exactly each wave is wanted than S, (m + w,).

    Parameters
    ----------
    boundaries : sequence of OpenBoundary
    first : (n, m + w, m + w) complex array
        The first answer.
    guided : int
        m, the modes in the ports' guides.
    s_error : float
        Wanted bound on the error of S.
    """
    weights, start = np.ones(first.shape[1]), guided
    for boundary in boundaries:
        there = slice(start, start + boundary.count)
        weights[there] = boundary.finer(first[:, there, 0], s_error)
        start = there.stop
    return weights


def open_scattering(
    impedance: Array | ComplexArray,
    guided: ComplexArray,
    phase: ComplexArray,
    boundaries: Sequence[OpenBoundary],
    squared: Array,
) -> ComplexArray:
    """Scattering among the guided modes, and the amplitudes of power that leave past them.

    Parameters
    ----------
    impedance : (n, m + w, m + w) array
        See `matched_scattering`.
    guided : (n, m) complex array
        Admittances of the modes in the ports' guides [rad/m].
    phase : (n, m) complex array
        Phases by which the reference planes lie behind the ports [rad].
    boundaries : sequence of OpenBoundary
    squared : (n,) array

    Returns
    -------
    (n, m + w, m + w) complex array
        Rows from m on are amplitudes of power. Columns from m on, of waves from beyond, are none
        of the answer; they tell how far a field that no port drives has converged.

    Notes
    -----
    With E the amplitudes of the fields at the ports, a wave of matched amplitude a in the guides,
    W = sqrt(Yg), gives ``E = (1 + j Z Y)^-1 2 j Z W a``; W E - a comes back, and H E leaves. For
    a diagonal Y it is `matched_scattering`; no root of a full Y is needed.
    """
    if not boundaries:
        return matched_scattering(impedance, guided, phase)
    m = guided.shape[1]
    outside = [boundary.admittance(squared) for boundary in boundaries]
    admittance = _joined([guided, *outside])
    diagonal = admittance.ndim == 2
    loaded = impedance * admittance[:, None, :] if diagonal else impedance @ admittance
    field = 2j * np.linalg.solve(np.eye(loaded.shape[-1]) + 1j * loaded, impedance)
    half = _joined([np.sqrt(guided), *(power_half(each) for each in outside)])
    s = half[:, :, None] * field * half[:, None, :] if diagonal else half @ field @ half
    s[:, range(m), range(m)] -= 1.0
    turn = np.exp(1j * phase)
    s[:, :m] *= turn[:, :, None]
    s[:, :, :m] *= turn[:, None, :]
    return np.asarray(s)


def open_fluxes(
    impedance: Array | ComplexArray,
    guided: ComplexArray,
    boundaries: Sequence[OpenBoundary],
    squared: Array,
) -> ComplexArray:
    """Flux F through every port column for each wave that enters, in power.

    Parameters
    ----------
    impedance, guided, boundaries, squared
        As those of `open_scattering`.

    Returns
    -------
    (n, m + w, m + w) complex array
        Column j belongs to a wave in mode j.

    Notes
    -----
    F = 2 j (1 + j Y Z)^-1 H: the field is ``(K - q M)^-1 B F``, and a small change of Z changes
    the scattering by ``F^T dZ F / 2j`` up to the phases of the feeds.
    """
    outside = [boundary.admittance(squared) for boundary in boundaries]
    half = _joined([np.sqrt(guided), *(power_half(each) for each in outside)])
    matrix, half = (
        each[:, :, None] * np.eye(each.shape[1]) if each.ndim == 2 else each
        for each in (_joined([guided, *outside]), half)
    )
    unit = np.eye(matrix.shape[-1])
    return np.asarray(2j * np.linalg.solve(unit + 1j * matrix @ impedance, half))


def _joined(parts: Sequence[ComplexArray | Array]) -> ComplexArray:
    """Diagonals (n, w) in a row; matrices (n, w, w) and diagonals as blocks of one matrix."""
    if all(part.ndim == 2 for part in parts):
        return np.concatenate(parts, axis=1)
    size, start = sum(part.shape[1] for part in parts), 0
    matrix = np.zeros((len(parts[0]), size, size), dtype=complex)
    for part in parts:
        place = np.arange(start, start + part.shape[1])
        if part.ndim == 2:
            matrix[:, place, place] = part
        else:
            matrix[:, place[:, None], place] = part
        start += part.shape[1]
    return matrix
