"""Twisted guides by the coupled equations of many modes, with couplings from quadrature.

V' = -U^T V - j X I and I' = U I - j B V in the frame that turns with the walls; U_mn is the overlap
of e_m with the turn of e_n about the axis. The sums converge as one over the highest order, since
the modes' axial field does not fit the tilted walls; two orders are extrapolated.
"""

import math
from dataclasses import dataclass

import numpy as np

C = 299792458.0


@dataclass(frozen=True)
class TwistModes:
    """Cutoffs (n,), kind (n,), and the coupling (n, n) at 1 rad/m; TE10 is the first mode."""

    cutoff: np.ndarray
    electric: np.ndarray
    coupling: np.ndarray


def twist_modes(a, b, highest):
    """Modes of odd m + n up to the order, which are those that a twist couples to TE10."""
    x, wx = np.polynomial.legendre.leggauss(2 * highest + 12)
    points_x, points_y = a / 2 * x, b / 2 * x
    weight = np.outer(a / 2 * wx, b / 2 * wx)
    grid_x, grid_y = np.meshgrid(points_x, points_y, indexing="ij")
    orders = [
        (kind, m, n)
        for m in range(highest + 2)
        for n in range(highest + 2)
        for kind in ("TE", "TM")
        if (m + n) % 2 == 1 and (kind == "TE" or m * n > 0)
    ]
    orders.sort(key=lambda order: order != ("TE", 1, 0))
    fields, turned, cutoffs = [], [], []
    for kind, m, n in orders:
        kx, ky = m * math.pi / a, n * math.pi / b
        size = math.sqrt((2 - (m == 0)) * (2 - (n == 0)) / (a * b)) / math.hypot(kx, ky)
        p, q = (ky * size, -kx * size) if kind == "TE" else (kx * size, ky * size)
        sx, cx = np.sin(kx * (grid_x + a / 2)), np.cos(kx * (grid_x + a / 2))
        sy, cy = np.sin(ky * (grid_y + b / 2)), np.cos(ky * (grid_y + b / 2))
        e = np.array([p * cx * sy, q * sx * cy])
        by_x = np.array([-p * kx * sx * sy, q * kx * cx * cy])
        by_y = np.array([p * ky * cx * cy, -q * ky * sx * sy])
        # (z x r . grad) e - z x e
        turned.append(-grid_y * by_x + grid_x * by_y - np.array([-e[1], e[0]]))
        fields.append(e)
        cutoffs.append(math.hypot(kx, ky))
    left = (np.array(fields) * weight).reshape(len(orders), -1)
    coupling = left @ np.array(turned).reshape(len(orders), -1).T
    return TwistModes(np.array(cutoffs), np.array([o[0] == "TM" for o in orders]), coupling)


def _system(modes, rate, frequency):
    """Matrix of (V, I)' and the impedances over that of free space."""
    k = 2 * math.pi * frequency / C
    square = k**2 - modes.cutoff**2 + 0j
    beta = np.sqrt(square)
    beta = np.where(beta.imag > 0, -beta, beta)
    x = np.where(modes.electric, square / k, k)
    y = np.where(modes.electric, k, square / k)
    u = rate * modes.coupling
    matrix = np.block([[-u.T, -1j * np.diag(x)], [-1j * np.diag(y), u]])
    return matrix, np.where(modes.electric, beta / k, k / beta)


def phase_constant(modes, rate, frequency):
    """Phase constant of the mode that TE10 becomes [rad/m]."""
    matrix, _ = _system(modes, rate, frequency)
    values, vectors = np.linalg.eig(matrix)
    forward = np.flatnonzero(values.imag < -1e-6)
    share = np.abs(vectors[0, forward]) / np.linalg.norm(
        vectors[: len(modes.cutoff), forward], axis=0
    )
    return -values[forward[np.argmax(share)]].imag


def s11(modes, rate, length, frequency):
    """S11 of TE10 of a uniform twist between straight guides."""
    matrix, z = _system(modes, rate, frequency)
    values, vectors = np.linalg.eig(matrix)
    n = len(z)
    # Growing waves are counted from the far end.
    at_start, at_end = (np.exp(np.minimum(sign * values.real, 0) * length) for sign in (-1, 1))
    at_end = at_end * np.exp(1j * values.imag * length)
    v, i = vectors[:n], vectors[n:]
    left = (v + z[:, None] * i) * at_start
    right = (v - z[:, None] * i) * at_end
    drive = np.zeros(2 * n, complex)
    drive[0] = 2.0
    wave = np.linalg.solve(np.concatenate([left, right]), drive)
    return (v[0] * at_start) @ wave - 1


def extrapolated(function, coarse, fine):
    """Value at infinite order of what converges as one over the order."""
    return 2 * function(fine) - function(coarse)
