"""Offsets that shift along both walls, by the field in their rectangular opening.

An independent reference for the project's finite elements: no mesh, numpy and scipy only. As in
`offset_modes`, in two dimensions: E_x and E_y are products of Gegenbauer polynomials with the power
of the distance that the edge condition of a 270 degree edge asks for, r^(2/3) along an edge and
r^(-1/3) across it. Both guides load the field with the admittances of their modes, beta for TE and
k^2 / beta for TM. The sum over modes is cut at an order across each wall; two cuts are
extrapolated, as what is left falls like the order to the power -4/3.
"""

import numpy as np

from tests.references.offset_modes import SPEED_OF_LIGHT, _transforms

ALONG, ACROSS = 2 / 3 + 1 / 2, -1 / 3 + 1 / 2


def _overlaps(width, shift, orders, functions):
    """Integrals of both kinds of functions with cosines and sines of both guides.

    Returns a dict of (kind, guide, "cos" or "sin") to (functions, orders).
    """
    lower, upper = max(0.0, shift), width + min(0.0, shift)
    half, middle = 0.5 * (upper - lower), 0.5 * (upper + lower)
    wave = np.arange(orders) * np.pi / width
    found = {}
    for kind, index in (("along", ALONG), ("across", ACROSS)):
        values = half * _transforms(wave * half, index, functions)
        for guide, origin in enumerate((0.0, shift)):
            turned = np.exp(1j * wave * (middle - origin)) * values
            found[kind, guide, "cos"], found[kind, guide, "sin"] = turned.real, turned.imag
    return found


def _cut(a, b, shifts, frequency, functions, highest):
    """S11 and S21 of TE10 with modes up to an order across the narrow wall in proportion."""
    k = 2 * np.pi * frequency / SPEED_OF_LIGHT
    across_a, across_b = int(highest), max(2, int(highest * b / a))
    x = _overlaps(a, shifts[0], across_a, functions)
    y = _overlaps(b, shifts[1], across_b, functions)
    n = np.arange(across_b)
    count = 2 * functions**2
    matrix = np.zeros((count, count), dtype=complex)
    first = []
    for guide in (0, 1):
        for m in range(across_a):
            kx, ky = m * np.pi / a, n * np.pi / b
            cutoff = np.hypot(kx, ky)
            size = np.sqrt((2.0 - (m == 0)) * (2.0 - (n == 0)) / (a * b))
            size = np.divide(size, cutoff, out=np.zeros_like(size), where=cutoff > 0)
            # E_x lies across the walls x = const and along y = const
            for_x = np.einsum(
                "p,qn->pqn", x["across", guide, "cos"][:, m], y["along", guide, "sin"]
            )
            for_y = np.einsum(
                "p,qn->pqn", x["along", guide, "sin"][:, m], y["across", guide, "cos"]
            )
            for_x, for_y = for_x.reshape(-1, across_b), for_y.reshape(-1, across_b)
            te = np.concatenate([for_x * (ky * size), -for_y * (kx * size)])
            tm = np.concatenate([for_x * (kx * size), for_y * (ky * size)])
            root = np.sqrt((k**2 - cutoff**2).astype(complex))
            beta = np.where(root.imag > 0, -root, root)
            if m == 1:
                first.append((te[:, 0], beta[0]))
            matrix += (te * beta) @ te.T + (tm * (k**2 / beta)) @ tm.T
    (into, beta), (out, _) = first
    c = np.linalg.solve(matrix, 2 * beta * into)
    return np.array([into @ c - 1, out @ c])


def opening_scattering(a, b, shifts, frequency, functions=6, highest=500):
    """S11 and S21 of TE10 at a joint shifted by (x, y) [m], and how far the two cuts differ."""
    coarse, fine = (_cut(a, b, shifts, frequency, functions, h) for h in (highest / 2, highest))
    extrapolated = fine + (fine - coarse) / (2 ** (4 / 3) - 1)
    return extrapolated, float(np.abs(fine - coarse).max())
