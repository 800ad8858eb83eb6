"""From impedance matrices at the ports to scattering matrices, in matched form."""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import NDArray

from geometries.arrays import Array, ComplexArray


def outgoing_root(squared: NDArray[Any]) -> ComplexArray:
    """Phase constant of a wave that leaves, from its square: real, or -j times a decay.

    For a field that decays in time the square has a small imaginary part above zero.
    """
    square = np.asarray(squared, dtype=complex)
    return np.where(square.real < 0, -1j * np.sqrt(-square), np.sqrt(square))


def flux_of_first(impedance: NDArray[Any], admittance: ComplexArray) -> ComplexArray:
    """Flux through every port mode for a unit wave that enters in the first, (m,).

    Parameters
    ----------
    impedance : (m, m) array
        At one frequency; see `matched_scattering`.
    admittance : (m,) or (m, m) complex array
        Of each mode, or the matrix where modes are coupled [rad/m].

    Returns
    -------
    (m,) complex array
        What the port columns of the reduced model are loaded with. The wave's amplitude counts
        the field itself, not the power.
    """
    loads = np.zeros(len(admittance), dtype=complex)
    matrix = np.diag(admittance) if admittance.ndim == 1 else admittance
    loads[0] = 2j * matrix[0, 0]
    system = np.eye(len(admittance)) + 1j * impedance @ matrix
    total = np.linalg.solve(system, impedance @ loads)
    return np.asarray(loads - 1j * matrix @ total)


def matched_scattering(
    impedance: Array | ComplexArray, admittance: ComplexArray, phase: ComplexArray
) -> ComplexArray:
    """Scattering matrix of the solved field, between planes beyond the feeds.

    Parameters
    ----------
    impedance : (n, m, m) array
        ``Z = B^T (K - q M)^-1 B`` for m port modes at n frequencies.
    admittance : (n, m) complex array
        What each mode sets between flux and field at its port [rad/m]: beta for the scalar
        field of a plane part and for a TE mode, k^2/beta for a TM mode, with beta = -j times
        the attenuation where evanescent.
    phase : (n, m) complex array
        Phase [rad] by which each reference plane lies behind its port; 0 where evanescent.

    Returns
    -------
    (n, m, m) complex array

    Notes
    -----
    With amplitudes normalised to power, W = sqrt(Y) and Z' = W Z W, the matched form
    ``(K - q M + j B Y B^T) x = 2 j B Y a`` gives ``S = (1 + j Z')^-1 (j Z' - 1)``: nothing
    singular happens where the part, closed by magnetic walls, resonates.
    """
    root = np.sqrt(admittance)
    z = 1j * root[:, :, None] * impedance * root[:, None, :]
    unit = np.eye(z.shape[-1])
    turn = np.exp(1j * phase)
    return np.asarray(turn[:, :, None] * np.linalg.solve(unit + z, z - unit) * turn[:, None, :])
