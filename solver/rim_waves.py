"""Waves of a radial line that leave past the rim of a joint, uniform across the gap.

E lies along the axis: E_z = H_m(k r) times sin(m phi) or cos(m phi), with the Hankel function of
the second kind. The mirror planes decide which: E_z vanishes on an electric one. Those of TE10 and
of TE11 with E along y leave sin(m phi) with m = 1, 3, 5 ...
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
        Azimuthal orders m.
    radius : float
        Where the mesh ends [m].
    gap : float
        Height of the radial line [m].
    permittivity : float
        Of what fills it [-].
    odd : bool
        Whether E_z goes as sin(m phi) instead of cos(m phi).
    """

    orders: tuple[int, ...]
    radius: float
    gap: float
    permittivity: float = 1.0
    odd: bool = True

    def admittance(self, squared: Array | ComplexArray) -> ComplexArray:
        """Y of each wave, (n, orders) [rad/m]: n x curl E = j Y E where it leaves.

        Parameters
        ----------
        squared : (n,) array
            Squared free-space wavenumber [rad^2/m^2]; complex for a field that decays in time.

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
        orders = np.array(self.orders)
        turn = np.multiply.outer(orders, angle)
        quarter = np.where(orders == 0, math.pi / 2, math.pi / 4)
        size = 1.0 / np.sqrt(quarter * self.radius * self.gap)
        values = np.zeros((len(orders), 3, points.shape[1]))
        values[:, 2] = size[:, None] * (np.sin(turn) if self.odd else np.cos(turn))
        return values


def rim_waves(
    radius: float,
    gap: float,
    highest: float,
    permittivity: float = 1.0,
    *,
    mirrors: tuple[str, str],
    only: int | None = None,
) -> RimWaves:
    """Choose the orders that a rim needs.

    Parameters
    ----------
    radius, gap : float
        [m]
    highest : float
        Highest free-space wavenumber [rad/m].
    permittivity : float
    mirrors : (str, str)
        What the planes x = 0 and y = 0 are, ``"magnetic"`` or ``"electric"``.
    only : int, optional
        The one order that is there, in a joint that is round all through.
    """
    odd = mirrors[1] == "electric"
    if only is not None:
        return RimWaves((only,), radius, gap, permittivity, odd)
    most = math.ceil(highest * math.sqrt(permittivity) * radius) + 6
    first = int(odd) + int(mirrors[0] == "electric")
    return RimWaves(tuple(range(first, most + 1, 2)), radius, gap, permittivity, odd)
