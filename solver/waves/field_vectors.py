"""Electric and magnetic field as vectors on the points of a picture.

Both are shown over the peak of E of the entering wave alone, H times the wave impedance of free
space, so that a plane wave in free space would show the same number in both.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from geometries.arrays import Array, ComplexArray
from solver.fem.edge_space import EdgeSpace
from solver.waves.guide_modes import SPEED_OF_LIGHT


def wavenumber(frequency: float) -> float:
    """Free-space wavenumber [rad/m] at a frequency [Hz]."""
    return 2 * np.pi * frequency / SPEED_OF_LIGHT


def fields_of_e(e: ComplexArray, gradient: ComplexArray, k: float) -> tuple[ComplexArray, ...]:
    """E and eta0 H (3, n) of a field whose E stands upright on the plane; third is that way."""
    nothing = np.zeros_like(e)
    return np.stack([nothing, nothing, e]), np.stack(
        [1j * gradient[1] / k, -1j * gradient[0] / k, nothing]
    )


def fields_of_h(
    h: ComplexArray, gradient: ComplexArray, transverse: float, k: float
) -> tuple[ComplexArray, ...]:
    """E and eta0 H (3, n) in the middle plane of a field whose H stands upright on it.

    Parameters
    ----------
    h : (n,) complex array
        eta0 H across the plane.
    gradient : (2, n) complex array
    transverse : float
        Wavenumber in the plane [rad/m].
    k : float
        That of free space [rad/m].
    """
    nothing = np.zeros_like(h)
    scale = 1j * k / transverse**2
    return np.stack([-scale * gradient[1], scale * gradient[0], nothing]), np.stack(
        [nothing, nothing, h]
    )


def fields_about_axis(
    h: ComplexArray, gradient: ComplexArray, radius: Array, k: float
) -> tuple[ComplexArray, ...]:
    """E and eta0 H (3, n) along z, r and about the axis.

    Parameters
    ----------
    h : (n,) complex array
        eta0 H about the axis.
    gradient : (2, n) complex array
        Of r times that, by z and r.
    radius : (n,) array
        Where the gradient was read [m].
    k : float
        [rad/m]
    """
    nothing = np.zeros_like(h)
    scale = 1.0 / (1j * k * radius)
    return np.stack([scale * gradient[1], -scale * gradient[0], nothing]), np.stack(
        [nothing, nothing, h]
    )


def fields_in_space(
    space: EdgeSpace,
    unknowns: ComplexArray,
    grid: Array,
    k: float,
    cells: NDArray[np.integer] | None = None,
) -> tuple[Array, ComplexArray, ComplexArray]:
    """Points (3, c, q), E and eta0 H (3, c, q) of a field of edge elements in some or all cells."""
    points, real = space.electric_field(unknowns.real, grid, cells)
    _, imaginary = space.electric_field(unknowns.imag, grid, cells)
    _, curl_real = space.curl(unknowns.real, grid, cells)
    _, curl_imaginary = space.curl(unknowns.imag, grid, cells)
    # curl E = -j k eta0 H
    return points, real + 1j * imaginary, 1j / k * (curl_real + 1j * curl_imaginary)
