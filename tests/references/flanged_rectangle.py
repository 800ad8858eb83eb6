"""A rectangular guide that ends in an endless flat wall: guide modes against plane waves.

Independent of any mesh and of spherical waves, as `flanged_circle`: modes with the symmetry of TE10
in the opening, all plane waves before it. The edge makes the answer converge as the largest
wavenumber of a mode to the power -4/3, so that two are extrapolated.
"""

from itertools import pairwise

import numpy as np


def _modes(a, b, largest):
    """Kind, kx, ky and size of each mode up to a transverse wavenumber, TE10 first."""
    found = []
    for m in range(1, int(largest * a / np.pi) + 1, 2):
        for n in range(0, int(largest * b / np.pi) + 1, 2):
            kx, ky = m * np.pi / a, n * np.pi / b
            if np.hypot(kx, ky) <= largest:
                size = np.hypot(kx, ky) * np.sqrt(a * b / (4 if n else 2))
                found += [("TE", kx, ky, size)] + ([("TM", kx, ky, size)] if n else [])
    return sorted(found, key=lambda mode: np.hypot(mode[1], mode[2]))


def _across(k, p, side):
    """Integrals of cos(p x) cos(k x) and of sin(p x) sin(k x) over a side, (modes, spectrum)."""
    half = side / 2
    less = half * np.sinc((p[:, None] - k) * half / np.pi)
    more = half * np.sinc((p[:, None] + k) * half / np.pi)
    return less + more, less - more


def admittances(a, b, k, largest):
    """Modes, and their admittance matrix in the half-space, over that of a plane wave along z."""
    modes = _modes(a, b, largest)
    kinds = np.array([mode[0] == "TE" for mode in modes])
    kx, ky, size = np.array([mode[1:] for mode in modes]).T
    x, w = np.polynomial.legendre.leggauss(10)
    most = 8 * largest
    count = int(most * (a + b) / 2 / np.pi) + 20
    total = np.zeros((len(modes), len(modes)), dtype=complex)
    turns, tw = np.polynomial.legendre.leggauss(40 + int(1.1 * most * b / 2))
    turns, tw = (turns + 1) * np.pi / 4, tw * np.pi / 4
    pieces = [(0, np.pi / 2, n, 12) for n in range(12)]
    pieces += [(1, np.arccosh(most / k), n, count) for n in range(count)]
    for beyond, end, number, of in pieces:
        half = 0.5 * end / of
        t, dt = half * (2 * number + 1 + x), half * w
        # kappa = k sin t, then k cosh t: nothing is singular at k
        kappa = k * np.cosh(t) if beyond else k * np.sin(t)
        kz = -1j * k * np.sinh(t) if beyond else k * np.cos(t) + 0j
        weight = kappa * (k * np.sinh(t) if beyond else k * np.cos(t)) * dt
        p, q = (np.multiply.outer(kappa, f(turns)).ravel() for f in (np.cos, np.sin))
        cos_x, sin_x = _across(p, kx, a)
        cos_y, sin_y = _across(q, ky, b)
        # the transform of both sines together is real and negative
        along_x = -np.where(kinds[:, None], ky[:, None], -kx[:, None]) * sin_x * sin_y
        along_y = np.where(kinds[:, None], kx[:, None], ky[:, None]) * cos_x * cos_y
        c, s = np.tile(np.cos(turns), len(kappa)), np.tile(np.sin(turns), len(kappa))
        along = (c * along_x + s * along_y) / size[:, None]
        across = (c * along_y - s * along_x) / size[:, None]
        every = np.repeat(weight, len(turns)) * np.tile(tw, len(kappa)) / np.pi**2
        kz = np.repeat(kz, len(turns))
        total += (along * (k**2 / kz * every)) @ along.T + (across * (kz * every)) @ across.T
    return modes, total


def reflection(a, b, k, largest):
    """S11 of TE10 at the opening, and a bound on what the extrapolation leaves."""
    modes, outside = admittances(a, b, k, largest)
    found = []
    for part in (0.25, 0.5, 1.0):
        kept = [i for i, mode in enumerate(modes) if np.hypot(mode[1], mode[2]) <= part * largest]
        own = np.array([np.hypot(modes[i][1], modes[i][2]) for i in kept])
        beta = np.sqrt(k**2 - own**2 + 0j)
        beta = np.where(beta.imag > 0, -beta, beta)
        guide = np.where([modes[i][0] == "TE" for i in kept], beta, k**2 / beta)
        into = np.zeros(len(kept), dtype=complex)
        into[0] = 2 * guide[0]
        field = np.linalg.solve(np.diag(guide) + outside[np.ix_(kept, kept)], into)
        found.append(field[0] - 1)
    first, second = (y + (y - x) / (2 ** (4 / 3) - 1) for x, y in pairwise(found))
    return second, abs(second - first)
