"""Whole bends by modes of the straight and of the curved guide, with numpy and scipy only.

An independent reference for the project's finite elements: no mesh, no scikit-fem, no gmsh.

The cross-section is the interval of radii [R1, R2], mapped by t = ln r. With
u = f(t) exp(-j nu phi) the Helmholtz equation in the curved guide becomes

    f'' + k^2 e^{2t} f = nu^2 f,

whose solutions are entire functions of t however close R1 is to zero. Both guides are discretised
by Galerkin's method in the same Legendre polynomials of t, and diagonalised: ``beta^2`` and
``nu^2`` are real. Each half of the bend, cut at its mirror plane by a magnetic wall (even) or by
an electric wall (odd), loads the straight guide with a real flux-to-trace map, so evanescent modes
enter through tanh and coth and nothing overflows:

    even:  u = c cos(nu psi),   r du/dz = c nu sin(nu psi)       psi = angle / 2
    odd:   u = c sin(nu psi),   r du/dz = -c nu cos(nu psi)

S11 = (S_even + S_odd) / 2 and S21 = (S_even - S_odd) / 2. Unitarity holds by construction, so only
the change with the number of polynomials tells the error.

Conventions: exp(+j w t); planes at the two ends of the arc; S refers to the transverse E field,
so the E-plane bend, whose scalar is H_x / sin(pi x / a), has S11 = -(scalar reflection).
"""

import numpy as np
from numpy.polynomial.legendre import leggauss, legval
from scipy.linalg import eigh, solve

SPEED_OF_LIGHT = 299_792_458.0


def transverse_wavenumber(plane, broad_width, frequency):
    """Wavenumber of the plane problem [rad/m]: k0 (H), sqrt(k0^2 - (pi/a)^2) (E)."""
    k0 = 2 * np.pi * frequency / SPEED_OF_LIGHT
    return k0 if plane == "H" else np.sqrt(k0**2 - (np.pi / broad_width) ** 2)


def _polynomials(plane, count, points):
    """Values and derivatives (count, points) on [-1, 1]; zero at both ends for the H plane."""
    legendre = legval(points, np.eye(count + 2))
    slope = np.zeros_like(legendre)
    for n in range(1, count + 2):
        slope[n] = (2 * n - 1) * legendre[n - 1] + (slope[n - 2] if n > 1 else 0)
    n = np.arange(count)[:, None]
    if plane == "E":
        scale = np.sqrt(n + 0.5)
        return scale * legendre[:count], scale * slope[:count]
    scale = 1 / np.sqrt(4 * n + 6)
    return scale * (legendre[2:] - legendre[:-2]), scale * (slope[2:] - slope[:-2])


def _diagonalise(stiffness, reaction, mass, ceiling):
    """Squares of propagation constants, descending, and mass-orthonormal vectors."""
    mu, vectors = eigh(mass, stiffness - reaction + ceiling * mass)
    order = np.argsort(mu)[::-1]
    mu, vectors = mu[order], vectors[:, order]
    squares = np.einsum("ip,ij,jp->p", vectors, reaction - stiffness, vectors, optimize=True) / mu
    return squares, vectors / np.sqrt(mu)


def section_modes(plane, width, mean_radius, wavenumber, polynomials):
    """beta^2 (N,), nu^2 (N,) and the overlaps X_mp = integral e_m f_p dr/r of the two guides."""
    low, high = np.log(mean_radius - width / 2), np.log(mean_radius + width / 2)
    points, weights = leggauss(2 * polynomials + 40)
    half = (high - low) / 2
    r = np.exp(low + half * (points + 1))
    value, slope = _polynomials(plane, polynomials, points)
    slope = slope / half
    weights = weights * half

    def gram(functions, weight):
        return (functions * (weights * weight)) @ functions.T

    k2 = wavenumber**2
    mass = gram(value, np.ones_like(r))
    nu2, curved = _diagonalise(
        gram(slope, np.ones_like(r)), k2 * gram(value, r**2), mass, k2 * r[-1] ** 2 + 1
    )
    beta2, straight = _diagonalise(
        gram(slope, 1 / r), k2 * gram(value, r), gram(value, r), k2 + 1 / width**2
    )
    return beta2, nu2, straight.T @ mass @ curved


