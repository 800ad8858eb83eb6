"""Elements in the radius alone, for the modes of a curved guide."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.polynomial import legendre

from geometries.arrays import Array
from geometries.plane_meshes.lattice_lines import across_lines
from geometries.shapes.bends import Bend


@dataclass(frozen=True, eq=False)
class AcrossArc:
    """Elements across a curved guide, in modes of the straight one as the elements have them.

    Parameters
    ----------
    stiffness, mass, angular : (m, m) array
        Integrals of r v' v', r v v and v v / r.
    transverse : (m,) array
        Squares of the modes' transverse wavenumbers [rad^2/m^2].
    """

    stiffness: Array
    mass: Array
    angular: Array
    transverse: Array


def across_arc(bend: Bend, wavelength: float, degree: int) -> AcrossArc:
    """Make the elements across a bend, on lines as those of its mesh in the plane.

    Parameters
    ----------
    bend : Bend
    wavelength : float
        Shortest in the plane [m].
    degree : int
        Of the elements.

    Returns
    -------
    AcrossArc
    """
    lines = bend.inner_radius + across_lines(
        bend.width_in_plane, bend.inner_radius, wavelength, refinement=0
    )
    radius, weight, value, slope = _elements(lines, degree, bend.plane == "H")

    def gram(functions: Array, by: Array) -> Array:
        return np.asarray((functions * (weight * by)) @ functions.T)

    even = np.ones_like(radius)
    lower = np.linalg.inv(np.linalg.cholesky(gram(value, even)))
    transverse, turn = np.linalg.eigh(lower @ gram(slope, even) @ lower.T)
    guide = turn.T @ lower
    return AcrossArc(
        gram(guide @ slope, radius),
        gram(guide @ value, radius),
        gram(guide @ value, 1.0 / radius),
        transverse,
    )


def _elements(lines: Array, degree: int, fixed: bool) -> tuple[Array, Array, Array, Array]:
    """Points (p,) and weights, and values and slopes (m, p) of hierarchical elements there.

    Parameters
    ----------
    lines : (c + 1,) array
        Between the cells.
    degree : int
    fixed : bool
        Whether they vanish at both ends.
    """
    x, w = legendre.leggauss(degree + 8)
    # integrated Legendre polynomials vanish at both ends of a cell
    bubbles = [legendre.legint(np.eye(degree)[n], lbnd=-1) for n in range(1, degree)]
    local = [np.array([0.5, -0.5]), np.array([0.5, 0.5]), *bubbles]
    values = np.array([legendre.legval(x, each) for each in local])
    slopes = np.array([legendre.legval(x, legendre.legder(each)) for each in local])
    cells, length = len(lines) - 1, np.diff(lines)
    radius = (lines[:-1, None] + 0.5 * length[:, None] * (x + 1)).ravel()
    weight = (0.5 * length[:, None] * w).ravel()
    value, slope = np.zeros((2, cells + 1 + cells * (degree - 1), len(radius)))
    for cell in range(cells):
        inner = cells + 1 + cell * (degree - 1) + np.arange(degree - 1)
        rows = np.concatenate([[cell, cell + 1], inner])
        here = slice(cell * len(x), (cell + 1) * len(x))
        value[rows, here], slope[rows, here] = values, slopes * (2 / length[cell])
    free = np.delete(np.arange(len(value)), [0, cells]) if fixed else np.arange(len(value))
    return radius, weight, value[free], slope[free]
