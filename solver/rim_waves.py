"""Waves of a radial line that leave past the rim of a joint, uniform across the gap.

E lies along the axis: E_z = H_m(k r) sin(m phi) for m = 1, 3, 5 ..., as the mirror planes of TE10
and of TE11 with E along y ask for (H_m: Hankel function of the second kind).
Source: N. Marcuvitz, "Waveguide Handbook", 1951, section 1.7 (radial guides).
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.special import hankel2e

Array = NDArray[np.float64]
ComplexArray = NDArray[np.complex128]


@dataclass(frozen=True)
class RimWaves:
    """Waves at the rim, in a quarter of the joint.

    Parameters
    ----------
    orders : tuple of int
        Azimuthal orders m, odd.
    radius : float
        Where the mesh ends [m].
    gap : float
        Height of the radial line [m].
    permittivity : float
        Of what fills it [-].
    """

    orders: tuple[int, ...]
    radius: float
    gap: float
    permittivity: float = 1.0

    def admittance(self, squared: Array) -> ComplexArray:
        """Y of each wave, (n, orders) [rad/m]: n x curl E = j Y E where it leaves.

        Parameters
        ----------
        squared : (n,) array
            Squared free-space wavenumber [rad^2/m^2].

        Notes
        -----
        j Y = -k H_m'(k r)/H_m(k r), with the derivative from the orders m - 1 and m + 1.
        """
        k = np.sqrt(np.asarray(squared) * self.permittivity)[:, None]
        m, x = np.array(self.orders), k * self.radius
        slope = 0.5 * (hankel2e(m - 1, x) - hankel2e(m + 1, x)) / hankel2e(m, x)
        return np.asarray(1j * k * slope)

    def fields(self, points: Array) -> Array:
        """Fields (orders, 3, n) [1/m] at points (3, n) of the rim, of unit square integral."""
        angle = np.arctan2(points[1], points[0])
        size = math.sqrt(4.0 / (math.pi * self.radius * self.gap))
        values = np.zeros((len(self.orders), 3, points.shape[1]))
        values[:, 2] = size * np.sin(np.multiply.outer(np.array(self.orders), angle))
        return values


def rim_waves(
    radius: float, gap: float, highest: float, permittivity: float = 1.0, *, round_part: bool
) -> RimWaves:
    """Choose the orders that a rim needs.

    Parameters
    ----------
    radius, gap : float
        [m]
    highest : float
        Highest free-space wavenumber [rad/m].
    permittivity : float
    round_part : bool
        Whether the whole joint is round, so that only the order 1 is there.
    """
    if round_part:
        return RimWaves((1,), radius, gap, permittivity)
    most = math.ceil(highest * math.sqrt(permittivity) * radius) + 6
    return RimWaves(tuple(range(1, most + 1, 2)), radius, gap, permittivity)