def _load(nu2, psi, even):
    """Trace U (N,) and flux D (N,) of each curved mode at the end of half a bend, real."""
    nu = np.sqrt(np.abs(nu2))
    cos, sin = np.cos(nu * psi), np.sin(nu * psi)
    tanh = np.tanh(nu * psi)
    travels = nu2 > 0
    if even:
        return np.where(travels, cos, 1.0), np.where(travels, nu * sin, -nu * tanh)
    return np.where(travels, sin, tanh), np.where(travels, -nu * cos, -nu)


def _reflection(beta2, overlap, trace, flux, modes):
    """Scalar reflection (modes, modes) of a straight guide that ends in the given load.

    Power waves: the trace of mode m is (a + b) / sqrt(beta_m).
    """
    j_beta = np.where(beta2 > 0, 1j, 1.0) * np.sqrt(np.abs(beta2))
    size = len(beta2)
    matrix = np.block([[np.diag(j_beta), -overlap * flux], [overlap.T, -np.diag(trace)]])
    root = np.sqrt(np.sqrt(beta2[:modes]))
    drive = np.zeros((2 * size, modes), complex)
    drive[range(modes), range(modes)] = 2 * j_beta[:modes] / root
    return root[:, None] * solve(matrix, drive)[:modes] - np.eye(modes)


def bend_matrix(plane, width, broad_width, mean_radius, angle, frequency, polynomials=80):
    """Modal S11 and S21 (m, m) over all propagating modes of the plane problem."""
    wavenumber = transverse_wavenumber(plane, broad_width, frequency)
    beta2, nu2, overlap = section_modes(plane, width, mean_radius, wavenumber, polynomials)
    modes = int(np.sum(beta2 > 0))
    even, odd = (
        _reflection(beta2, overlap, *_load(nu2, angle / 2, is_even), modes)
        for is_even in (True, False)
    )
    sign = 1 if plane == "H" else -1
    return sign * (even + odd) / 2, (even - odd) / 2


def bend_scattering(plane, width, broad_width, mean_radius, angle, frequency, polynomials=80):
    """Complex S11 and S21 of the dominant mode of a swept bend.

    Parameters
    ----------
    plane : "E" or "H"
    width : float
        Inside dimension in the plane of the bend [m]: b (E), a (H).
    broad_width : float
        a [m].
    mean_radius, angle : float
        Radius of the guide axis [m]; angle [rad].
    frequency : float
        [Hz].
    polynomials : int
        Size of the basis; the error falls exponentially and then like a high power of it.
    """
    s11, s21 = bend_matrix(plane, width, broad_width, mean_radius, angle, frequency, polynomials)
    return complex(s11[0, 0]), complex(s21[0, 0])


def junction_reflection(plane, width, broad_width, mean_radius, frequency, polynomials=80):
    """Complex reflection of the dominant mode where a straight guide meets an endless curve."""
    wavenumber = transverse_wavenumber(plane, broad_width, frequency)
    beta2, nu2, overlap = section_modes(plane, width, mean_radius, wavenumber, polynomials)
    flux = np.where(nu2 > 0, -1j, -1.0) * np.sqrt(np.abs(nu2))
    gamma = _reflection(beta2, overlap, np.ones_like(nu2), flux, 1)[0, 0]
    return complex(gamma if plane == "H" else -gamma)


def curved_phase_constants(plane, width, mean_radius, wavenumber, polynomials=80):
    """Phase constants nu / R [rad/m] of the propagating modes of the curved guide, descending."""
    nu2 = section_modes(plane, width, mean_radius, wavenumber, polynomials)[1]
    return np.sqrt(nu2[nu2 > 0]) / mean_radius
