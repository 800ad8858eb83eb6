"""Offset joints by the aperture's field, with numpy and scipy only.

An independent reference for the project's finite elements: no mesh, no scikit-fem, no gmsh.

The transverse electric field in the opening is expanded in Gegenbauer polynomials times the
power of the distance to each edge that the edge condition of a 270 degree edge asks for, r^(2/3)
for the field along the edge (H-plane) and r^(-1/3) for the field across it (E-plane).  Both
guides load it with their modal admittances,

    sum over both guides of  Y_k <f_m, e_k> <e_k, f_n> c_n = 2 Y_0 <f_m, e_0>,

Y_k = beta_k for TE_k0 and 1/beta_k for LSE_1k; the voltages <e_k, field> less the incident wave
are the scattering parameters of the transverse electric field at the joint.

With u in [-1, 1] across the opening, for half-integer-like index v > -1/2 (Gradshteyn and Ryzhik,
7th ed., 7.321):

    integral (1-u^2)^(v-1/2) C_n^v(u) exp(j t u) du
        = pi 2^(1-v) j^n Gamma(2v+n) / (n! Gamma(v)) t^-v J_{n+v}(t).
"""

import numpy as np
from scipy.special import gammaln, jv

SPEED_OF_LIGHT = 299_792_458.0


def _transforms(t, index, count):
    """Integrals (count, m) of weighted Gegenbauer polynomials with exp(j t u), each scaled."""
    n = np.arange(count)[:, None]
    # the limit t -> 0 is 1 / (2^v Gamma(v+1)) for n = 0 and 0 otherwise
    safe = np.where(t == 0, 1.0, t)
    values = safe**-index * jv(n + index, safe)
    at_zero = np.where(n == 0, np.exp(-index * np.log(2) - gammaln(index + 1)), 0.0)
    return 1j**n * np.where(t == 0, at_zero, values)


def offset_scattering(plane, broad, narrow, shift, frequency, functions=12, modes=40_000):
    """S11 and S21 (n,) of TE10 at an offset of `shift` along the plane's wall; all in SI units."""
    width = broad if plane == "H" else narrow
    lower, upper = max(0.0, shift), width + min(0.0, shift)
    half, middle = 0.5 * (upper - lower), 0.5 * (upper + lower)
    k = np.arange(modes) + (1 if plane == "H" else 0)
    transverse = k * np.pi / width
    index = 2 / 3 + 1 / 2 if plane == "H" else -1 / 3 + 1 / 2
    waves = _transforms(transverse * half, index, functions)
    products = []
    for origin in (0.0, shift):
        turned = np.exp(1j * transverse * (middle - origin)) * waves
        even = turned.real * np.where(k == 0, np.sqrt(0.5), 1.0)
        part = turned.imag if plane == "H" else even
        products.append(half * np.sqrt(2 / width) * part)
    s11, s21 = [], []
    for f in np.atleast_1d(frequency):
        q = (2 * np.pi * f / SPEED_OF_LIGHT) ** 2 - (0 if plane == "H" else (np.pi / broad) ** 2)
        beta = np.sqrt((q - transverse**2).astype(complex))
        beta = np.where(beta.imag > 0, -beta, beta)
        admittance = beta if plane == "H" else 1 / beta
        matrix = sum((p * admittance) @ p.T for p in products)
        c = np.linalg.solve(matrix, 2 * admittance[0] * products[0][:, 0])
        s11.append(products[0][:, 0] @ c - 1)
        s21.append(products[1][:, 0] @ c)
    return np.array(s11), np.array(s21)
