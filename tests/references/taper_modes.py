"""Tapers in one plane, by the coupled equations of all modes of the local guide.

The fields at each z are expanded in the modes e_n of the guide there; their walls move with z,
which couples them by C_mn = INT (d e_m/dz) e_n dx. In the E-plane C + C^T is minus the product of
the modes at the walls times the walls' slope. The admittance matrix obeys a Riccati equation,
integrated from the matched far end, so that evanescent modes decay.
"""

import math

import numpy as np
from scipy.integrate import solve_ivp

C = 299792458.0


def _coupling(plane, modes):
    """Orders (n,) of the modes that are even about the axis, and C times width over its slope."""
    x, weight = np.polynomial.legendre.leggauss(6 * modes + 40)
    x, weight = (x + 1) / 2, weight / 2
    n = (np.arange(0, 2 * modes, 2) if plane == "E" else np.arange(1, 2 * modes, 2))[:, None]
    scale = np.where(n == 0, 1.0, math.sqrt(2))
    if plane == "E":
        value, slope = scale * np.cos(n * np.pi * x), -scale * n * np.pi * np.sin(n * np.pi * x)
    else:
        value, slope = scale * np.sin(n * np.pi * x), scale * n * np.pi * np.cos(n * np.pi * x)
    # e = value((y + w/2)/w)/sqrt(w): d e/dz = w'/w [-value/2 - (x - 1/2) slope]/sqrt(w).
    rate = -value / 2 - (x - 0.5) * slope
    return n[:, 0], (rate * weight) @ value.T


def taper_s11(plane, size, length, frequency, *, broad_width=None, modes=4):
    """S11 of the dominant mode at z = 0.

    Parameters
    ----------
    plane : "E" or "H"
    size : callable
        Inside dimension in the plane and its slope at z [m].
    length : float
        [m]
    broad_width : float
        Common broad width in the E-plane [m].
    """
    k = 2 * math.pi * frequency / C
    if plane == "E":
        k = math.sqrt(k**2 - (math.pi / broad_width) ** 2)
    n, coupling = _coupling(plane, modes)

    def squares(z):
        return k**2 - (n * math.pi / size(z)[0]) ** 2

    def beta(z):
        root = np.sqrt(squares(z) + 0j)
        return np.where(root.imag > 0, -root, root)

    # H: E' = C E - j I, I' = C I - j beta^2 E, I = Y E.
    # E: psi' = -C^T psi + F, F' = C F - beta^2 psi, F = -j Y psi.
    def slope(z, flat):
        y = flat.reshape(modes, modes)
        c = coupling * size(z)[1] / size(z)[0]
        if plane == "H":
            out = c @ y - y @ c - 1j * np.diag(squares(z)) + 1j * y @ y
        else:
            out = c @ y + y @ c.T - 1j * np.diag(squares(z)) + 1j * y @ y
        return out.ravel()

    # Bounded steps: a long one overshoots where the evanescent modes relax fast.
    found = solve_ivp(
        slope,
        (length, 0.0),
        np.diag(beta(length)).astype(complex).ravel(),
        method="DOP853",
        rtol=1e-7,
        atol=1e-6,
        max_step=length / 120,
    )
    load = found.y[:, -1].reshape(modes, modes)
    straight = np.diag(beta(0.0))
    reflected = np.linalg.solve(straight + load, straight - load)[0, 0]
    return reflected if plane == "H" else -reflected
