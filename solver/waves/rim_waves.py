"""Waves of a radial line that leave past the rim of a joint.

Uniform across the gap: E lies along the axis, E_z = H_m(k r) times sin(m phi) or cos(m phi), with
the Hankel function of the second kind. Those that vary across the gap, n half waves from flange to
flange, are of E type and of H type; at a circle both have E_z and E_phi there, so that the two of
one (m, n) are coupled. The mirror planes decide between sin and cos: E_z vanishes on an electric
one. Those of TE10 and of TE11 with E along y leave E_z of sin(m phi) with m = 1, 3, 5 ...
Source: N. Marcuvitz, "Waveguide Handbook", 1951, section 1.7 (radial guides).
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.special import hankel2e

from geometries.arrays import Array, ComplexArray
from solver.waves.matched_ports import outgoing_root
from solver.waves.open_boundaries import OpenBoundary

#: Least size of the squared radial wavenumber over that across the gap: at cutoff itself the
#: formulas are limits.
_AT_CUTOFF = 1e-9
#: Azimuthal orders beyond those that travel at the rim.
_ORDERS_MORE = 6
#: The amplitude past the rim is wanted to this part of its least value in the band, but at least
#: as exactly as S and at most so many times more exactly.
_OF_LEAST, _FINEST = 0.03, 5.0


@dataclass(frozen=True)
class RimColumn:
    """One component of the tangential field at the rim.

    Parameters
    ----------
    m, n : int
        Azimuthal order, and half waves across the gap.
    along : bool
        Whether it is E_z, along the axis; otherwise E_phi.
    """

    m: int
    n: int
    along: bool = True


@dataclass(frozen=True)
class RimWaves(OpenBoundary):
    """Waves at the rim, in a quarter of the joint.

    Parameters
    ----------
    columns : tuple of RimColumn
        Components of the field; where E_z and E_phi of one (m, n) are both there, E_phi comes
        right after E_z.
    radius : float
        Where the mesh ends [m].
    gap : float
        Height of the radial line [m].
    permittivity : float
        Of what fills it [-].
    odd : bool
        Whether E_z goes as sin(m phi) instead of cos(m phi).
    name : str
        See `OpenBoundary`.
    """

    columns: tuple[RimColumn, ...]
    radius: float
    gap: float
    permittivity: float = 1.0
    odd: bool = True
    name: str = "open_rim"

    @property
    def count(self) -> int:
        """Number of components."""
        return len(self.columns)

    @property
    def coupled(self) -> bool:
        """Whether any wave varies across the gap, so that admittances are matrices."""
        return any(column.n for column in self.columns)

    def admittance(self, squared: Array | ComplexArray) -> ComplexArray:
        """Y of the waves [rad/m]: n x curl E = j Y E where they leave.

        Parameters
        ----------
        squared : (n,) array
            Squared free-space wavenumber [rad^2/m^2]; complex for a field that decays in time.

        Returns
        -------
        (n, columns) complex array
            If every wave is uniform across the gap;
        (n, columns, columns) complex array
            otherwise: symmetric, with E_z and E_phi of one (m, n) coupled.

        Notes
        -----
        With l = kr H_m'(kr R)/H_m(kr R) and p = n pi/gap, kr^2 = k^2 - p^2, the E type has
        E_phi = -(p m/(kr^2 R)) E_z and the H type E_phi = -(l/kr^2) (curl E)_z, so that

            j Y_zz = -l k^2/kr^2 + (p m/(kr R))^2/l,  j Y_zphi = p m/(R l),  j Y_phiphi = kr^2/l.

        Only j Y_zz = -l is left of it for n = 0. Y_zz is taken in a form that holds its digits
        at the cutoff of n.
        """
        across, step, slope = self._radial(squared)
        along, p = self._is("along"), self._is("n") * math.pi / self.gap
        turn = self._is("m") / self.radius
        bent = p**2 * step / across * (2 * turn - across * step) / slope
        own = -1j * np.where(along, bent - slope, across**2 / slope)
        if not self.coupled:
            return own
        matrix = own[:, :, None] * np.eye(len(self.columns))
        z = self._first_of_pairs()
        matrix[:, z, z + 1] = matrix[:, z + 1, z] = (-1j * p * turn / slope)[:, z]
        return matrix

    def leaves(self, squared: Array) -> NDArray[np.bool_]:
        """Whether a wave travels at the rim already, (n, columns)."""
        across, _, slope = self._radial(squared)
        return np.asarray((-slope.imag > 0.1 * np.abs(slope)) & (across.real > 0))

    def finer(self, leaving: ComplexArray, s_error: float) -> float:
        """More exactly than S where little leaks; see `OpenBoundary.finer`."""
        least = float(np.linalg.norm(leaving, axis=1).min())
        return float(np.clip(s_error / max(_OF_LEAST * least, 1e-30), 1.0, _FINEST))

    def fields(self, points: Array) -> Array:
        """Fields (columns, 3, n) [1/m] at points (3, n) of the rim, of unit square integral."""
        angle = np.arctan2(points[1], points[0])
        m, n, along = self._is("m"), self._is("n"), self._is("along")
        quarter = np.where(m == 0, math.pi / 2, math.pi / 4)
        height = np.where(n == 0, 1.0, 0.5) * self.gap
        size = (1.0 / np.sqrt(quarter * self.radius * height))[:, None]
        turn, lift = np.multiply.outer(m, angle), np.multiply.outer(n, points[2])
        lift *= math.pi / self.gap
        sine, cosine = np.sin(turn), np.cos(turn)
        values = np.zeros((len(self.columns), 3, points.shape[1]))
        axial = size * np.cos(lift) * (sine if self.odd else cosine)
        around = size * np.sin(lift) * (cosine if self.odd else -sine)
        values[along, 2] = axial[along]
        values[~along, :2] = around[~along, None, :] * np.stack([-np.sin(angle), np.cos(angle)])
        return values

    def scale(self, ratio: float) -> Array:
        """What port columns are multiplied by, (columns,), where cells stretch with the gap.

        `ratio` is the gap over that of the cells. E_z of a cell goes as one over its height, and
        E_phi stays; `fields` go as one over its root.
        """
        return np.where(self._is("along"), ratio**-0.5, ratio**0.5)

    def _is(self, name: str) -> NDArray[np.int_]:
        return np.array([getattr(column, name) for column in self.columns])

    def _first_of_pairs(self) -> NDArray[np.int_]:
        """Where E_z stands before the E_phi of its (m, n)."""
        return np.array(
            [
                i
                for i, (one, other) in enumerate(
                    zip(self.columns[:-1], self.columns[1:], strict=True)
                )
                if one.n and (one.m, one.n) == (other.m, other.n)
            ],
            dtype=int,
        )

    def _radial(
        self, squared: Array | ComplexArray
    ) -> tuple[ComplexArray, ComplexArray, ComplexArray]:
        """Radial wavenumber, H_(m-1)/H_m and slope H_m'/H_m, (n, columns) each.

        Those of the last q are kept: every model of a part asks for the same.
        """
        kept = self.__dict__.get("_kept")
        if kept is None or not np.array_equal(kept[0], squared):
            kept = np.array(squared), self._radial_at(squared)
            self.__dict__["_kept"] = kept
        return kept[1]

    def _radial_at(
        self, squared: Array | ComplexArray
    ) -> tuple[ComplexArray, ComplexArray, ComplexArray]:
        m, p = self._is("m"), self._is("n") * math.pi / self.gap
        left = np.asarray(squared, dtype=complex)[:, None] * self.permittivity - p**2
        left = np.where(np.abs(left) < _AT_CUTOFF * p**2, _AT_CUTOFF * p**2, left)
        across = outgoing_root(left)
        x = across * self.radius
        with np.errstate(over="ignore", invalid="ignore"):
            step = hankel2e(m - 1, x) / hankel2e(m, x)
        step = np.where(np.isfinite(step), step, 0.0)  # high order, small argument: x/(2 (m - 1))
        return across, step, across * step - m / self.radius


def rim_waves(
    radius: float,
    gap: float,
    highest: float,
    permittivity: float = 1.0,
    *,
    mirrors: tuple[str, str],
    only: int | None = None,
    stretches: Sequence[tuple[float, float]] = (),
    leftover: float = 1.0,
) -> RimWaves:
    """Choose the waves that a rim needs.

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
    stretches : sequence of (float, float)
        Length and permittivity of the stretches of gap between the last edge and `radius`
        [m, -]: what varies across the gap decays in them.
    leftover : float
        What a wave left out may still return, or bring out where it travels at the rim.
    """
    odd = mirrors[1] == "electric"
    first = int(odd) + int(mirrors[0] == "electric")
    columns: list[RimColumn] = []
    for n in range(half_waves(gap, highest, permittivity, stretches, leftover) + 1):
        squared = permittivity * highest**2 - (n * math.pi / gap) ** 2
        most = math.ceil(math.sqrt(max(squared, 0.0)) * radius) + _ORDERS_MORE
        # E_phi without E_z has an order that E_z lacks
        least = first % 2 if n else first
        for m in range(least, most + 1, 2) if only is None else (only,):
            if m or not odd:
                columns.append(RimColumn(m, n))
            if n and (m or odd):
                columns.append(RimColumn(m, n, along=False))
    return RimWaves(tuple(columns), radius, gap, permittivity, odd)


def half_waves(
    gap: float,
    highest: float,
    permittivity: float,
    stretches: Sequence[tuple[float, float]],
    leftover: float,
) -> int:
    """Most half waves across the gap that the rim has to let out; see `rim_waves`."""
    n = 0
    while stretches:
        across = ((n + 1) * math.pi / gap) ** 2
        decay = sum(
            length * math.sqrt(max(across - eps * highest**2, 0.0)) for length, eps in stretches
        )
        travels = across < permittivity * highest**2
        if not travels and math.exp(-2 * decay) < leftover:
            break
        if travels and math.exp(-decay) < leftover:
            break
        n += 1
    return n
