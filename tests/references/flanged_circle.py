"""A circular guide that ends in an endless flat wall: guide modes against plane waves.

Independent of any mesh and of spherical waves: the field in the opening is a sum of guide modes,
that in the half-space a spectrum of plane waves, with the admittances kz (TE) and k^2/kz (TM).
Transforms of the modes are integrals of Lommel, in closed form. The edge makes the answer of N
modes converge as N^(-4/3), so that two N are extrapolated.
"""

import numpy as np
from scipy.special import j0, jn_zeros, jnp_zeros, jv, jvp


def _spectrum(k, radius, most):
    """Radial wavenumbers, kz and weights of an integral over kappa from 0 to `most`."""
    x, w = np.polynomial.legendre.leggauss(16)

    def pieces(start, stop, count):
        edges = np.linspace(start, stop, count + 1)
        half = np.diff(edges) / 2
        points = (edges[:-1] + half)[:, None] + half[:, None] * x
        return points.ravel(), np.outer(half, w).ravel()

    # kappa = k sin t and k cosh t, so that nothing is singular at kappa = k
    t, dt = pieces(0.0, np.pi / 2, max(4, int(k * radius)))
    inner = k * np.sin(t), k * np.cos(t) + 0j, k * np.cos(t) * dt
    most_t = np.arccosh(most / k)
    edges = int(most * radius / 2) + 20
    t, dt = pieces(0.0, most_t, edges)
    outer = k * np.cosh(t), -1j * k * np.sinh(t), k * np.sinh(t) * dt
    return tuple(np.concatenate(pair) for pair in zip(inner, outer, strict=True))


def reflection_tm01(radius, k, count):
    """Reflection of TM01 at the opening, E-based, with `count` modes TM_0n."""
    roots = jn_zeros(0, count)
    kappa, kz, w = _spectrum(k, radius, 8 * roots[-1] / radius)
    own = roots / radius
    v = np.sqrt(2) * kappa * j0(kappa * radius) / (own[:, None] ** 2 - kappa**2)
    outside = (v * (k**2 / kz * kappa * w)) @ v.T
    beta = np.sqrt(k**2 - own**2 + 0j)
    guide = k**2 / np.where(beta.imag > 0, -beta, beta)
    return _reflected(guide, outside)


def pattern_tm01(radius, k, count, theta):
    """Directivity of the open end at angles from the axis: the spectrum of its field squared."""
    roots = jn_zeros(0, count)
    own = roots / radius

    def spectrum(kappa):
        return np.sqrt(2) * kappa * j0(kappa * radius) / (own[:, None] ** 2 - kappa**2)

    kappa, kz, w = _spectrum(k, radius, 8 * own[-1])
    v = spectrum(kappa)
    outside = (v * (k**2 / kz * kappa * w)) @ v.T
    beta = np.sqrt(k**2 - own**2 + 0j)
    guide = k**2 / np.where(beta.imag > 0, -beta, beta)
    into = np.zeros(count, dtype=complex)
    into[0] = 2 * guide[0]
    field = np.linalg.solve(np.diag(guide) + outside, into)
    x, w = np.polynomial.legendre.leggauss(60)
    fine, w = (x + 1) * np.pi / 4, w * np.pi / 4
    all_of_it = np.abs(field @ spectrum(k * np.sin(fine))) ** 2 @ (np.sin(fine) * w)
    return 2 * np.abs(field @ spectrum(k * np.sin(theta))) ** 2 / all_of_it


def reflection_te11(radius, k, count):
    """Reflection of TE11 at the opening, E-based, with `count` modes TE_1n and as many TM_1n."""
    te, tm = jnp_zeros(1, count), jn_zeros(1, count)
    kappa, kz, w = _spectrum(k, radius, 8 * tm[-1] / radius)
    x = kappa * radius
    # curl-free and divergence-free parts of a mode's transform, each over the unit of its energy
    size_te = np.sqrt(2) / (np.sqrt(te**2 - 1) * np.abs(jv(1, te)))
    along_te = size_te[:, None] * jv(1, te)[:, None] * (jv(1, x) / x)  # TM part of the spectrum
    across_te = (
        size_te[:, None] * (jv(1, te) * te**2)[:, None] * jvp(1, x) / (te[:, None] ** 2 - x**2)
    )
    along_tm = -np.sqrt(2) * x * jv(1, x) / (tm[:, None] ** 2 - x**2)
    across_tm = np.zeros_like(along_tm)
    along = radius * np.concatenate([along_te, along_tm])
    across = radius * np.concatenate([across_te, across_tm])
    weight = kappa * w
    outside = (along * (k**2 / kz * weight)) @ along.T + (across * (kz * weight)) @ across.T
    beta = np.sqrt(k**2 - (np.concatenate([te, tm]) / radius) ** 2 + 0j)
    beta = np.where(beta.imag > 0, -beta, beta)
    guide = np.concatenate([beta[:count], k**2 / beta[count:]])
    return _reflected(guide, outside)


def _reflected(guide, outside):
    """Reflection of the first mode where guide and outside meet."""
    into = np.zeros(len(guide), dtype=complex)
    into[0] = 2 * guide[0]
    return np.linalg.solve(np.diag(guide) + outside, into)[0] - 1


def extrapolated(reflection, radius, k, count):
    """Limit of many modes, and a bound on what the extrapolation leaves.

    From `count`, twice and four times as many modes, for an error of N^(-4/3).
    """
    first, second, third = (reflection(radius, k, count * n) for n in (1, 2, 4))
    before, limit = (
        b + (b - a) / (2 ** (4 / 3) - 1) for a, b in ((first, second), (second, third))
    )
    return limit, abs(limit - before)
