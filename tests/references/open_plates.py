"""Reflection at the open end of two parallel plates, exactly, by the method of Wiener and Hopf.

Half-planes y = +-d/2, z < 0, of perfect metal; time factor exp(+jwt).  With u the field that is
normal to the plane of the drawing, even in y, its spectrum on a plate is K(alpha) times that of the
source there, and K = K+ K- with K-(alpha) = K+(-alpha), K+ without zeros and poles above the real
axis.  A wave with phase constant beta comes back with K+(-beta)^2 / (2 beta K'(beta)):

    E along the edges   K = exp(-g d/2) cosh(g d/2) / g    g = sqrt(alpha^2 - k^2)
    H along the edges   K = exp(-g d/2) sinh(g d/2) g

Derived here after B. Noble, "Methods based on the Wiener-Hopf technique", 1958, chapter 3 (from
memory).  Where H lies along the edges the result is that of N. Marcuvitz, "Waveguide Handbook",
1951, section 4.6 (from memory): the modulus is exp(-k d/2).
"""

import numpy as np
from scipy.special import digamma

#: Factors of the infinite products; what is left of their logarithm goes as one over the square.
_FACTORS = 200_000


def te_reflection(k: float, d: float) -> complex:
    """S11 of the lowest wave with E along the edges, cos(pi y/d), for pi/d < k < 3 pi/d."""
    beta = np.sqrt(k**2 - (np.pi / d) ** 2)
    higher = np.pi / d * (2 * np.arange(2, _FACTORS) - 1)
    decays = np.sqrt(higher**2 - k**2)
    product = 2 * np.exp(-1j * beta * d / np.pi) * _product(beta, decays, higher)
    squared = np.cos(k * d / 2) * product**2 * _regular(beta, k, d, 0.5)
    squared *= np.exp(-1j * np.arccos(beta / k)) / (1j * (k + beta))
    return complex(-squared * np.pi**2 / (beta**2 * d**3))


def tem_reflection(k: float, d: float) -> complex:
    """S11 (of E) of the wave with H along the edges that does not vary across, for k < 2 pi/d."""
    higher = 2 * np.pi / d * np.arange(1, _FACTORS)
    decays = np.sqrt(higher**2 - k**2)
    product = _product(k, decays, higher)
    # K+(-k)^2 / (2 k K'(k)) is that of H
    return complex(np.sinc(k * d / (2 * np.pi)) * product**2 * _regular(k, k, d, 1.0))


def _product(beta, decays, poles):
    """Zeros of K+ at -beta, with factors that make the product converge."""
    return np.exp(np.sum(np.log1p(1j * beta / decays) - 1j * beta / poles))


def _regular(beta, k, d, first):
    """Square at -beta of the factor that lets K+ grow like a power."""
    grows = 1 + digamma(first) + np.log(4 * np.pi / (k * d))
    return np.exp(-1j * beta * d / np.pi * (grows - 0.5j * np.pi))
