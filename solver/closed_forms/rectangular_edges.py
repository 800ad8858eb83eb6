"""The edge where a rectangular guide opens into a gap, and the gap's fields along it."""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from typing import Any

import numpy as np
from numpy.typing import NDArray

from geometries.arrays import Array, ComplexArray
from geometries.shapes.choke_flanges import ChokeFlange
from solver.closed_forms.choke_gaps import gap_field, gap_field_at

_POINTS = 12
_NAMES = ("matrix", "drive", "source", "flux")


@dataclass(frozen=True, eq=False)
class Edge:
    """Points on one quadrant of the edge of a rectangular opening, each (p,).

    Parameters
    ----------
    radius, angle : array
        [m] and [rad].
    weight : array
        Of the whole edge [m].
    current : array
        Wall current of TE10 along the guide, at most 1.
    broad : bool array
        Whether the point lies on a broad wall.
    """

    radius: Array
    angle: Array
    weight: Array
    current: Array
    broad: NDArray[np.bool_]

    def along_and_across(
        self, order: int, odd: bool, field: NDArray[Any], slope: NDArray[Any]
    ) -> tuple[NDArray[Any], NDArray[Any]]:
        """E_z and its outward normal derivative, from E_z and r dE_z/dr of one order (n, p).

        It goes as sin(m phi) if `odd`, else as cos(m phi); phi = 0 is the middle of a narrow wall.
        """
        turn, about = order * self.angle, self.angle
        wave, change = (np.sin(turn), np.cos(turn)) if odd else (np.cos(turn), -np.sin(turn))
        radial, around = slope * wave / self.radius, order * field * change / self.radius
        across = radial * np.sin(about) + around * np.cos(about)
        aside = radial * np.cos(about) - around * np.sin(about)
        return field * wave, np.where(self.broad, across, aside)


@lru_cache(maxsize=16)
def edge_of_opening(a: float, b: float) -> Edge:
    """Return the edge of an opening of width a and height b [m]."""
    node, weight = np.polynomial.legendre.leggauss(_POINTS)
    node, weight = (node + 1) / 2, weight / 2
    x = np.concatenate([a / 2 * node, np.full(_POINTS, a / 2)])
    y = np.concatenate([np.full(_POINTS, b / 2), b / 2 * node])
    whole = 4 * np.concatenate([a / 2 * weight, b / 2 * weight])
    broad = np.arange(2 * _POINTS) < _POINTS
    current = np.where(broad, np.cos(np.pi * x / a), 0.0)
    return Edge(np.hypot(x, y), np.arctan2(y, x), whole, current, broad)


@dataclass(frozen=True, eq=False)
class EdgeEquations:
    """Equations of the gap's fields psi_n on the edge, tested with t_m = sin or cos(m phi).

    Tested with psi_m in place of t_m, the matrix would also be singular near frequencies at which
    the edge is shorted: a field that changes its sign along the edge has
    CLOSED INT psi (d psi/dn) dl = 0 there, with neither factor 0, and the sum of fields would
    resonate where no joint does.

    Parameters
    ----------
    matrix : (n, o, o) complex array
        CLOSED INT t_m (d psi_n/dn) dl.
    drive : (n, o) complex array
        CLOSED INT t_m times the wall current of TE10 dl [m].
    source : (n, o) complex array
        CLOSED INT psi_m times the wall current of TE10 dl [m].
    flux : (n, o) array
        Im(conj(E_m) r dE_m/dr) of each field; pi times it goes outward.
    """

    matrix: ComplexArray
    drive: ComplexArray
    source: ComplexArray
    flux: Array


def joined(parts: list[EdgeEquations]) -> EdgeEquations:
    """Return the equations of several runs of wavenumbers as one."""
    return EdgeEquations(
        *(np.concatenate([getattr(part, name) for part in parts]) for name in _NAMES)
    )


def edge_equations(
    joint: ChokeFlange,
    orders: tuple[int, ...],
    wavenumber: Array,
    *,
    odd: bool = True,
    sealed: bool = False,
) -> EdgeEquations:
    """Return the equations at wavenumbers (n,) for a sum over azimuthal orders (o,).

    Parameters
    ----------
    joint : ChokeFlange
    orders : tuple of int
        All even or all odd, so that the other quadrants follow by symmetry.
    wavenumber : (n,) array
        Of free space [rad/m].
    odd, sealed : bool
        See `Edge.along_and_across` and `choke_gaps.gap_field`.
    """
    edge = edge_of_opening(joint.guide.broad_width, joint.guide.narrow_height)
    fields, normals, fluxes = [], [], []
    for order in orders:
        inside = gap_field(joint, order, wavenumber, sealed=sealed)
        field, slope = gap_field_at(joint, order, wavenumber, inside, edge.radius)
        # Scaled to at most 1, so that the orders compare in size.
        scale = np.max(np.abs(field), axis=1, keepdims=True)
        along, across = edge.along_and_across(order, odd, field / scale, slope / scale)
        fields.append(along)
        normals.append(across)
        fluxes.append(inside.flux / scale[:, 0] ** 2)
    psi, dpsi = np.stack(fields, axis=1), np.stack(normals, axis=1)
    turns = np.multiply.outer(orders, edge.angle)
    tests = (np.sin(turns) if odd else np.cos(turns)) * edge.weight
    return EdgeEquations(
        matrix=np.asarray(np.einsum("mp,fnp->fmn", tests, dpsi), dtype=complex),
        drive=np.tile(tests @ edge.current, (len(wavenumber), 1)).astype(complex),
        source=np.asarray(psi @ (edge.weight * edge.current), dtype=complex),
        flux=np.stack(fluxes, axis=1),
    )
